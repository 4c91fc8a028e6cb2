"""A plan says all that is wrong with it at once."""

from __future__ import annotations

import pytest

from evenpour.errors import FieldProblem, Problems
from evenpour.path import Claim, Part, Plan, Proof, Stage, Step
from evenpour.path.words import cylinder_list, items_were, part_name, told_by_cylinder
from path_world import CLAIMS, PARTS, PLAN, STAGES, STEPS


def complaints(**changes: object) -> str:
    pieces = {"stages": STAGES, "claims": CLAIMS, "steps": STEPS, "parts": PARTS, "cylinders": 6} | changes
    with pytest.raises(Problems) as caught:
        Plan(**pieces)
    return str(caught.value)


def test_a_misspelt_name_is_answered_with_the_nearest():
    step = Step("x", "benhc", "X", proves=("sealz",), needs=("evne",), touches=("injectr[k]",))
    said = complaints(steps=(*STEPS, step))
    assert "Did you mean bench?" in said
    assert "Did you mean seals?" in said
    assert "Did you mean even?" in said
    assert "Did you mean injector or injector_seal" in said
    assert "no part" in complaints(stages=(*STAGES, Stage("last", "Last", put_back_empty_except=("keys",))))
    assert "no claim" in complaints(stages=(*STAGES, Stage("last", "Last", needs=("keys",))))


def test_a_cylinder_is_asked_for_only_where_there_is_one():
    assert "leave out [k]" in complaints(parts=(*PARTS, Part("x", "x", opens=("coil_feed[k]",))))
    claim = Claim("x", "bench", "x", rests_on=("injector[k]",), proof=(Proof(check="x"),))
    assert "There is none here" in complaints(claims=(*CLAIMS, claim))
    assert "injector" in complaints(parts=(*PARTS, Part("x", "x", opens=("coil feed",))))


@pytest.mark.parametrize(
    "proof",
    [
        Proof(),
        Proof(check="a", step="wipe"),
        Proof(check="a", any=(Proof(check="b"),)),
        Proof(any=(Proof(any=(Proof(check="b"),)),)),
        Proof(any=(Proof(check="b"),), conditions={"valve": "shut"}),
    ],
)
def test_a_proof_is_one_thing(proof):
    claim = Claim("x", "bench", "x", proof=(proof,))
    said = complaints(claims=(*CLAIMS, claim))
    assert "Give exactly one of check, reading, step, catch, happened or any" in said


def test_a_claim_has_a_proof_or_an_item_that_holds_it():
    assert "has no proof" in complaints(claims=(*CLAIMS, Claim("x", "bench", "x")))
    unproved = Claim("x", "bench", "x", proof=(Proof(step="whipe"),))
    assert "Did you mean wipe?" in complaints(claims=(*CLAIMS, unproved))


def test_an_id_stands_once_and_the_engine_has_cylinders():
    assert "'even' stands twice" in complaints(claims=(*CLAIMS, CLAIMS[4]))
    assert "are too few" in complaints(cylinders=0)
    assert "are no time" in complaints(steps=(*STEPS, Step("x", "bench", "X", minutes=-1.0)))
    assert "are no time" in complaints(steps=(*STEPS, Step("x", "bench", "X", minutes=float("nan"))))


def test_steps_stand_stage_by_stage_and_else_as_given():
    late = Step("early_bird", "safe", "Early")
    plan = Plan(STAGES, CLAIMS, (*STEPS, late), PARTS, 6)
    assert list(plan.step)[:3] == ["cut_spark", "early_bird", "drip_test"]


def test_a_step_goes_cylinder_by_cylinder_if_its_work_does():
    per_cylinder = {name for name, step in PLAN.step.items() if PLAN.is_per_cylinder(step)}
    assert per_cylinder == {"drip_test", "wipe"}
    assert not PLAN.is_per_cylinder(Step("x", "bench", "X", proves=("seals",), per_cylinder=False))


def test_names_read_as_in_a_sentence():
    assert cylinder_list([3, 1, 2]) == "1 to 3"
    assert cylinder_list([5]) == "5"
    assert cylinder_list([1, 3, 4, 6]) == "1, 3, 4 and 6"
    assert part_name(Part("a", "Switch", per_cylinder=True), (1, 2)) == "switches 1 and 2"
    assert part_name(Part("a", "CO probe")) == "CO probe"
    assert part_name(Part("a", "foot", plural="feet"), (1, 3)) == "feet 1 and 3"


def test_a_proof_with_alternatives_has_no_source_of_its_own():
    with pytest.raises(ValueError, match="no source of its own"):
        _ = Proof(any=(Proof(check="a"),)).source
    with pytest.raises(FieldProblem, match="is no part"):
        PLAN.items("two words", None)


@pytest.mark.parametrize(
    ("title", "verb"),
    [
        ("Feed hoses", "were"),
        ("plugs in the bores", "were"),
        ("pressure in the lines", "was"),
        ("piston glass", "was"),
    ],
)
def test_the_verb_goes_with_the_name(title, verb):
    plan = Plan((), (), (), (Part("x", title),), 1)
    assert items_were(plan, [("x", None)]).endswith(f" {verb}")


def test_what_stands_once_before_several_times_ends_in_no_comma() -> None:
    said = {
        f"done at 4 May 2026, {time} by Ines": {cylinder} for time, cylinder in (("10:02", 1), ("10:46", 2))
    }
    assert told_by_cylinder(said) == (
        "done at 4 May 2026: 10:02 by Ines (cylinder 1); 10:46 by Ines (cylinder 2)"
    )
