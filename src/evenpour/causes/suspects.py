"""The hypotheses for one kind of engine: nothing wrong, and every cause, cylinder by cylinder."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.problem import Hypothesis, graded, ungraded
from evenpour.machine.faults import Cause
from evenpour.machine.kind import Kind

NOTHING_WRONG = "nothing_wrong"
CELLS = 4  # severities at which a cause is tried, each free within its cell


@dataclass(frozen=True, slots=True)
class Suspect:
    """One hypothesis about the car. ``cause`` None: nothing wrong. ``cylinder`` counts from 1."""

    cause: Cause | None
    cylinder: int | None

    @property
    def id(self) -> str:
        """The cause's id, without its cylinder."""
        return NOTHING_WRONG if self.cause is None else self.cause.id


def suspects(kind: Kind, causes: Sequence[Cause]) -> tuple[Suspect, ...]:
    """Every hypothesis, nothing wrong first."""
    found = [Suspect(None, None)]
    for cause in causes:
        cylinders = range(1, kind.design.cylinders + 1) if cause.per_cylinder else (None,)
        found += [Suspect(cause, cylinder) for cylinder in cylinders]
    return tuple(found)


def hypotheses(
    listed: Sequence[Suspect], nothing_wrong: float, weight: Callable[[Suspect], float]
) -> tuple[Hypothesis, ...]:
    """The same for the inference, in the same order.

    A cause that can go two ways has severities from -1 to 1: below zero its second form.

    Args:
        nothing_wrong: Prior probability that nothing is, for a car that was brought because something is off.
        weight: How common a suspect is against the others, by suspect; of one cylinder where it has one.
    """
    weights = [0.0 if one.cause is None else weight(one) for one in listed]
    total = math.fsum(weights)
    found = []
    for one, its in zip(listed, weights, strict=True):
        prior = nothing_wrong if one.cause is None else (1.0 - nothing_wrong) * its / total
        found.append(_hypothesis(one, math.log(max(prior, 1e-12))))
    return tuple(found)


def _hypothesis(one: Suspect, log_prior: float) -> Hypothesis:
    if one.cause is None:
        return ungraded(NOTHING_WRONG, NOTHING_WRONG, log_prior)
    two_ways = len(one.cause.forms) > 1
    found = graded(
        one.cause.id,
        remedy_of(one),
        log_prior,
        low=0.0,
        count=CELLS,
        cylinder=None if one.cylinder is None else one.cylinder - 1,
    )
    return _both_ways(found, one.cause.also_share) if two_ways else found


def _both_ways(one: Hypothesis, second: float) -> Hypothesis:
    """The same with a second form below zero, of so much of its prior: most cells in the likelier form."""
    below, above = (CELLS - 1, CELLS - 1) if second == 0.5 else (CELLS // 2, CELLS)
    edges = np.concatenate([np.linspace(-1.0, 0.0, below + 1), np.linspace(0.0, 1.0, above + 1)[1:]])
    middles = 0.5 * (edges[1:] + edges[:-1])
    weights = np.where(middles < 0.0, second / below, (1.0 - second) / above)
    return replace(one, edges=edges, severities=middles, weights=weights)


def log_share(one: Suspect, low: float, high: float) -> float:
    """Log probability, before any reading, that a cause that is there has a severity from *low* to *high*."""
    assert one.cause is not None
    if len(one.cause.forms) == 1:
        return math.log(high - low)
    second = one.cause.also_share
    return math.log(
        second * (min(high, 0.0) - min(low, 0.0)) + (1.0 - second) * (max(high, 0.0) - max(low, 0.0))
    )


def remedy_of(one: Suspect) -> str:
    """What is done about it: causes with one remedy at one place are one for the choice of the next check."""
    if one.cause is None:
        return NOTHING_WRONG
    where = "" if one.cylinder is None else f" [{one.cylinder}]"
    return one.cause.remedy + where
