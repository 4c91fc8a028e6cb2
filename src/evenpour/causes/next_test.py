"""Which check would tell most for its minutes.

A candidate is one or several columns that have not been read. At every live node its reading is foreseen as a
normal about what the model says at the mode, as wide as the car still leaves it and its own noise; a choice
by its probabilities. Its worth is the information its outcome shares with what has to be *done*: causes
that have one remedy are one, and a severity is no question of its own.

Source: Lindley, Ann. Math. Stat. 27 (1956) 986 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.choice_line import ChoiceLine, lines_of
from evenpour.causes.explanation import Explanation
from evenpour.causes.felt import unfelt
from evenpour.causes.laplace import local
from evenpour.causes.problem import Array, Indices
from evenpour.causes.severe import Severe
from evenpour.causes.slopes import slopes
from evenpour.machine.checks import ChoiceCheck, NumberCheck, Predicted
from evenpour.machine.readout import Query

HELD = 0.995  # of the probability, by the nodes that a candidate is worked out for
MOST_NODES = 40
LEAST_MINUTES = 2.0  # counted at least: nothing is done in no time
POINTS = 400
DRAWS = 300
SEED = 11
LEVEL = 0.025  # of a catch, common to its ports


@dataclass(frozen=True, slots=True)
class Candidate:
    """Something that could be read. ``asked``: one question, or one for each port of a catch; ``u``: of
    each, SI, or a share of it where *relative*; ``minutes``: what it costs.
    """

    asked: tuple[tuple[Predicted, Query], ...]
    u: float
    minutes: float
    relative: bool = False


@dataclass(frozen=True, slots=True)
class Worth:
    """What a candidate is worth. ``information`` in bit; ``rate`` in bit a minute."""

    candidate: int
    information: float
    rate: float


@dataclass(frozen=True, slots=True)
class Live:
    """The nodes that matter and what the car still leaves open at each."""

    nodes: Indices
    weight: Array  # (n,)
    z: Array  # (n, v)
    S: Array  # (n, v, v) covariance of the numbers
    group: Indices  # (n,) what is done about it
    groups: int


def ranked(told: Explanation, candidates: Sequence[Candidate]) -> list[Worth]:
    """All candidates, most information a minute first."""
    if not candidates:
        return []
    live = live_nodes(told)
    found = []
    means, moves, open_ = foreseen_columns(told, live, candidates)
    at = 0
    for number, one in enumerate(candidates):
        wide = slice(at, at + len(one.asked))
        at += len(one.asked)
        gained = _information(one, live, means[:, wide], moves[:, :, wide], open_[wide, wide])
        found.append(Worth(number, gained, gained / max(one.minutes, LEAST_MINUTES)))
    return sorted(found, key=lambda worth: -worth.rate)


def live_nodes(told: Explanation) -> Live:
    """The nodes that hold nearly all the weight."""
    weight = told.node_weight
    order = np.argsort(-weight, kind="stable")
    count = min(int(np.searchsorted(np.cumsum(weight[order]), HELD)) + 1, MOST_NODES, len(order))
    nodes = np.sort(order[:count])
    modes = told.fitted.modes.take(nodes)
    S = np.asarray(np.linalg.inv(local(told.noise, modes).H), dtype=np.float64)
    remedies = [told.severe.grid.remedy[owner] for owner in told.severe.grid.owner[nodes]]
    names = {name: number for number, name in enumerate(dict.fromkeys(remedies))}
    group = np.array([names[name] for name in remedies])
    kept = weight[nodes]
    return Live(nodes, kept / kept.sum(), modes.z, S, group, len(names))


def foreseen_columns(
    told: Explanation, live: Live, candidates: Sequence[Candidate]
) -> tuple[Array, Array, Array]:
    """All candidates' columns at the live modes, (n, C), their slopes, (n, v, C), and what else is open.

    The last is (C, C): the spread of what no reading so far has felt of the car, taken on the middle one.
    """
    asked = [one for candidate in candidates for one in candidate.asked]
    model = told.model.columns_of(asked)
    severe = Severe(model, told.severe.grid, told.severe.d, told.severe.spread, told.severe.felt)
    mean = severe.predict(live.nodes, live.z)
    moves = slopes(severe.predict, live.nodes, live.z, severe.moving)
    return mean, moves, unfelt(model, told.severe.spread)


def _information(one: Candidate, live: Live, mean: Array, move: Array, open_: Array) -> float:
    check = one.asked[0][0]
    spread = np.matmul(move.transpose(0, 2, 1), np.matmul(live.S, move)) + open_
    if isinstance(check, ChoiceCheck):
        line = lines_of([ChoiceLine(check.cuts)])
        chance = line.probabilities(mean, np.einsum("nii->ni", spread))[:, 0, :]
        return _shared(chance, live)
    noise = noise_of_reading(one, mean)
    if len(one.asked) == 1:
        return _of_number(mean[:, 0], spread[:, 0, 0] + noise[:, 0, 0], live)
    return _of_several(mean, spread + noise, live)


def noise_of_reading(one: Candidate, mean: Array) -> Array:
    """Covariance of a candidate's own noise, as it is compared, (n, c, c)."""
    count = len(one.asked)
    found = np.zeros((len(mean), count, count))
    for column, (check, _) in enumerate(one.asked):
        assert isinstance(check, NumberCheck)
        value = check.uncompared(mean[:, column])
        u = one.u * np.abs(value) if one.relative else one.u
        compared = u / (np.maximum(value, 0.0) + check.floor) if check.logarithmic else u
        found[:, column, column] = compared**2 + check.repeats**2 + check.model**2
    if count > 1:
        found += LEVEL**2
    return found


def _of_number(mean: Array, variance: Array, live: Live) -> float:
    sd = np.sqrt(variance)
    low, high = np.min(mean - 5.0 * sd), np.max(mean + 5.0 * sd)
    # points where the densities are, not evenly over a range that one far node may stretch
    points = np.unique(
        np.concatenate([np.linspace(low, high, POINTS // 4)]
                       + [m + s * np.linspace(-4.0, 4.0, 25) for m, s in _main(mean, sd, live)])
    )  # fmt: skip
    density = np.exp(-0.5 * ((points - mean[:, None]) / sd[:, None]) ** 2) / (
        sd[:, None] * np.sqrt(2.0 * np.pi)
    )
    by_group = np.zeros((live.groups, len(points)))
    np.add.at(by_group, live.group, live.weight[:, None] * density)
    prior = np.bincount(live.group, live.weight, live.groups)
    whole = by_group.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        inner = np.where(by_group > 0.0, by_group * np.log(by_group / (prior[:, None] * whole)), 0.0)
    return float(max(np.trapezoid(np.nan_to_num(inner.sum(axis=0)), points), 0.0) / np.log(2.0))


def _main(mean: Array, sd: Array, live: Live) -> list[tuple[float, float]]:
    order = np.argsort(-live.weight)[:12]
    return [(float(mean[row]), float(sd[row])) for row in order]


def _of_several(mean: Array, variance: Array, live: Live) -> float:
    """By draws from the mixture; the same numbers every time, so that ranks do not flicker."""
    random = np.random.default_rng(SEED)
    root = np.linalg.cholesky(variance)
    share = np.cumsum(live.weight)
    node = np.searchsorted(share, (np.arange(DRAWS) + 0.5) / DRAWS * share[-1])
    node = np.minimum(node, len(share) - 1)
    drawn = mean[node] + np.einsum("rij,rj->ri", root[node], random.standard_normal((DRAWS, mean.shape[1])))
    inverse = np.linalg.inv(variance)
    apart = drawn[:, None, :] - mean[None, :, :]
    log = -0.5 * np.einsum("rni,nij,rnj->rn", apart, inverse, apart) - 0.5 * np.linalg.slogdet(variance)[1]
    density = np.exp(log - log.max(axis=1, keepdims=True)) * live.weight
    by_group = np.zeros((DRAWS, live.groups))
    np.add.at(by_group.T, live.group, density.T)
    posterior = by_group / by_group.sum(axis=1, keepdims=True)
    prior = np.bincount(live.group, live.weight, live.groups)
    left = float(np.mean([_entropy(row) for row in posterior]))
    return max(_entropy(np.asarray(prior, dtype=np.float64)) - left, 0.0)


def _shared(chance: Array, live: Live) -> float:
    """Information between a choice and what has to be done, [bit]."""
    joint = np.zeros((live.groups, chance.shape[1]))
    np.add.at(joint, live.group, live.weight[:, None] * chance)
    whole, prior = joint.sum(axis=0), joint.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        inner = np.where(joint > 0.0, joint * np.log2(joint / (prior[:, None] * whole)), 0.0)
    return float(max(np.nansum(inner), 0.0))


def _entropy(p: Array) -> float:
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(-np.nansum(np.where(p > 0.0, p * np.log2(p), 0.0)))
