"""Evidence by annealing a cloud of particles from a known distribution to the posterior.

All coordinates are standard normal where the cloud begins; the target is that density times exp(ratio). The
temperature rises so that a set share of the draws stays effective; between rises the particles move by
autoregressive steps that leave a Gaussian as the cloud's own unchanged. Many problems of one size go side by
side as one array. The evidence is unbiased; its own error follows from how many first ancestors are left.

Source: Neal, Stat. Comput. 11 (2001) 125; Del Moral, Doucet and Jasra, J. R. Stat. Soc. B 68 (2006) 411;
moves, Cotter, Roberts, Stuart and White, Stat. Sci. 28 (2013) 424; error from ancestors, Lee and Whiteley,
Biometrika 105 (2018) 609 (all from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Array, Flags, Indices

#: Share of the draws that stays effective at each rise of the temperature.
KEPT = 0.7
MOVES = 8
ACCEPTED = 0.3
STEEPEST = 60  # rises at most; a problem that needs more is told by its temperature
HALVINGS = 40
SHRINKAGE = 0.1  # of the cloud's correlations towards none

#: Problem (R,) and coordinates (R, v) to the log ratio of target to start, (R,).
LogRatio = Callable[[Indices, Array], Array]


@dataclass(frozen=True, slots=True)
class Cloud:
    """What came out, for H problems of n particles each."""

    log_evidence: Array  # (H,)
    error: Array  # (H,) standard error of it, as the ancestors tell
    effective: Array  # (H,) lineages that still carry weight
    accepted: Array  # (H,) share of the last moves; 1 where none were needed
    temperature: Array  # (H,) 1 where the target was reached
    draws: Array  # (H, n, v)
    weight: Array  # (H, n), sums to 1
    calls: int


def anneal(
    ratio: LogRatio,
    problems: int,
    coordinates: int,
    random: np.random.Generator,
    *,
    count: int = 1000,
    moves: int = MOVES,
    kept: float = KEPT,
) -> Cloud:
    """Run *problems* clouds of *count* particles side by side."""
    v = random.standard_normal((problems, count, coordinates))
    value = _asked(ratio, np.arange(problems), v)
    calls = problems * count
    weight = np.full((problems, count), 1.0 / count)
    ancestor = np.tile(np.arange(count), (problems, 1))
    log_evidence = np.zeros(problems)
    temperature, reach, accepted = np.zeros(problems), np.full(problems, 0.5), np.ones(problems)
    going = np.arange(problems)
    for _ in range(STEEPEST):
        rise = _rise(value[going], 1.0 - temperature[going], kept)
        log_weight = rise[:, None] * value[going]
        log_evidence[going] += log_sum(log_weight) - np.log(count)
        weight[going] = np.exp(log_weight - log_sum(log_weight)[:, None])
        temperature[going] += rise
        going = going[temperature[going] < 1.0 - 1e-9]
        if not len(going):
            break
        center, root = _cloud(v[going], weight[going])
        for h in going:
            chosen = _systematic(weight[h], random)
            v[h], value[h], ancestor[h] = v[h][chosen], value[h][chosen], ancestor[h][chosen]
        weight[going] = 1.0 / count
        for _ in range(moves):
            accepted[going] = _move(ratio, v, value, going, temperature[going], reach, (center, root), random)
            reach[going] = np.clip(reach[going] * np.exp(1.5 * (accepted[going] - ACCEPTED)), 0.02, 1.0)
            calls += len(going) * count
    shares = np.zeros((problems, count))
    for own, line, share in zip(shares, ancestor, weight, strict=True):
        np.add.at(own, line, share)
    concentration = np.sum(shares**2, axis=1)
    return Cloud(
        log_evidence=log_evidence,
        error=np.sqrt(np.maximum(concentration - 1.0 / count, 1.0 / count**2)),
        effective=1.0 / concentration,
        accepted=accepted,
        temperature=temperature,
        draws=v,
        weight=weight,
        calls=calls,
    )


def _asked(ratio: LogRatio, problems: Indices, v: Array) -> Array:
    flat = ratio(np.repeat(problems, v.shape[1]), v.reshape(-1, v.shape[2]))
    return np.asarray(np.nan_to_num(flat, nan=-1e300, neginf=-1e300).reshape(v.shape[:2]))


def _rise(value: Array, left: Array, kept: float) -> Array:
    """Largest rise of each temperature that keeps the share effective, (H,)."""
    apart = value - value.max(axis=1, keepdims=True)
    low, high = np.zeros(len(value)), left.copy()

    def enough(rise: Array) -> Flags:
        weight = np.exp(rise[:, None] * apart)
        return np.asarray(weight.sum(axis=1) ** 2 >= kept * value.shape[1] * (weight**2).sum(axis=1))

    whole = enough(high)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        good = enough(middle)
        low, high = np.where(good, middle, low), np.where(good, high, middle)
    return np.where(whole, left, np.maximum(low, 1e-12))


def _cloud(v: Array, weight: Array) -> tuple[Array, Array]:
    """Middle (H, v) and root of the covariance (H, v, v) of the clouds."""
    center = np.einsum("hn,hnv->hv", weight, v)
    apart = v - center[:, None]
    cov = np.matmul((apart * weight[..., None]).transpose(0, 2, 1), apart)
    own = np.einsum("hii->hi", cov)
    cov = (1.0 - SHRINKAGE) * cov
    index = np.arange(cov.shape[1])
    cov[:, index, index] = own + 1e-9
    return center, np.linalg.cholesky(cov)


def _systematic(weight: Array, random: np.random.Generator) -> Indices:
    edges = np.cumsum(weight)
    points = (np.arange(len(weight)) + random.random()) / len(weight)
    return np.asarray(np.minimum(np.searchsorted(edges, points * edges[-1]), len(weight) - 1))


def _move(
    ratio: LogRatio,
    v: Array,
    value: Array,
    going: Indices,
    temperature: Array,
    reach: Array,
    cloud: tuple[Array, Array],
    random: np.random.Generator,
) -> Array:
    """One autoregressive step of every particle; share accepted, (H,)."""
    center, root = cloud
    here = v[going] - center[:, None]
    noise = random.standard_normal(here.shape)
    beta = reach[going][:, None, None]
    there = np.sqrt(1.0 - beta**2) * here + beta * np.matmul(noise, root.transpose(0, 2, 1))
    new = there + center[:, None]
    found = _asked(ratio, going, new)
    inverse = np.linalg.inv(root).transpose(0, 2, 1)
    log_odds = temperature[:, None] * (found - value[going]) + 0.5 * (
        np.sum(v[going] ** 2, axis=2)
        - np.sum(new**2, axis=2)
        + np.sum(np.matmul(there, inverse) ** 2, axis=2)
        - np.sum(np.matmul(here, inverse) ** 2, axis=2)
    )
    taken = np.log(random.random(log_odds.shape)) < log_odds
    v[going] = np.where(taken[..., None], new, v[going])
    value[going] = np.where(taken, found, value[going])
    return np.asarray(taken.mean(axis=1))
