"""What is not known here: a fault outside the catalogue, a sound car with a reading that does not belong."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenpour.causes.explanation import true_at
from evenpour.causes.normal import log_sum
from evenpour.causes.parts import Weighed
from evenpour.causes.unexplained import Doubt
from evenpour.causes.unknown import Unknown, unknown

MOVED = 0.5  # that a check is moved by it, from which it is told


@dataclass(frozen=True, slots=True)
class NotKnown:
    """What nothing in the catalogue explains.

    Attributes:
        probability: Of a fault that is not known, against everything known.
        moved: Checks that it moves, by their number among all readings, the surest first, with how surely.
        odd: Of nothing wrong with the car, the share in which a reading speaks against it and no slip mends
            that.
    """

    probability: float
    moved: tuple[tuple[int, float], ...]
    odd: float


def not_known(weighed: Weighed, prior: float) -> NotKnown:
    """How likely it is that what is wrong is not in the catalogue.

    A reading that was written wrongly, or does not belong, may be so under it too: it is weighed in each way
    to take the readings, as the known causes are. A cause that explains all but one reading stays that cause;
    where no cause explains the odd one and the rest is sound, it is no cause that is known here.

    Args:
        prior: That what is wrong is not in the catalogue.
    """
    odd = _odd(weighed)
    ways: list[tuple[float, Unknown]] = []
    for part in weighed.parts:
        if len(part.told.noise.columns):
            found = unknown(part.told.severe, part.told.noise)
            ways.append((part.way.level + found.log_evidence, found))
    if not ways:
        return NotKnown(0.0, (), odd)
    log = math.log(prior) - math.log1p(-prior) + float(log_sum(np.array([weight for weight, _ in ways])))
    apart = min(max(weighed.log_total - log, -700.0), 700.0)
    best = max(ways, key=lambda way: way[0])[1]
    sure = sorted(zip(map(int, best.checks), map(float, best.touched), strict=True), key=lambda one: -one[1])
    return NotKnown(1.0 / (1.0 + math.exp(apart)), tuple(one for one in sure if one[1] > MOVED), odd)


def _odd(weighed: Weighed) -> float:
    plain, whole = 0.0, float(weighed.probability[0])
    for part in weighed.parts:
        if not all(_cannot_be(weighed, doubt) or _spoilt(weighed, doubt) for doubt in part.way.aside):
            continue
        told = part.told
        its = true_at(told.odd[:1])[0]  # of each doubt, that it is true besides
        impossible = [n for n, one in enumerate(told.doubts) if _cannot_be(weighed, one.among(part.kept))]
        plain += float(weighed.singles(part)[0]) * float(1.0 - its.sum() + its[impossible].sum())
    return min(max(1.0 - plain / max(whole, 1e-300), 0.0), 1.0)


def _spoilt(weighed: Weighed, doubt: Doubt) -> bool:
    """Whether it is about one amount of a catch: containers tip, leak and are caught short, and of a row of
    figures one is soon written wrongly.
    """
    check = weighed.parts[0].told.seen.observations[int(doubt.rows[0])].check
    return not doubt.whole and check.check == "catch"


def _cannot_be(weighed: Weighed, doubt: Doubt) -> bool:
    """Whether it is about what no car can read: that is a slip of some kind, named or not."""
    observations = weighed.parts[0].told.seen.observations
    return any(
        one.sense is not None and one.value is not None and not one.sense[0] <= one.value <= one.sense[1]
        for one in (observations[int(row)] for row in doubt.rows)
    )
