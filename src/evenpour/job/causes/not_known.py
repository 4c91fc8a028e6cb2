"""Something that no cause of the catalogue describes, beside all that is known, and where to look then."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.seen import without
from evenpour.causes.unexplained import SEVERAL, log_flat
from evenpour.causes.unknown import unknown
from evenpour.job.causes.answers import ClashLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.clashes import SUSPECTED, Clash, farthest
from evenpour.job.causes.words import reading_words

SLIPPED = 0.5  # share of a check's not belonging that slips take up, from which it was a slip
ALONE = 4.0  # times as far off as the next one, or as its own noise, that the one odd value of a check is
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


def not_known(case: Case, clashing: Sequence[Clash], prior: float) -> NotKnown:
    """How likely it is that what is wrong is not in the catalogue.

    A check that a plain slip mends is a slip under it too, so that no slip is taken for a strange fault; so
    is one of whose several values a single one is astray: that shows no more than that value.
    """
    told = case.weighed.parts[0].told
    columns = told.seen.columns
    slipped = [
        one.check
        for one in clashing
        if one.probability > SLIPPED and (one.mended > SLIPPED or _is_one_value(case, one.check))
    ]
    rest = without(told.noise, np.isin(columns.check, slipped))
    if not len(rest.columns):
        return NotKnown(0.0, ())
    found = unknown(told.severe, rest)
    log = math.log(prior) - math.log1p(-prior) + found.log_evidence + log_flat(columns, slipped)
    apart = min(max(case.weighed.log_total - log, -700.0), 700.0)
    sure = sorted(
        zip(map(int, found.checks), map(float, found.touched), strict=True), key=lambda one: -one[1]
    )
    return NotKnown(1.0 / (1.0 + math.exp(apart)), tuple(one for one in sure if one[1] > MOVED))


def _is_one_value(case: Case, check: int) -> bool:
    """Whether all values of a check but one go with the likeliest explanation."""
    whole, explained = case.weighed.parts[0].told, case.explanation
    rows = np.flatnonzero(whole.seen.columns.check == check)
    best = int(np.argmax(explained.node_weight))
    f = explained.fitted.modes.f[best][whole.seen.columns.column[rows]]
    far = np.sort(np.abs(whole.noise.columns.y[rows] - f) * whole.noise.per_sd[rows])
    return len(rows) >= SEVERAL and bool(far[-1] > ALONE * max(far[-2], 1.0))


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
