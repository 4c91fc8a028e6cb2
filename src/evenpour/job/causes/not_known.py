"""Something that no cause of the catalogue describes, beside all that is known, and where to look then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from evenpour.causes.not_known import NotKnown
from evenpour.job.causes.answers import ClashLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.clashes import SUSPECTED, farthest
from evenpour.job.causes.words import reading_words

LEADS = 0.5  # of all that is unexplained, from which it is told where to look


def beside(case: Case, strange: NotKnown) -> Case:
    """The same with all that is known as much less likely."""
    known = 1.0 - strange.probability
    return replace(
        case,
        odd=strange.odd,
        probability={h: known * p for h, p in case.probability.items()},
        joint_probability=tuple(known * p for p in case.joint_probability),
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
