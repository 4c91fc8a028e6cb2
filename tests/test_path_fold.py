"""The fold against the same rules written slow and plain, on random plans and random jobs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import path_reference as slow
from evenpour.path import (
    CautionRead,
    Claim,
    Done,
    Event,
    Evidence,
    Happened,
    Override,
    Part,
    Plan,
    Proof,
    Stage,
    Step,
    Touch,
    apply,
    claim_states,
    fold,
    initial,
    may_close,
    next_steps,
    put_back,
    repeat,
    stage_states,
)
from path_world import PLAN, Diary

PARTS = ("p0", "p1", "p2")
CHECKS = ("c0",)
STEPS = ("s0", "s1")
CLAIMS = ("k0", "k1", "k2", "k3")
CATCHES = ("lines:idle",)
ACTIONS = (*slow.ON, *slow.OFF, "adjusted", "moved")


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    cylinders = draw(st.integers(1, 3))
    whole = [Part(name, name, per_cylinder=draw(st.booleans())) for name in PARTS]
    each = {part.id: part.per_cylinder for part in whole}

    def references(same: bool, most: int = 2) -> tuple[str, ...]:
        names = draw(st.lists(st.sampled_from(PARTS), max_size=most, unique=True))
        return tuple(name + "[k]" * (same and each[name] and draw(st.booleans())) for name in names)

    parts = tuple(
        replace(part, opens=references(part.per_cylinder), unharmed=draw(st.booleans())) for part in whole
    )

    def simple() -> Proof:
        kind = draw(st.sampled_from(("check", "step", "catch")))
        names = {"check": CHECKS, "step": STEPS, "catch": CATCHES}[kind]
        conditions = draw(st.sampled_from(({}, {"valve": "shut"}))) if kind == "check" else {}
        return Proof(**{kind: draw(st.sampled_from(names))}, conditions=conditions)

    def proof() -> Proof:
        return Proof(any=(simple(), simple())) if draw(st.booleans()) else simple()

    def claim(name: str) -> Claim:
        per_cylinder = draw(st.booleans())
        held = references(per_cylinder, most=1) if draw(st.booleans()) else ()
        return Claim(
            name,
            draw(st.sampled_from(("g0", "g1"))),
            name,
            per_cylinder=per_cylinder,
            rests_on=references(per_cylinder),
            held_by=held[0] if held else None,
            ages_on=draw(st.sampled_from(((), ("backfire",)))),
            proof=tuple(proof() for _ in range(draw(st.integers(0 if held else 1, 2)))),
        )

    claims = tuple(claim(name) for name in CLAIMS)
    some = st.lists(st.sampled_from(CLAIMS), max_size=2, unique=True)
    steps = tuple(
        Step(
            name,
            draw(st.sampled_from(("g0", "g1"))),
            name,
            proves=tuple(draw(some)),
            needs=tuple(draw(some)),
            touches=references(True),
            puts_on=references(True, most=1),
            takes_off=references(True, most=1),
            checks=tuple(draw(st.lists(st.sampled_from((*CHECKS, "catch")), max_size=2, unique=True))),
            cautions=draw(st.sampled_from(((), ("fire",)))),
            minutes=draw(st.integers(0, 9)),
        )
        for name in STEPS
    )
    stages = tuple(
        Stage(
            name,
            name,
            needs=tuple(draw(some)),
            put_back_empty_except=draw(st.sampled_from((None, (), ("p0",)))),
        )
        for name in ("g0", "g1")
    )
    return Plan(stages, claims, steps, parts, cylinders)


@st.composite
def entries(draw: st.DrawFn, plan: Plan) -> list[tuple[Event, ...]]:
    """Entries in order; each one event, or two of the same rank."""
    cylinder = st.one_of(st.none(), st.integers(1, plan.cylinders))
    number = draw(st.integers(3, 16))

    def event(rank: int) -> Event:
        at: dict[str, Any] = {"rank": rank, "at": f"t{rank}", "entry": f"e{rank}"}
        kind = draw(st.sampled_from("EEETTDDDHO"))
        if kind == "E":
            source = draw(
                st.sampled_from([("check", name) for name in CHECKS] + [("catch", name) for name in CATCHES])
            )
            return Evidence(
                **at,
                source=source,
                supports=draw(st.integers(0, 3)) > 0,
                oldest=draw(st.integers(max(0, rank - 3), rank)),
                cylinder=draw(cylinder),
                conditions=draw(st.sampled_from(({}, {"valve": "shut"}, {"valve": "open"}))),
            )
        if kind == "T":
            part = draw(st.sampled_from(plan.parts))
            which = draw(cylinder) if part.per_cylinder else None
            return Touch(**at, part=part.id, action=draw(st.sampled_from(ACTIONS)), cylinder=which)
        if kind == "D":
            done = draw(st.integers(0, 2)) > 0
            return Done(**at, step=draw(st.sampled_from(STEPS)), done=done, cylinder=draw(cylinder))
        if kind == "H":
            return Happened(**at, what="backfire")
        return Override(**at, target=draw(st.sampled_from((*CLAIMS, *PARTS, "k0[1]"))), who="AB", reason="so")

    return [
        (event(rank), event(rank)) if draw(st.integers(0, 3)) == 0 else (event(rank),)
        for rank in range(number)
    ]


@st.composite
def jobs(draw: st.DrawFn) -> tuple[Plan, list[tuple[Event, ...]]]:
    plan = draw(plans())
    return plan, draw(entries(plan))


@settings(max_examples=300, deadline=None)
@given(jobs())
def test_the_fold_agrees_with_the_rules_asked_of_the_whole_list(job):
    plan, listed = job
    events = [event for entry in listed for event in entry]
    state = fold(plan, events)
    for (name, cylinder), claim in claim_states(state).items():
        assert claim.state == slow.claim_word(plan, events, plan.claim[name], cylinder), (name, cylinder)
    on_list = {(item.part, item.cylinder): item.since for item in put_back(state)}
    for part in plan.parts:
        for item in slow.meant(plan, part.id, None):
            rank = slow.since(plan, events, item)
            assert on_list.get(item) == (None if rank is None else f"t{rank}")
    for number, stage in enumerate(stage_states(state)):
        if stage.claims:
            assert stage.state == slow.stage_word(plan, events, number)


@settings(max_examples=80, deadline=None)
@given(jobs(), st.randoms(use_true_random=False))
def test_entries_sent_late_and_twice_change_nothing_once_they_are_sorted(job, chance):
    plan, listed = job
    arrived = [*listed, *(entry for entry in listed if chance.random() < 0.3)]
    chance.shuffle(arrived)
    kept = {entry[0].entry: entry for entry in arrived}  # the same id counts once, as the journal has it
    in_order = sorted(kept.values(), key=lambda entry: entry[0].rank)
    assert fold(plan, [event for entry in in_order for event in entry]) == fold(
        plan, [event for entry in listed for event in entry]
    )


@settings(max_examples=80, deadline=None)
@given(jobs())
def test_the_same_event_again_at_its_own_place_changes_no_answer(job):
    plan, listed = job
    once = fold(plan, [event for entry in listed for event in entry])
    twice = fold(plan, [event for entry in listed for event in (*entry, *entry)])
    if all(len(entry) == 1 for entry in listed):
        assert claim_states(twice) == claim_states(once)
        assert put_back(twice) == put_back(once)


@settings(max_examples=80, deadline=None)
@given(jobs())
def test_every_question_can_be_asked_of_every_job(job):
    plan, listed = job
    state = fold(plan, [event for entry in listed for event in entry])
    claims = claim_states(state)
    again = repeat(state)
    renewed = {key for step in again.steps for key in step.claims} | set(again.unreachable)
    assert renewed == {key for key, claim in claims.items() if claim.state == "stale"}
    assert all(step.why for step in next_steps(state))
    assert len({step.step for step in next_steps(state)}) == len(next_steps(state))
    stale = any(claim.state == "stale" for claim in claims.values())
    assert bool(may_close(state)) or not stale
    assert all(claim.why for claim in claims.values())
    assert all(stage.why for stage in stage_states(state))


def test_a_state_is_never_changed_only_followed():
    before = initial(PLAN)
    after = apply(before, Touch(rank=0, at="10:00", entry="a", part="coil_feed", action="removed"))
    assert before == initial(PLAN)
    assert list(after.on_list) == [("coil_feed", None)]
    with pytest.raises(TypeError):
        after.on_list["charger", None] = after.on_list["coil_feed", None]


def test_an_event_out_of_order_is_a_mistake_of_the_caller():
    state = Diary().step("cut_spark").step("spark_back").state
    with pytest.raises(ValueError, match="sort by rank"):
        apply(state, CautionRead(rank=0, at="09:00", entry="late", id="fire"))


def test_an_entry_that_lands_earlier_than_it_came_is_folded_at_its_own_time():
    diary = Diary().read("injector_drip", cylinder=4).step("wipe").did("replaced", "injector", 4)
    late = [replace(event, rank=2 * event.rank) for event in diary.events]
    reading = replace(late[0], rank=5, oldest=5)
    proved = fold(PLAN, sorted([*late, reading], key=lambda event: event.rank))
    assert claim_states(proved)["seals", 4].state == "proved"
    too_early = replace(reading, rank=3, oldest=3)
    stale = fold(PLAN, sorted([*late, too_early], key=lambda event: event.rank))
    assert claim_states(stale)["seals", 4].state == "stale"
