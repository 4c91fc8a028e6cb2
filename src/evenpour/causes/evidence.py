"""Evidence of hypotheses: Laplace over their nodes, put right by draws.

Laplace's Gaussian is off where the nuisance is bounded or skewed (several small leaks that add up). A
few hundred draws from it, weighted by the model itself, mend that for the price of a few nodes' slopes. Every
hypothesis gets the same draws and their mirror images, so that what the draws miss is missed by all alike
and ranks do not flicker.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenpour.causes.laplace import Modes
from evenpour.causes.normal import log_sum, log_sum_by, normal_at
from evenpour.causes.problem import Array, Grid, Indices
from evenpour.causes.proposal import Proposal

DRAWS = 256
NARROW_SHARE = 0.6
SEED = 20


#: Log weights (H, n), slots (H, n) and numbers (H, n, d) of draws under every hypothesis of a proposal.
Draws = tuple[Array, Indices, Array]


@dataclass(frozen=True, slots=True)
class Evidence:
    """Of every owner of a grid, (H,) each."""

    log_evidence: Array
    error: Array  # standard error as the draws tell; nan where Laplace stands alone
    effective: Array  # effective draws; 0 where Laplace stands alone


def by_laplace(grid: Grid, which: Indices, modes: Modes) -> Evidence:
    """Sum over the severities at *which* nodes: all a hypothesis has before draws."""
    count = len(grid.log_prior)
    total = log_sum_by(grid.log_weight[which] + modes.log_evidence, grid.owner[which], count)
    return Evidence(total, np.full(count, np.nan), np.zeros(count))


def by_draws(sought: Proposal, *, count: int = DRAWS, seed: int = SEED) -> tuple[Array, Array, Array]:
    """Log evidence, its standard error and the effective draws of every hypothesis of a proposal, (H,)."""
    return summed(weighed_draws(sought, count=count, seed=seed)[0])


def weighed_draws(sought: Proposal, *, count: int = DRAWS, seed: int = SEED) -> Draws:
    """Draws under every hypothesis of a proposal."""
    narrow = 2 * round(NARROW_SHARE * count / 2)
    v = np.concatenate([mirrored(some, sought.coordinates, seed + some) for some in (narrow, count - narrow)])
    return sought.weights(v, narrow)


def summed(log_weight: Array) -> tuple[Array, Array, Array]:
    """Log evidence, its standard error and the effective draws from log weights (H, n).

    The evidence is their mean, none of them counting for more than the root of n times that mean: what one
    lucky draw met is no more than a hint. What so many draws met counts in full.

    Source: Ionides, J. Comput. Graph. Stat. 17 (2008) 295, with the mean so found in the place of a known one
    (from memory).
    """
    count = log_weight.shape[1]
    log_evidence = _mean(log_weight)
    effective = np.exp(2.0 * log_sum(log_weight) - log_sum(2.0 * log_weight))
    return log_evidence, np.sqrt(np.maximum(1.0 / effective - 1.0 / count, 0.0)), effective


def _mean(log_weight: Array) -> Array:
    """Log of the mean w of weights, none of them counted for more than the root of n times w, (H,)."""
    count = log_weight.shape[1]
    rising = np.sort(log_weight, axis=1)
    below = np.logaddexp.accumulate(rising, axis=1)
    # were the k heaviest cut: w = (sum of the others / n) / (1 - k / root of n)
    cut = np.arange(math.ceil(math.sqrt(count)))
    means = below[:, count - 1 - cut] - np.log(count) - np.log1p(-cut / math.sqrt(count))
    holds = rising[:, count - 1 - cut] <= means + 0.5 * math.log(count)
    first = np.argmax(holds, axis=1)
    return np.asarray(means[np.arange(len(means)), first])


def mirrored(count: int, coordinates: int, seed: int) -> Array:
    """Standard normal draws and their mirror images, the first coordinate in even steps, (count, v)."""
    random = np.random.default_rng(seed)
    half = random.standard_normal((count // 2, coordinates))
    steps = (random.permutation(count // 2) + 0.5) / count
    half[:, 0] = normal_at(steps)
    return np.concatenate([half, -half])
