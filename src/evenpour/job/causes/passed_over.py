"""Readings outside their limits that the likeliest explanation would have inside: nobody is to miss them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from evenpour.causes.problem import Array
from evenpour.job.causes.answers import CauseLine, ClashLine
from evenpour.job.causes.case import Case, likeliest
from evenpour.job.causes.facts import Told
from evenpour.job.causes.words import meant_otherwise, reading_words
from evenpour.machine.checks import ChoiceCheck

#: -log of how likely a reading is with an explanation, from which it is told: a word that one in five would
#: say, a figure near two noise widths off.
STRANGE: Final = 1.6
MOST: Final = 4  # readings that are told


def passed_over(case: Case, lines: Sequence[CauseLine], clashes: Sequence[ClashLine]) -> list[str]:
    """In words, the farthest first, what is outside its limit where the likeliest explanation has it inside,
    speaks for nothing in that explanation, and is not named as clashing.
    """
    which = likeliest(case)
    whole = case.weighed.parts[0].told
    foreseen = case.weighed.cars_of(which)[0][whole.seen.columns.column]
    far = _strange(case, foreseen)
    named = {one.what for one in clashes} | _spoken(case, which, lines)
    meant = meant_otherwise(case)
    found: dict[int, Told] = {}
    for row in np.argsort(-far, kind="stable"):
        one = case.read[row]
        if one.observation.check.check in named or int(whole.seen.columns.check[row]) in meant:
            continue
        if far[row] >= STRANGE and _outside(one) and _would_be_inside(one, float(foreseen[row])):
            found.setdefault(id(one.group), one)
    if not found:
        return []
    words = "; ".join(reading_words(case.job, one) for one in list(found.values())[:MOST])
    more = f"; and {len(found) - MOST} more" if len(found) > MOST else ""
    its = "its limit" if len(found) == 1 else "their limits"
    return [f"Outside {its}, and not explained by what is likeliest here: {words}{more}."]


def _spoken(case: Case, which: Sequence[int], lines: Sequence[CauseLine]) -> set[str]:
    """Checks that are named as speaking for the likeliest explanation."""
    some = [case.explanation.suspects[h] for h in which]
    mine = {(one.id, one.cylinder) for one in some}
    return {
        name
        for line in lines
        if {(line.cause, line.cylinder), *((one.cause, one.cylinder) for one in line.also)} & mine
        for reason in line.for_
        for name in (reason.what, *reason.together)
    }


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
