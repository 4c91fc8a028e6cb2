"""Readings outside their limits that the likeliest explanation would have inside: nobody is to miss them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from evenpour.causes.problem import Array
from evenpour.job.causes.answers import CauseLine, ClashLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.facts import Told
from evenpour.job.causes.groups import alike, named_by, said, whole
from evenpour.job.causes.words import meant_otherwise, reading_words
from evenpour.machine.checks import ChoiceCheck

#: -log of how likely a reading is with an explanation, from which it is told: a word that one in five would
#: say, a figure near two noise widths off.
STRANGE: Final = 1.6
MOST: Final = 4  # readings that are told


def passed_over(case: Case, lines: Sequence[CauseLine], clashes: Sequence[ClashLine]) -> list[str]:
    """In words, the farthest first, what is outside its limit where the likeliest line has it inside, does
    not speak for that line, and is not named as clashing.
    """
    which, top = _likeliest_told(case, lines)
    columns = case.weighed.parts[0].told.seen.columns
    foreseen = case.weighed.cars_of(which)[0][columns.column]
    far = _strange(case, foreseen)
    named = {one.what for one in clashes}
    named |= {name for line in top for reason in said(line.for_) for name in (reason.what, *reason.together)}
    meant = meant_otherwise(case)
    found: dict[int, Told] = {}
    for row in np.argsort(-far, kind="stable"):
        one = case.read[row]
        if one.observation.check.check in named or int(columns.check[row]) in meant:
            continue
        if far[row] >= STRANGE and _outside(one) and _would_be_inside(one, float(foreseen[row])):
            found.setdefault(id(one.group), one)
    if not found:
        return []
    words = "; ".join(reading_words(case.job, one) for one in list(found.values())[:MOST])
    more = f"; and {len(found) - MOST} more" if len(found) > MOST else ""
    its = "its limit" if len(found) == 1 else "their limits"
    return [f"Outside {its}, and not explained by what is likeliest here: {words}{more}."]


def _likeliest_told(case: Case, lines: Sequence[CauseLine]) -> tuple[tuple[int, ...], list[CauseLine]]:
    """The likeliest of what is told, the same at several cylinders taken together, by its hypotheses and in
    its lines; nothing wrong has none.
    """
    top = max(alike(lines), key=whole, default=[])
    if case.probability[0] * (1.0 - case.odd) >= whole(top):
        return (0,), []
    names = {(one.cause, one.cylinder) for one in named_by(top[0])}
    listed = case.explanation.suspects
    several = [
        one.which for one in case.joint if {(listed[h].id, listed[h].cylinder) for h in one.which} == names
    ]
    alone = [(h,) for h, one in enumerate(listed) if {(one.id, one.cylinder)} == names]
    return (alone or several)[0], top


def _strange(case: Case, foreseen: Array) -> Array:
    """How little each reading is to be expected where these are foreseen, -log of how likely, (readings,)."""
    noise = case.weighed.parts[0].told.noise
    far = 0.5 * (np.abs(noise.columns.y - foreseen) * noise.per_sd) ** 2
    far[noise.choice] = -noise.lines.log_chosen(foreseen[noise.choice])
    return np.asarray(far)


def _outside(one: Told) -> bool:
    """Whether it is; what was worked out of another's conditions was judged by none of its own limits."""
    group = one.group
    if group is None or not group.stands or group.facts[0].check.id != group.check.id:
        return False
    return group.verdict.verdict == "outside"


def _would_be_inside(one: Told, foreseen: float) -> bool:
    """Whether a reading would be inside its limit, were it as foreseen (as compared)."""
    assert one.group is not None
    check, verdict = one.observation.check, one.group.verdict
    if isinstance(check, ChoiceCheck):
        place = sum(foreseen > cut for cut in check.cuts)
        if check.right:
            return place == 1
        return bool(set(check.order[place]) & set(verdict.allowed))
    value = float(check.uncompared(foreseen))
    low, high = verdict.low, verdict.high
    return (low is None or value >= low) and (high is None or value <= high)
