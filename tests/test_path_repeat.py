"""The shortest set of steps to repeat, against trying every set."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpour.path import Claim, Plan, Proof, Stage, Step, repeat
from evenpour.path.cover import cheapest_cover
from path_world import PARTS, Diary

STAGE = (Stage("bench", "On the bench"),)


def every_set_tried(costs: list[int], sets: list[frozenset[int]], wanted: frozenset[int]) -> tuple[int, ...]:
    """The same by brute force: least cost, then the set whose highest number is lowest, and so on."""
    covers = (
        chosen
        for size in range(len(sets) + 1)
        for chosen in combinations(range(len(sets)), size)
        if wanted <= frozenset().union(*(sets[number] for number in chosen))
    )
    return min(covers, key=lambda chosen: (sum(costs[number] for number in chosen), chosen[::-1]))


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 6), st.frozensets(st.integers(0, 7), max_size=5)), min_size=1, max_size=9
    ),
    st.frozensets(st.integers(0, 7)),
)
def test_the_cheapest_cover_is_the_one_found_by_trying_every_set(offers, asked):
    costs = [cost for cost, _ in offers]
    sets = [members for _, members in offers]
    wanted = asked & frozenset().union(*sets)
    assert cheapest_cover(costs, sets, wanted) == every_set_tried(costs, sets, wanted)


def test_what_no_set_holds_cannot_be_covered():
    with pytest.raises(ValueError, match="in no set"):
        cheapest_cover([1], [frozenset({1})], frozenset({2}))


def test_a_plan_of_two_hundred_steps_is_no_trouble():
    # As plans are: every claim has a step of its own, and some longer steps prove neighbouring claims.
    alone = [frozenset({number}) for number in range(120)]
    together = [frozenset(range(number, min(number + 2 + number % 4, 120))) for number in range(0, 118, 2)]
    crossing = [frozenset({number, (number * 7) % 120}) for number in range(0, 120, 5)]
    sets = alone + together + crossing
    costs = [3 + (number * 13) % 17 + 2 * len(members) for number, members in enumerate(sets)]
    chosen = cheapest_cover(costs, sets, frozenset(range(120)))
    assert frozenset().union(*(sets[number] for number in chosen)) == frozenset(range(120))


def test_one_longer_step_beats_two_shorter_ones_that_take_longer_together():
    claims = tuple(
        Claim(name, "bench", name, rests_on=("fuel_distributor",), proof=(Proof(check=name),))
        for name in ("a", "b")
    )
    steps = (
        Step("only_a", "bench", "A", proves=("a",), checks=("a",), minutes=6),
        Step("only_b", "bench", "B", proves=("b",), checks=("b",), minutes=6),
        Step("both", "bench", "Both", proves=("a", "b"), checks=("a", "b"), minutes=10),
    )
    diary = (
        Diary(Plan(STAGE, claims, steps, PARTS, 6)).read("a").read("b").did("replaced", "fuel_distributor")
    )
    found = repeat(diary.state)
    assert ([step.step for step in found.steps], found.minutes) == (["both"], 10)
    assert found.steps[0].claims == (("a", None), ("b", None))
    assert "“a” is to be proved again: fuel distributor was replaced at 10:02" in found.steps[0].why
    only = Diary(diary.plan).read("a").did("replaced", "fuel_distributor").read("b")
    assert [step.step for step in repeat(only.state).steps] == ["only_a"]


def test_one_cylinder_costs_its_share_and_many_cost_the_whole():
    diary = Diary().read("injector_drip").did("replaced", "injector", 4)
    (step,) = repeat(diary.state).steps
    assert (step.step, step.cylinders, step.minutes) == ("drip_test", (4,), 4)
    for cylinder in (1, 2, 3, 5, 6):
        diary.did("replaced", "injector", cylinder)
    (step,) = repeat(diary.state).steps
    assert (step.step, step.cylinders, step.minutes) == ("drip_test", (), 20)


def test_only_the_part_of_a_proof_that_is_old_is_repeated():
    claim = Claim(
        "right", "bench", "right", rests_on=("fuel_distributor",), proof=(Proof(check="a"), Proof(step="b"))
    )
    steps = (
        Step("read_a", "bench", "A", proves=("right",), checks=("a",), minutes=5),
        Step("b", "bench", "B", proves=("right",), minutes=5),
    )
    diary = (
        Diary(Plan(STAGE, (claim,), steps, PARTS, 6)).read("a").did("cleaned", "fuel_distributor").step("b")
    )
    assert [step.step for step in repeat(diary.state).steps] == ["read_a"]
    diary.did("cleaned", "fuel_distributor")
    assert [step.step for step in repeat(diary.state).steps] == ["read_a", "b"]


def test_of_two_ways_to_prove_it_the_quicker_is_offered():
    diary = Diary().step("wipe").did("disconnected", "injector_union", 2)
    assert [(step.step, step.cylinders) for step in repeat(diary.state).steps] == [("wipe", (2,))]
    claim = Claim(
        "x",
        "bench",
        "x",
        rests_on=("fuel_distributor",),
        proof=(Proof(any=(Proof(check="a"), Proof(check="b"))),),
    )
    steps = (
        Step("slow", "bench", "Slow", proves=("x",), checks=("a",), minutes=9),
        Step("quick", "bench", "Quick", proves=("x",), checks=("b",), minutes=2),
    )
    diary = Diary(Plan(STAGE, (claim,), steps, PARTS, 6)).read("a").did("removed", "fuel_distributor")
    assert [step.step for step in repeat(diary.state).steps] == ["quick"]


def test_a_catch_is_repeated_at_its_own_opening_where_steps_tell_them_apart():
    claims = tuple(
        Claim(
            opening,
            "bench",
            opening,
            rests_on=("fuel_distributor",),
            proof=(Proof(catch=f"lines:{opening}"),),
        )
        for opening in ("idle", "full")
    )
    steps = tuple(
        Step(
            f"catch_{opening}",
            "bench",
            opening,
            proves=("idle", "full"),
            checks=(f"lines:{opening}",),
            minutes=4,
        )
        for opening in ("idle", "full")
    )
    diary = Diary(Plan(STAGE, claims, steps, PARTS, 6)).catch("lines:idle").did("removed", "fuel_distributor")
    diary.catch("lines:full")
    assert [step.step for step in repeat(diary.state).steps] == ["catch_idle"]


def test_a_stale_claim_that_no_step_proves_is_named():
    claim = Claim("x", "bench", "x", rests_on=("fuel_distributor",), proof=(Proof(check="a"),))
    diary = Diary(Plan(STAGE, (claim,), (), PARTS, 6)).read("a").did("removed", "fuel_distributor")
    assert repeat(diary.state).unreachable == (("x", None),)


def test_an_overridden_claim_is_not_repeated():
    diary = Diary().read("system_pressure").did("removed", "fuel_distributor").override("system_right")
    assert repeat(diary.state).steps == ()
