"""Readings held against the sheet: repeats brought together, verdicts given, spreads worked out."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from evenpour.job import times
from evenpour.job.catalogue import Catalogue
from evenpour.job.causes.prior import come_along
from evenpour.job.facts import Facts, ReadingFact, TouchFact
from evenpour.machine.sheet import Sheet
from evenpour.measure.checks import Check
from evenpour.measure.readings import Reading
from evenpour.measure.verdicts import Verdict, judge
from evenpour.path.plan import Item, Plan

# Readings of one check further apart than this are two readings, not repeats of one. Common practice, no
# source.
REPEATS_WITHIN = 30.0 * 60.0  # [s]

# Between two readings of the same, by condition, SI: more, and more than a share of a figure that is no
# temperature, and they are of another state. The house's choice.
NEAR = {
    "ambient_temperature": 5.0, "body_temperature": 5.0, "intake_temperature": 5.0, "oil_temperature": 15.0,
    "opening": 0.0, "regulator_temperature": 5.0, "soak": 0.0, "speed": 0.0, "temperature": 5.0,
    "vacuum": 2e3,
}  # fmt: skip
SHARE = 0.1
TELLING = ("opening", "soak", "speed", "vacuum")  # of which both must state it, or neither

Overtaken = Literal["newer", "part_changed"]


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading, or repeats of one taken in one go, with its verdict.

    ``overtaken`` says why it no longer counts: a newer reading of the same, under the same choices, has
    taken its place, or the part that was read has been replaced and nothing newer stands. None: it counts.
    """

    facts: tuple[ReadingFact, ...]
    check: Check
    reading: Reading
    verdict: Verdict
    overtaken: Overtaken | None = None

    @property
    def stands(self) -> bool:
        """Whether it still counts."""
        return self.overtaken is None

    @property
    def rank(self) -> int:
        """Where its newest reading stands in the order of the job."""
        return self.facts[-1].told.rank

    @property
    def oldest(self) -> int:
        """Where its oldest reading stands."""
        return self.facts[0].told.rank


def judged_readings(
    facts: Facts, sheet: Sheet, known: Catalogue, plan: Plan, system: str = "metric"
) -> tuple[Judged, ...]:
    """Every group of readings with its verdict, in order, then the spreads worked out of them.

    *system* is the system of units in which a verdict says what would settle it.
    """

    def set_between(before: ReadingFact, after: ReadingFact) -> bool:
        """Whether what is set in a step where it is out was out, and is read otherwise."""
        if after.check.id not in plan.set_in_steps:
            return False
        one, other = (_verdict(fact.reading, after.check, sheet, system) for fact in (before, after))
        return one.verdict == "outside" and _are_apart(one, other)

    groups = []
    for group in _repeats(facts, plan, set_between):
        check, reading = group[0].check, _together(group)
        groups.append(Judged(tuple(group), check, reading, _verdict(reading, check, sheet, system)))
    standing = _standing(groups, facts.touches)
    return (*standing, *_spreads(standing, facts, sheet, known, system))


def at_odds(group: Judged, sheet: Sheet) -> ReadingFact | None:
    """The reading of the group that its newest contradicts: further apart than both doubts tell, and not on
    the same side of the limits.
    """
    verdicts = [_verdict(one.reading, group.check, sheet, "metric") for one in group.facts]
    apart = (fact for fact, one in zip(group.facts, verdicts, strict=True) if _contradict(one, verdicts[-1]))
    return next(apart, None)


def _contradict(one: Verdict, other: Verdict) -> bool:
    return _side(one) != _side(other) and _are_apart(one, other)


def _are_apart(one: Verdict, other: Verdict) -> bool:
    if not isinstance(one.value, float) or not isinstance(other.value, float):
        return False
    return abs(one.value - other.value) > 2.0 * math.hypot(one.u or 0.0, other.u or 0.0)


def _side(verdict: Verdict) -> int:
    """1 for above the limits, -1 for below, 0 where it is not surely outside."""
    if verdict.verdict != "outside" or not isinstance(verdict.value, float):
        return 0
    return 1 if verdict.high is not None and verdict.value > verdict.high else -1


def _verdict(reading: Reading, check: Check, sheet: Sheet, system: str) -> Verdict:
    return judge(reading, sheet.limits_for(check.id), system)


def _repeats(
    facts: Facts, plan: Plan, set_between: Callable[[ReadingFact, ReadingFact], bool]
) -> list[list[ReadingFact]]:
    """Readings of one check, cylinder, instrument and condition with nothing touched in between."""
    touched = [touch.told.rank for touch in facts.touches]
    done = list(_done(facts, plan))
    spoiled: dict[tuple[str, int | None], list[int]] = {}
    groups: list[list[ReadingFact]] = []
    latest: dict[tuple[object, ...], list[ReadingFact]] = {}
    for fact in facts.readings:
        conditions = sorted((name, one.choice or one.value) for name, one in fact.reading.conditions.items())
        key = (fact.check.id, fact.reading.cylinder, fact.instrument, repr(conditions))
        group = latest.get(key)
        of_what = (fact.check.id, fact.reading.cylinder)
        if of_what not in spoiled:
            spoiled[of_what] = list(_spoiled(*of_what, done, facts, plan))
        apart = [*touched, *spoiled[of_what]]
        go_on = group and _in_one_go(group[-1], fact, apart) and not fact.check.choices
        if group and go_on and not set_between(group[-1], fact):
            group.append(fact)
        else:
            latest[key] = [fact]
            groups.append(latest[key])
    return groups


def _spoiled(
    check: str, cylinder: int | None, done: Sequence[tuple[int, Collection[Item]]], facts: Facts, plan: Plan
) -> Iterator[int]:
    """Where a step that was done, or something that happened, spoils what a reading of a check proves.

    What is read after it proves anew; brought together with a reading from before it, it could not.
    """
    proved = plan.claims_from.get(("check", check), ())
    rests = {item for claim in proved for name in claim.rests_on for item in plan.items(name, cylinder)}
    yield from (rank for rank, touched in done if not rests.isdisjoint(touched))
    ages = {what for claim in proved for what in claim.ages_on}
    yield from (one.told.rank for one in facts.of_kind("happened") if one.content["what"] in ages)


def _done(facts: Facts, plan: Plan) -> Iterator[tuple[int, frozenset[Item]]]:
    """Where each step was done, and what it touched."""
    for done in facts.of_kind("step"):
        step = plan.step.get(done.content["id"]) if done.content["done"] else None
        at = done.content.get("cylinder")
        if step:
            touched = frozenset(item for name in step.touches for item in plan.items(name, at))
            yield done.told.rank, touched


def _in_one_go(before: ReadingFact, after: ReadingFact, apart: Sequence[int]) -> bool:
    if any(before.told.rank < rank < after.told.rank for rank in apart):
        return False
    if not before.told.at or not after.told.at:
        return True
    passed = times.instant(after.told.at) - times.instant(before.told.at)
    return abs(passed.total_seconds()) <= REPEATS_WITHIN


def _together(group: Sequence[ReadingFact]) -> Reading:
    last = group[-1].reading
    if last.choice is not None:
        return last
    worst = max((fact.reading for fact in group), key=lambda reading: reading.u_b)
    values = tuple(value for fact in group for value in fact.reading.values)
    return replace(last, values=values, u_b=worst.u_b, basis=worst.basis)


def _standing(groups: Sequence[Judged], touches: Sequence[TouchFact]) -> list[Judged]:
    newest = {alike(group): group for group in sorted(groups, key=lambda group: group.rank)}

    def overtaken(group: Judged) -> Overtaken | None:
        last = newest[alike(group)]
        if _of_another_part(last, touches):
            return "part_changed"
        return "newer" if group.rank != last.rank else None

    return [replace(group, overtaken=overtaken(group)) for group in groups]


def _of_another_part(group: Judged, touches: Sequence[TouchFact]) -> bool:
    """Whether the part that was read has been replaced since, by itself or with what it sits in: the reading
    tells nothing of the new one.
    """
    cylinder = group.reading.cylinder
    return any(
        touch.action == "replaced"
        and touch.told.rank > group.rank
        and not come_along().parts_of(touch.part, touch.action).isdisjoint(group.check.reads)
        and (touch.cylinder is None or touch.cylinder == cylinder)
        for touch in touches
    )


def alike(group: Judged) -> tuple[object, ...]:
    """What a later reading must share to take an earlier one's place: all choices, not the values."""
    choices = sorted((name, one.choice) for name, one in group.reading.conditions.items() if one.choice)
    stages = [name for name in ("after", "temperature") if name in group.reading.conditions]
    steps = [(name, group.reading.conditions[name].value) for name in stages]
    return (group.check.id, group.reading.cylinder, repr(choices), repr(steps))


def same_reading(one: Judged, other: Judged) -> bool:
    """Whether two readings are of the same, under conditions that are about the same."""
    stated, also = one.reading.conditions, other.reading.conditions
    if alike(one) != alike(other) or any((name in stated) != (name in also) for name in TELLING):
        return False
    figures = {
        name: (stated[name].value, also[name].value) for name in NEAR if name in stated and name in also
    }
    return not any(
        abs(x - y) > max(NEAR[name], SHARE * max(abs(x), abs(y)) if name in TELLING else 0.0)
        for name, (x, y) in figures.items()
        if x is not None and y is not None
    )


def _spreads(
    groups: Sequence[Judged], facts: Facts, sheet: Sheet, known: Catalogue, system: str
) -> Iterable[Judged]:
    """Largest less smallest over the cylinders, where the sheet has a limit for it and every cylinder was
    read.
    """
    for check in known.checks.values():
        if check.spread_of is None or not sheet.limits_for(check.id):
            continue
        newest: dict[int | None, Judged] = {}
        for group in groups:
            if group.check.id == check.spread_of and group.stands and group.reading.values:
                newest[group.reading.cylinder] = group
        if len(newest) == sheet.cylinders and sheet.cylinders > 1:
            yield _spread(check, list(newest.values()), sheet, system)


def own_u(verdict: Verdict) -> float:
    """A reading's own standard uncertainty: without that of the conditions, which like readings share."""
    own = [verdict.budget[cause] for cause in ("gauge", "repeats") if cause in verdict.budget]
    return math.hypot(*own) if own else verdict.u or 0.0


def spread_reading(check: Check, read: Mapping[int, tuple[float, float]], unit: str) -> Reading:
    """Largest less smallest as a reading of *check*, from value and standard uncertainty by cylinder."""
    high = max(read, key=lambda cylinder: read[cylinder][0])
    low = min(read, key=lambda cylinder: read[cylinder][0])
    return Reading(
        check=check.id,
        cylinder=None,
        values=(read[high][0] - read[low][0],),
        choice=None,
        u_b=math.hypot(read[high][1], read[low][1]),
        basis=f"from the lowest (cylinder {low}) to the highest (cylinder {high})",
        conditions={},
        unit=unit,
    )


def _spread(check: Check, groups: Sequence[Judged], sheet: Sheet, system: str) -> Judged:
    read = {
        int(group.reading.cylinder or 0): (
            math.fsum(group.reading.values) / len(group.reading.values),
            own_u(group.verdict),
        )
        for group in groups
    }
    largest = max(groups, key=lambda group: read[int(group.reading.cylinder or 0)])
    reading = spread_reading(check, read, largest.reading.unit)
    ordered = sorted((fact for group in groups for fact in group.facts), key=lambda fact: fact.told.rank)
    return Judged(tuple(ordered), check, reading, _verdict(reading, check, sheet, system))
