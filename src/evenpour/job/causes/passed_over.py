"""Readings outside their limits that the likeliest explanation would have inside: nobody is to miss them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from evenpour.causes.reasons import as_it_is
from evenpour.job.causes.answers import CauseLine, ClashLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.facts import Told
from evenpour.job.causes.words import reading_words
from evenpour.machine.checks import ChoiceCheck

SHOWN: Final = 0.05  # probability of a cause from which what speaks for it has been named
MOST: Final = 4  # readings that are told


def passed_over(case: Case, lines: Sequence[CauseLine], clashes: Sequence[ClashLine]) -> list[str]:
    """In words, what is outside its limit, would be inside with the likeliest explanation, and is named
    neither as what speaks for a cause that counts nor as what clashes.
    """
    named = {one.what for one in clashes}
    for line in lines:
        if line.probability >= SHOWN:
            named |= {name for reason in line.for_ for name in (reason.what, *reason.together)}
    which = _likeliest(case)
    seen = case.told_from(case.weighed.part_of(which))
    alone = len(which) == 1
    now = as_it_is(seen.explanation, which[0]) if alone else case.weighed.cars_of(which)[0]
    own = {id(group) for group in case.job.judged}  # and no volts stated beside a pressure
    found: dict[int, Told] = {}
    for one, column in zip(seen.told, seen.explanation.seen.columns.column, strict=True):
        if id(one.group) not in own or one.observation.check.check in named:
            continue
        if _outside(one) and _would_be_inside(one, float(now[column])):
            found.setdefault(id(one.group), one)
    if not found:
        return []
    words = "; ".join(reading_words(case.job, one) for one in list(found.values())[:MOST])
    more = f"; and {len(found) - MOST} more" if len(found) > MOST else ""
    its = "its limit" if len(found) == 1 else "their limits"
    return [f"Outside {its}, and not explained by what is likeliest here: {words}{more}."]


def _likeliest(case: Case) -> tuple[int, ...]:
    singles = [(p, (h,)) for h, p in case.probability.items()]
    joint = [(p, one.which) for p, one in zip(case.joint_probability, case.joint, strict=True)]
    return max([*singles, *joint])[1]


def _outside(one: Told) -> bool:
    return one.group is not None and one.group.stands and one.group.verdict.verdict == "outside"


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
