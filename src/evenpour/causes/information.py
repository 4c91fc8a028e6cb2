"""How much an outcome would tell of what has to be done: mutual information, in bits.

The car's state is one of several cases, each with a weight and a group: the remedy it calls for. What is
told of cases within one group is worth nothing.

Source: Lindley, Ann. Math. Stat. 27 (1956) 986 (from memory).
"""

from __future__ import annotations

import numpy as np

from evenpour.causes.normal import log_sum, normal_at
from evenpour.causes.problem import Array, Indices

POINTS = 400
#: The grid of a number reaches this far beyond the outermost case, in its standard deviations.
REACH = 5.0
DRAWS, SEED = 400, 11
#: Points of a grid that follow the cases themselves, not their range.
FOLLOWING = 0.75
#: Of the spread of all that is read at once: less than that is not told from rounding.
ROUNDING = 1e-12


def entropy(p: Array) -> float:
    """Of probabilities that sum to 1, [bit]."""
    held = p[p > 0.0]
    return float(-(held * np.log2(held)).sum())


def of_outcomes(weight: Array, group: Indices, chance: Array) -> float:
    """Information of an outcome with known chances in every case.

    Args:
        weight: Of the cases, (n,), summing to 1.
        group: What each calls for, (n,), from 0.
        chance: Of every outcome in every case, (n, c); rows sum to 1.
    """
    joint = np.zeros((int(group.max()) + 1, chance.shape[1]))
    np.add.at(joint, group, weight[:, None] * chance)
    apart = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    some = (joint > 0.0) & (apart > 0.0)  # what underflows tells nothing
    return float(max((joint[some] * np.log2(joint[some] / apart[some])).sum(), 0.0))


def of_number(weight: Array, group: Indices, mean: Array, sd: Array, points: int = POINTS) -> float:
    """Information of a number that is normal in every case, (n,) each: quadrature over its range."""
    x = grid_of_number(weight, mean, sd, points)
    step = np.gradient(x)
    density = np.exp(-0.5 * ((x - mean[:, None]) / sd[:, None]) ** 2) / sd[:, None]
    chance = density * step
    return of_outcomes(weight, group, chance / chance.sum(axis=1, keepdims=True))


def grid_of_number(weight: Array, mean: Array, sd: Array, points: int = POINTS) -> Array:
    """Points over the range of a mixture of normals, rising; closest where the weight is."""
    order = np.argsort(-weight)[:12]
    low, high = np.min(mean - REACH * sd), np.max(mean + REACH * sd)
    each = max(int(FOLLOWING * points) // len(order), 3)
    unit = normal_at((np.arange(each) + 0.5) / each) * 1.6  # even in probability, and out to the tails
    parts = [np.linspace(low, high, points - each * len(order))]
    parts += [mean[case] + sd[case] * unit for case in order]
    return np.unique(np.concatenate(parts))


def of_several(
    weight: Array, group: Indices, mean: Array, cov: Array, draws: int = DRAWS, seed: int = SEED
) -> float:
    """Information of several numbers read at once, as in a catch, by draws from the mixture.

    Args:
        weight: (n,).
        group: (n,).
        mean: (n, c).
        cov: (n, c, c), of everything that is open in a case, and of the reading itself.
        draws: Outcomes tried; the same unit draws every time, so that ranks do not flicker.
        seed: Of the unit draws.
    """
    y = outcomes(weight, mean, cov, draws, seed)
    log = np.log(np.maximum(weight, 1e-300))[:, None] + log_density(mean, cov, y)
    after = np.exp(log - log_sum(log, axis=0))
    by_group = np.zeros((int(group.max()) + 1, len(y)))
    np.add.at(by_group, group, after)
    prior = np.bincount(group, weight).astype(np.float64)
    gained = np.where(by_group > 0.0, by_group * np.log2(np.maximum(by_group, 1e-300)), 0.0).sum(axis=0)
    return max(entropy(prior) + float(gained.mean()), 0.0)


def outcomes(weight: Array, mean: Array, cov: Array, draws: int, seed: int = SEED) -> Array:
    """Draws from the mixture of normals, the cases in even steps of weight, (draws, c)."""
    random = np.random.default_rng(seed)
    edges = np.cumsum(weight)
    case = np.searchsorted(edges, (np.arange(draws) + 0.5) / draws * edges[-1])
    case = np.minimum(case, len(weight) - 1)
    root = _root(cov)
    unit = random.standard_normal((draws, mean.shape[1]))
    return np.asarray(mean[case] + np.matmul(root[case], unit[..., None])[..., 0])


def log_density(mean: Array, cov: Array, y: Array) -> Array:
    """Log density of every outcome (t, c) in every case (n, c), up to a constant that all share, (n, t)."""
    root = _root(cov)
    apart = (y[None, :, :] - mean[:, None, :]).transpose(0, 2, 1)
    scaled = np.linalg.solve(root, apart)
    spread = np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    return np.asarray(-0.5 * np.sum(scaled**2, axis=1) - spread[:, None])


def _root(cov: Array) -> Array:
    """Lower triangular roots, (n, c, c). Where a car stands at a jump its slopes know no bounds, and rounding
    would eat up the noise beside them.
    """
    least = ROUNDING * np.einsum("nii->n", cov)
    return np.asarray(np.linalg.cholesky(cov + least[:, None, None] * np.eye(cov.shape[-1])))
