"""Repairs in the order in which they are worth trying, and when one is worth more than another check."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from evenpour.causes.repairs import in_order
from evenpour.causes.suspects import Suspect
from evenpour.job.causes.answers import NextCheckLine, RepairLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.groups import SURE_ENOUGH, worth_with, worth_words
from evenpour.job.causes.naming import name_of, port_at
from evenpour.job.causes.repair_costs import Costs
from evenpour.job.causes.repair_steps import mended_on, way_of
from evenpour.job.causes.turned import LEAN, RICH, turned
from evenpour.job.exchanges import hangs_now
from evenpour.job.screw.before import Before, before_screw

LEAST = 0.005  # probability below which a repair is not told
CATCH_FIRST = (
    "Catch first, through bare lines: nobody has measured what each port pours, and that alone shows whether "
    "a distributor wants matching."
)
STOPPED_AS = {RICH: "too_rich", LEAN: "too_lean"}  # the screw's own stop that speaks of a screw so set


def repairs_in_order(case: Case, known: Costs) -> list[RepairLine]:
    """Remedies by how likely they are needed over what they take; a part's repair counts all causes that it
    mends, alone or with another. What is left for now comes last.
    """
    members: dict[str, list[tuple[int, float]]] = {}
    chance: dict[str, float] = {}
    behind: dict[str, dict[str, float]] = {}
    for p, some in _explanations(case):
        keys = {h: _key(case, h) for h in some}
        for key in set(keys.values()):
            chance[key] = chance.get(key, 0.0) + p
        for h in some:
            members.setdefault(keys[h], []).append((h, p))
        others = [_remedy(case, h) for h in some if not _is_screw(case, h)]
        for h in some:
            if others and _is_screw(case, h):
                waits = behind.setdefault(keys[h], {})
                waits[others[0]] = waits.get(others[0], 0.0) + p
    told = {key: p for key, p in chance.items() if p >= LEAST}
    lines = {key: _line(case, members[key], p, known, behind.get(key, {})) for key, p in told.items()}
    order = [one.remedy for one in in_order(told, {key: line.effort for key, line in lines.items()})]
    return sorted((lines[key] for key in order), key=lambda line: bool(line.left))


def worth_doing(
    repairs: Sequence[RepairLine], checks: Sequence[NextCheckLine], takes: Mapping[str, float]
) -> str | None:
    """The repair, in words, that is likelier than not and worth doing rather than one more check; else None.

    Done blind it is in vain with 1 - p; a check that told all would save just that. What is cheap to try and
    hardly likely to help may stand before it in the order, and is no reason to wait. What is left for now is
    not worth doing now. The same at several cylinders takes what all of them take: a cheap repair that is as
    likely goes before many new parts. Steps that the repair wants as well are no price of a check.

    Args:
        checks: That could be made instead.
        takes: Minutes of each step.
    """
    likely = [one for one in repairs if one.probability >= SURE_ENOUGH and not one.left]
    if not likely:
        return None
    whole = {id(one): math.fsum(each.effort for each in worth_with(one, repairs)) for one in likely}
    best = max(likely, key=lambda one: one.probability / whole[id(one)])
    in_vain = (1.0 - min(best.probability, 1.0)) * whole[id(best)]
    more = (one.minutes - math.fsum(takes[step] for step in {*one.before} & {*best.before}) for one in checks)
    if in_vain > min(more, default=math.inf):
        return None
    words = worth_words(best, repairs)
    return f"{words[0].upper()}{words[1:]}"


def _explanations(case: Case) -> list[tuple[float, tuple[int, ...]]]:
    """Everything that may be wrong, with its probability: one cause, or several; of several that explain no
    more than one of them, that one.
    """
    singles = [
        (p, (h,)) for h, p in case.probability.items() if case.explanation.suspects[h].cause is not None
    ]
    joint = []
    for p, one in zip(case.joint_probability, case.joint, strict=True):
        idle = case.weighed.is_idle(one.which)
        joint.append((p, (case.weighed.likelier(one.which),) if idle else one.which))
    return [*singles, *joint]


def _is_screw(case: Case, h: int) -> bool:
    return case.explanation.suspects[h].id in STOPPED_AS


def _remedy(case: Case, h: int) -> str:
    cause = case.explanation.suspects[h].cause
    assert cause is not None
    return cause.remedy


def _key(case: Case, h: int) -> str:
    one = case.explanation.suspects[h]
    assert one.cause is not None
    return f"{_remedy(case, h)} [{mended_on(one.cause.part, one.cylinder)[1]}]"


def _caught(case: Case) -> bool:
    """Whether what each port pours was measured in this job."""
    return any(not one.discard for one in case.job.facts.catches)


def _line(
    case: Case, members: Sequence[tuple[int, float]], p: float, known: Costs, behind: Mapping[str, float]
) -> RepairLine:
    by_cause: dict[int, float] = {}
    for h, share in members:
        by_cause[h] = by_cause.get(h, 0.0) + share
    named = [h for h, share in sorted(by_cause.items(), key=lambda one: -one[1]) if share >= LEAST / 4]
    first = case.explanation.suspects[max(by_cause, key=lambda h: by_cause[h])]
    assert first.cause is not None
    part, cylinder = mended_on(first.cause.part, first.cylinder)
    cost = known.repairs[first.cause.remedy]
    way = way_of(case.job, first.id)
    before = _before(case, first, p, behind)
    return RepairLine(
        remedy=first.cause.remedy, part=part, cylinder=cylinder,
        port=None if cylinder is None else port_at(case, first),
        hangs=hangs_now(case.job, part, cylinder),
        probability=min(p, 1.0),
        minutes=cost.minutes, cost=cost.parts, causes=[name_of(case, h) for h in named],
        effort=known.effort(cost.minutes, cost.parts), source=cost.source,
        step=way.step, before=list(way.before), cautions=list(way.cautions),
        left=before.says, checks=list(before.checks), care=before.care,
    )  # fmt: skip


def _before(case: Case, first: Suspect, p: float, behind: Mapping[str, float]) -> Before:
    """What comes before a repair of the screw, or of the distributor for what its ports pour; of any other
    nothing does.

    Args:
        behind: How likely the screw is wrong beside something else, by the repair of that: it would hide it.
    """
    if first.cause is not None and first.cause.part == "port" and not _caught(case):
        return Before(CATCH_FIRST, ("catch",))
    if first.id not in STOPPED_AS:
        return Before()
    hides = max(behind, key=lambda one: behind[one]) if 2.0 * math.fsum(behind.values()) > p else ""
    since = turned(case.job, case.read).since
    return before_screw(case.job, STOPPED_AS[first.id], since=since, hides=hides)
