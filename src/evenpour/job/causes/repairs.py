"""Repairs in the order in which they are worth trying, and when one is worth more than another check."""

from __future__ import annotations

import math
from collections.abc import Sequence

from evenpour.causes.repairs import in_order
from evenpour.job.causes.answers import RepairLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.groups import repair_place
from evenpour.job.causes.naming import name_of, port_at
from evenpour.job.causes.repair_costs import Costs
from evenpour.job.causes.turned import LEAN, RICH
from evenpour.job.exchanges import hangs_now

LEAST = 0.005  # probability below which a repair is not told
SURE_ENOUGH = 0.5  # of a repair's probability, above which its cost is set against one more check


def repairs_in_order(case: Case, known: Costs) -> list[RepairLine]:
    """Remedies by how likely they are needed over what they take; a part's repair counts all causes that it
    mends, alone or with another.
    """
    members: dict[str, list[tuple[int, float]]] = {}
    chance: dict[str, float] = {}
    for p, some in _explanations(case):
        for key in {_key(case, h) for h in some}:
            chance[key] = chance.get(key, 0.0) + p
        for h in some:
            members.setdefault(_key(case, h), []).append((h, p))
    told = {key: p for key, p in chance.items() if p >= LEAST}
    lines = {key: _line(case, members[key], p, known) for key, p in told.items()}
    return [lines[one.remedy] for one in in_order(told, {key: line.effort for key, line in lines.items()})]


def worth_doing(repairs: Sequence[RepairLine], minutes: Sequence[float]) -> str | None:
    """The first repair, in words, that is likelier than not and worth doing rather than one more check; else
    None.

    Done blind it is in vain with 1 - p; a check that told all would save just that. What is cheap to try and
    hardly likely to help may stand before it in the order, and is no reason to wait.

    Args:
        minutes: Of the checks that could be made instead.
    """
    best = next((one for one in repairs if one.probability >= SURE_ENOUGH), None)
    if best is None:
        return None
    in_vain = (1.0 - min(best.probability, 1.0)) * best.effort
    if in_vain > min(minutes, default=math.inf):
        return None
    return f"{best.remedy[0].upper()}{best.remedy[1:]}{repair_place(best)}"


def _explanations(case: Case) -> list[tuple[float, tuple[int, ...]]]:
    """Everything that may be wrong, with its probability: one cause, or several; of several that explain no
    more than one of them, that one. A screw beside another cause is set once that is mended: it calls for
    nothing first.
    """
    singles = [
        (p, (h,)) for h, p in case.probability.items() if case.explanation.suspects[h].cause is not None
    ]
    joint = []
    for p, one in zip(case.joint_probability, case.joint, strict=True):
        idle = case.weighed.is_idle(one.which)
        first = tuple(h for h in one.which if case.explanation.suspects[h].id not in (RICH, LEAN))
        joint.append((p, (case.weighed.likelier(one.which),) if idle else first or one.which))
    return [*singles, *joint]


def _key(case: Case, h: int) -> str:
    one = case.explanation.suspects[h]
    assert one.cause is not None
    return f"{one.cause.remedy} [{one.cylinder}]"


def _line(case: Case, members: Sequence[tuple[int, float]], p: float, known: Costs) -> RepairLine:
    first = case.explanation.suspects[members[0][0]]
    assert first.cause is not None
    cost = known.repairs[first.cause.remedy]
    by_cause: dict[int, float] = {}
    for h, share in members:
        by_cause[h] = by_cause.get(h, 0.0) + share
    named = [h for h, share in sorted(by_cause.items(), key=lambda one: -one[1]) if share >= LEAST / 4]
    return RepairLine(
        remedy=first.cause.remedy, part=first.cause.part, cylinder=first.cylinder, port=port_at(case, first),
        hangs=hangs_now(case.job, first.cause.part, first.cylinder),
        probability=min(p, 1.0),
        minutes=cost.minutes, cost=cost.parts, causes=[name_of(case, h) for h in named],
        effort=known.effort(cost.minutes, cost.parts), source=cost.source,
    )  # fmt: skip
