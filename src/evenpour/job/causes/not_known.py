"""Something that no cause of the catalogue describes, beside all that is known, and where to look then."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.normal import log_sum
from evenpour.causes.unknown import unknown
from evenpour.job.causes.answers import ClashLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.clashes import SUSPECTED, farthest
from evenpour.job.causes.words import reading_words

LEADS = 0.5  # of all that is unexplained, from which it is told where to look
MOVED = 0.5  # that a check is moved by it, from which it is told


@dataclass(frozen=True, slots=True)
class NotKnown:
    """A fault that is not known here.

    Attributes:
        probability: Of it, against everything known.
        moved: Checks that it moves, by their number among all readings, the surest first, with how surely.
    """

    probability: float
    moved: tuple[tuple[int, float], ...]


def not_known(case: Case, prior: float) -> NotKnown:
    """How likely it is that what is wrong is not in the catalogue.

    A reading that was written wrongly, or does not belong, may be so under it too: it is weighed in each way
    to take the readings, as the known causes are.
    """
    ways = [
        (part.level + found.log_evidence, found)
        for part in case.weighed.parts
        if len(part.told.noise.columns)
        for found in (unknown(part.told.severe, part.told.noise),)
    ]
    if not ways:
        return NotKnown(0.0, ())
    log = math.log(prior) - math.log1p(-prior) + float(log_sum(np.array([weight for weight, _ in ways])))
    apart = min(max(case.weighed.log_total - log, -700.0), 700.0)
    best = max(ways, key=lambda way: way[0])[1]
    sure = sorted(zip(map(int, best.checks), map(float, best.touched), strict=True), key=lambda one: -one[1])
    return NotKnown(1.0 / (1.0 + math.exp(apart)), tuple(one for one in sure if one[1] > MOVED))


def beside(case: Case, strange: NotKnown) -> Case:
    """The same with all that is known as much less likely."""
    known = 1.0 - strange.probability
    return replace(
        case,
        probability={h: known * p for h, p in case.probability.items()},
        pair_probability=tuple(known * p for p in case.pair_probability),
    )


def moved_lines(case: Case, strange: NotKnown, told: Sequence[ClashLine]) -> list[ClashLine]:
    """The readings that nothing known here explains, without those told as clashes."""
    lines = []
    for check, sure in strange.moved:
        one = farthest(case, check)
        what, cylinder = one.observation.check.check, one.observation.query.cylinder
        moved = strange.probability * sure
        if moved >= SUSPECTED and not any(line.entry == one.entry for line in told):
            lines.append(
                ClashLine(
                    what=what, cylinder=cylinder, entry=one.entry, probability=moved,
                    words=f"{reading_words(case.job, one)}, is explained by nothing known here", slips=[],
                )
            )  # fmt: skip
    return lines


def notes() -> list[str]:
    """What to look at first."""
    return [
        "No cause that is known here explains these readings together. Look first whether the sheet is this "
        "engine's and the fuel in the tank the one stated, and read again what clashes."
    ]
