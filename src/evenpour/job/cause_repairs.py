"""Repairs in the order in which they are worth trying, and when one is worth more than another check."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from evenpour.job.cause_answers import CauseName, RepairLine
from evenpour.job.repair_costs import Costs

if TYPE_CHECKING:
    from evenpour.job.causes_answer import Case

LEAST = 0.005  # probability below which a repair is not told
SURE_ENOUGH = 0.5  # of a repair's probability, above which its cost is set against one more check


def repairs_in_order(case: Case, known: Costs) -> list[RepairLine]:
    """Remedies by probability over what they take; a part's repair counts all causes that it mends."""
    found: dict[tuple[str, int | None], list[tuple[int, float]]] = {}
    for h, p in case.probability.items():
        one = case.explanation.suspects[h]
        if one.cause is not None:
            found.setdefault((one.cause.remedy, one.cylinder), []).append((h, p))
    lines = []
    for (remedy, cylinder), members in found.items():
        total = math.fsum(p for _, p in members)
        if total < LEAST:
            continue
        first = case.explanation.suspects[members[0][0]].cause
        assert first is not None
        cost = known.repairs[remedy]
        named = [h for h, p in sorted(members, key=lambda one: -one[1]) if p >= LEAST / 4]
        lines.append(
            RepairLine(
                remedy=remedy, part=first.part, cylinder=cylinder, probability=total,
                minutes=cost.minutes, cost=cost.parts, causes=[_name(case, h) for h in named],
                effort=known.effort(cost.minutes, cost.parts), source=cost.source,
            )
        )  # fmt: skip
    return sorted(lines, key=lambda line: -line.probability / line.effort)


def worth_doing(repairs: Sequence[RepairLine], minutes: Sequence[float]) -> str | None:
    """The first repair, in words, where it is worth doing rather than one more check; else None.

    Args:
        minutes: Of the checks that could be made instead.
    """
    if not repairs:
        return None
    best = repairs[0]
    # done blind it is in vain with 1 - p; a check that told all would save just that
    if best.probability < SURE_ENOUGH or (1.0 - best.probability) * best.effort > min(
        minutes, default=math.inf
    ):
        return None
    where = "" if best.cylinder is None else f", cylinder {best.cylinder}"
    return f"{best.remedy[0].upper()}{best.remedy[1:]}{where}"


def _name(case: Case, h: int) -> CauseName:
    one = case.explanation.suspects[h]
    return CauseName(cause=one.id, cylinder=one.cylinder)
