"""From a job's facts to the events the path folds: evidence, touches, steps done, happenings, cautions,
overrides.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import timedelta

from evenpour.job import times
from evenpour.job.catalogue import Catalogue
from evenpour.job.catch.catching import at_rest, catch_proofs
from evenpour.job.catch.facts import CatchFact
from evenpour.job.condition_words import one_stated
from evenpour.job.exchanges import KINDS, put_back_item
from evenpour.job.facts import Facts, PlainFact, TouchFact
from evenpour.job.judging import Judged
from evenpour.job.plain_facts import override_target
from evenpour.job.wording import when_said
from evenpour.machine.line_map import LineMap, line_map_of
from evenpour.machine.sheet import Sheet
from evenpour.measure.choice_words import choice_words
from evenpour.measure.readings import Condition
from evenpour.measure.uncertainty import coverage
from evenpour.measure.units import shown
from evenpour.measure.verdicts import SURE
from evenpour.path.events import (
    OPENS,
    Aged,
    CautionRead,
    Done,
    Event,
    Evidence,
    Happened,
    Override,
    Touch,
    harms,
)
from evenpour.path.plan import Plan, Proof, Step

NO_VACUUM = 10e3  # up to here a hand pump has not been worked in earnest, [Pa]


def events_of(
    facts: Facts, judged: Sequence[Judged], sheet: Sheet, known: Catalogue, plan: Plan, *, now: str | None
) -> list[Event]:
    """Everything the path must know, sorted by rank."""
    found: list[Event] = []
    found += _readings(judged, known, _told_apart_by(plan))
    found += _running(judged, facts, plan)
    found += _catches(facts, sheet, plan)
    found += _exchanged(facts, line_map_of(sheet), plan)
    found += _at_rest(facts, line_map_of(sheet))
    found += (
        Touch(
            rank=touch.told.rank,
            at=when_said(touch.told.at),
            entry=touch.told.entry,
            part=touch.part,
            action=touch.action,
            cylinder=touch.cylinder,
        )
        for touch in facts.touches
        if touch.turns != 0.0  # a mark noted without turning disturbs nothing
    )
    for fact in facts.plain:
        found += _plain(fact, known, plan)
    found += _aged(judged, plan, facts.last_rank, now)
    return sorted(found, key=lambda event: event.rank)


def _told_apart_by(plan: Plan) -> dict[str, set[str]]:
    """By check, the conditions that tell apart the readings one claim wants: of the timing, the speed."""
    found: dict[str, set[str]] = {}
    for claim in plan.claims:
        wanted: dict[str, list[Proof]] = {}
        for one in (one for proof in claim.proof for one in proof.alternatives):
            if one.source[0] == "check":
                wanted.setdefault(one.source[1], []).append(one)
        for check, proofs in wanted.items():
            for name in {name for one in proofs for name in one.conditions}:
                if any(one.conditions.get(name) != proofs[0].conditions.get(name) for one in proofs):
                    found.setdefault(check, set()).add(name)
    return found


def _readings(
    judged: Iterable[Judged], known: Catalogue, told_apart_by: Mapping[str, Collection[str]]
) -> Iterator[Evidence]:
    for group in judged:
        told = group.facts[-1].told
        verdict = group.verdict
        conditions = {name: _as_proof_says(one, known) for name, one in group.reading.conditions.items()}
        said = "" if verdict.source is None else f", {verdict.verdict.replace('_', ' ')}"
        telling = told_apart_by.get(group.check.id, ())
        at = ", ".join(
            one_stated(name, one.choice or one.text)
            for name, one in group.reading.conditions.items()
            if name in telling
        )
        words = f"{group.check.named} {value_words(group)}{f' ({at})' if at else ''}{said}"
        yield Evidence(
            rank=group.rank,
            at=when_said(told.at),
            entry=told.entry,
            source=("check", group.check.id),
            supports=verdict.verdict == "within",
            oldest=group.oldest,
            cylinder=group.reading.cylinder,
            conditions=conditions,
            p=verdict.p_within,
            compared=verdict.p_within is not None or verdict.verdict != "cannot_tell",
            words=words,
        )


def _as_proof_says(one: Condition, known: Catalogue) -> str | float:
    """A condition as proofs name it: a stated vacuum of 0.5 bar is one that was applied."""
    if one.choice is not None:
        return one.choice
    choices = known.kinds[one.name].choices
    if set(choices) == {"none", "applied"}:
        return "applied" if (one.value or 0.0) > NO_VACUUM else "none"
    return one.value or 0.0


def value_words(group: Judged) -> str:
    """What was read, with its doubt; without "lambda", where the name before it says that."""
    value = group.verdict.value
    if isinstance(value, str):
        return choice_words(value)
    if value is None or group.check.dimension is None:
        return ""
    said = shown(
        value,
        group.check.dimension,
        u=group.verdict.u,
        k=coverage(group.verdict.dof),
        unit=group.reading.unit or None,
    )
    return said.removeprefix("lambda ")


def _running(judged: Iterable[Judged], facts: Facts, plan: Plan) -> Iterator[Touch]:
    """Running the pump for a reading or a catch ends states of the car: no pressure in the lines,
    regulator cold.
    """
    ends = {
        check: [name for name in step.touches if plan.part[name].kind == "state"]
        for step in plan.step.values()
        for check in step.checks
        if any(name in plan.part and plan.part[name].kind == "state" for name in step.touches)
    }
    on_the_bench = {"where": "bench"}.items()  # no pump of the car's ran for that
    taken = [
        (group.check.id, group.facts[-1].told)
        for group in judged
        if not on_the_bench <= {name: one.choice for name, one in group.reading.conditions.items()}.items()
    ]
    taken += [(fact.key, fact.told) for fact in facts.catches]
    for check, told in taken:
        for part in ends.get(check, ()):
            yield Touch(rank=told.rank, at=when_said(told.at), entry=told.entry, part=part, action="ended")


def _catches(facts: Facts, sheet: Sheet, plan: Plan) -> Iterator[Evidence]:
    rests: dict[str, set[str]] = {}
    for claim in plan.claims:
        for proof in claim.proof:
            for one in proof.alternatives:
                if one.catch:
                    rests.setdefault(one.catch, set()).update(claim.rests_on)

    def touches_of(key: str) -> list[int]:
        return [touch.told.rank for touch in facts.touches if touches_any(touch, rests[key], plan)]

    for caught in catch_proofs(facts, sheet, rests, touches_of):
        yield Evidence(
            rank=caught.rank,
            at=when_said(caught.at),
            entry=caught.entry,
            source=("catch", caught.key),
            supports=caught.p is not None and caught.p >= SURE and not caught.doubted,
            oldest=caught.oldest,
            p=caught.p,
            words=caught.words,
        )


def _exchanged(facts: Facts, line_map: LineMap, plan: Plan) -> Iterator[Touch]:
    """What catches were made with in another's place, and what came back to its own.

    A later catch that could say so and names it no more was made with it back, if nobody said so before; who
    entered it was asked that. Injectors are named by catches through them alone.
    """
    for kind in KINDS:
        part = put_back_item(kind)
        if part not in plan.part:
            continue
        by_hand = [(one.told.rank, one.cylinder) for one in facts.touches if one.part == part]
        out: set[int] = set()
        before = -1
        for fact in facts.catches:
            if kind == "injector" and fact.through != "injectors":
                continue
            back = {number for rank, number in by_hand if before < rank < fact.told.rank}
            out = set() if None in back else out - back
            now = {line_map.cylinder(port) for port in _swapped(fact, kind)}
            for cylinders, action in ((now - out, "fitted"), (out - now, "refitted")):
                for cylinder in sorted(cylinders):
                    yield Touch(
                        rank=fact.told.rank, at=when_said(fact.told.at), entry=fact.told.entry, part=part,
                        action=action, cylinder=cylinder,
                    )  # fmt: skip
            out, before = now, fact.told.rank


def exchanging_step(plan: Plan, key: str) -> Step | None:
    """The step that says how parts are exchanged for a catch of that key, and put back after it."""
    evened = {
        claim.id
        for claim in plan.claims
        if any(one.catch == key for proof in claim.proof for one in proof.alternatives)
    }
    return next((one for one in plan.step.values() if evened & set(one.mends)), None)


def exchanged_in(plan: Plan, facts: Facts, entry: str) -> Step | None:
    """The same, of the catch that an entry is; None of any other entry."""
    fact = next((one for one in facts.catches if one.told.entry == entry and one.swaps), None)
    return None if fact is None else exchanging_step(plan, fact.key)


def _swapped(fact: CatchFact, kind: str) -> set[int]:
    """The ports whose own line or injector was elsewhere in a catch."""
    return {port for swapped, *both in fact.swaps if swapped == kind for port in both}


def _at_rest(facts: Facts, line_map: LineMap) -> Iterator[Evidence]:
    """A catch with the plate at rest tells of every port whether it is shut."""
    for fact in facts.catches:
        if fact.opening != "rest" or fact.discard:
            continue
        for port, found in at_rest(fact).items():
            amount = shown(fact.amounts[port - 1] or 0.0, "volume")
            yield Evidence(
                rank=fact.told.rank,
                at=when_said(fact.told.at),
                entry=fact.told.entry,
                source=("check", "rest_delivery"),
                supports=found == "dry",
                oldest=fact.told.rank,
                cylinder=line_map.cylinder(port),
                words=f"port {port} with the plate at rest: {amount}, {found}",
            )


def touches_any(touch: TouchFact, rests_on: set[str], plan: Plan) -> bool:
    """Whether a touch disturbs any of *rests_on*, whatever the cylinder."""
    part = plan.part[touch.part]
    harmed = {part.id} if harms(part, touch.action) else set()
    opened = {name.removesuffix("[k]") for name in part.opens} if touch.action in OPENS else set()
    return bool((harmed | opened) & {name.removesuffix("[k]") for name in rests_on})


def _plain(fact: PlainFact, known: Catalogue, plan: Plan) -> Iterator[Event]:
    told, content = fact.told, fact.content
    at = when_said(told.at)
    if fact.kind == "step":
        yield Done(
            rank=told.rank,
            at=at,
            entry=told.entry,
            step=content["id"],
            done=content["done"],
            cylinder=content.get("cylinder"),
            reason=content.get("reason", ""),
            who=told.who,
        )
    elif fact.kind == "happened":
        yield Happened(rank=told.rank, at=at, entry=told.entry, what=content["what"])
    elif fact.kind == "caution":
        yield CautionRead(rank=told.rank, at=at, entry=told.entry, id=content["id"], who=told.who)
    elif fact.kind == "override":
        kind = "claim" if "claim" in content else "item"
        target = override_target(kind, content[kind], content.get("cylinder"), known, plan)
        yield Override(
            rank=told.rank, at=at, entry=told.entry, target=target, who=told.who, reason=content["reason"]
        )


def _aged(judged: Iterable[Judged], plan: Plan, last: int, now: str | None) -> Iterator[Aged]:
    """Proofs too old for the season: a claim with ``ages_after`` whose reading is older than that by
    *now*.
    """
    if now is None:
        return
    groups = list(judged)
    for claim in plan.claims:
        if claim.ages_after is None:
            continue
        checks = {one.check for proof in claim.proof for one in proof.alternatives}
        old = [
            group
            for group in groups
            if group.check.id in checks
            and group.facts[0].told.at
            and times.instant(now) - times.instant(group.facts[0].told.at)
            > timedelta(seconds=claim.ages_after)
        ]
        if old:
            days = round(claim.ages_after / 86400.0)
            yield Aged(
                rank=last,
                at=when_said(now),
                entry="",
                claim=claim.id,
                before=max(group.oldest for group in old) + 1,
                words=f"read more than {days} days before the newest entry",
            )
