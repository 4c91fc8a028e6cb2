"""Several laws held against the same points: how likely each is, and what all of them together say.

A law's evidence says how well it foretold the points with all its freedom, so that one with more parameters
must earn them. A figure asked for is answered from the draws of all laws, each as often as its law is likely.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpour.tune.annealing import annealed
from evenpour.tune.explained import Explained
from evenpour.tune.law import Law
from evenpour.tune.points import Points
from evenpour.tune.scatter import Scatter

Array = NDArray[np.float64]

SEED = 7  # the same trace gets the same answer
HOPELESS = 25.0  # log of how much less likely at its best a law may be and still be looked into


@dataclass(frozen=True, slots=True)
class Cloud:
    """What is left of a law once the points are in.

    Attributes:
        values: Draws of its parameters, (m, k), all equally likely; none where the law is out of question.
        probability: Of the law among those tried, all equally likely before.
        log_evidence: Up to a constant that all laws share.
        waves: Probability that the scatter hangs together over more than four points.
    """

    law: Law
    values: Array
    probability: float
    log_evidence: float
    waves: float


@dataclass(frozen=True, slots=True)
class Told:
    """A figure that the trace tells: half of what is likely lies below *value*, 95 % from *low* to *high*."""

    value: float
    low: float
    high: float

    @property
    def u(self) -> float:
        """About a standard uncertainty: a quarter of the width; infinite where an end is."""
        return (self.high - self.low) / 3.92 if math.isfinite(self.high) else math.inf


def weighed(laws: Sequence[Law], points: Points) -> tuple[Cloud, ...]:
    """Every law with its draws and its probability, likeliest first."""
    scatter = Scatter(points.time, points.share)
    explained = [Explained(law, points, scatter) for law in laws]
    best = max(one.at_best for one in explained)
    found = []
    for one in explained:
        hopeless = one.at_best < best - HOPELESS
        draws, log_evidence = (np.empty((0, one.middle.size)), -math.inf) if hopeless else _drawn(one)
        found.append((one, draws, log_evidence))
    top = max(log_evidence for _, _, log_evidence in found)
    share = np.array([math.exp(log_evidence - top) for _, _, log_evidence in found])
    share /= share.sum()
    clouds = [
        Cloud(one.law, one.values(draws), float(p), log_evidence, one.waves(draws))
        for (one, draws, log_evidence), p in zip(found, share, strict=True)
    ]
    return tuple(sorted(clouds, key=lambda cloud: -cloud.probability))


def _drawn(explained: Explained) -> tuple[Array, float]:
    return annealed(explained.log_density, explained.middle, explained.spread, np.random.default_rng(SEED))


def told(
    clouds: Sequence[Cloud], figure: Callable[[Cloud], Array], *, shortest: bool = False, more_u: float = 0.0
) -> Told:
    """A figure over all laws.

    Args:
        figure: Gives it for every draw of a law, (m,).
        shortest: The shortest range of 95 %, not the middle one: for a share that may well be 0 or 1.
        more_u: A standard uncertainty to be added that the trace knows nothing of: the gauge's.
    """
    values, weights = _weighed_values(clouds, figure)
    order = np.argsort(values)
    ordered, below = values[order], np.cumsum(weights[order])
    below /= below[-1]
    if shortest:
        return Told(_at(ordered, below, 0.5), *_shortest(ordered, below))
    low, middle, high = (_at(ordered, below, share) for share in (0.025, 0.5, 0.975))
    more = 1.96 * more_u
    return Told(middle, middle - math.hypot(middle - low, more), middle + math.hypot(high - middle, more))


def drawn_anew(
    clouds: Sequence[Cloud], figure: Callable[[Cloud], Array], many: int, random: np.random.Generator
) -> Array:
    """*many* equally likely values of a figure, over all laws."""
    values, weights = _weighed_values(clouds, figure)
    return np.asarray(random.choice(values, size=many, p=weights / weights.sum()))


def _weighed_values(clouds: Sequence[Cloud], figure: Callable[[Cloud], Array]) -> tuple[Array, Array]:
    counted = [(cloud, figure(cloud)) for cloud in clouds if cloud.values.size]
    weights = [np.full(each.size, cloud.probability / each.size) for cloud, each in counted]
    return np.concatenate([each for _, each in counted]), np.concatenate(weights)


def _at(ordered: Array, below: Array, share: float) -> float:
    return float(ordered[min(int(np.searchsorted(below, share)), ordered.size - 1)])


def _shortest(ordered: Array, below: Array) -> tuple[float, float]:
    start = np.append(0.0, below[:-1])
    last = np.searchsorted(below, start + 0.95 * (1.0 - 1e-12))
    there = last < ordered.size
    width = ordered[last[there]] - ordered[there]
    best = int(np.argmin(width))
    return float(ordered[best]), float(ordered[last[best]])
