"""When a claim is proved, stale, open, over or overridden."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from evenpour.path import Aged, Claim, Part, Plan, Proof, Stage, Step, claim_state, claim_states
from evenpour.path.pieces import Span
from path_world import PLAN, Diary


def word(diary: Diary, claim: str, cylinder: int | None = None) -> str:
    return claim_state(diary.state, claim, cylinder).state


def test_a_claim_is_open_until_something_proves_it():
    assert word(Diary(), "system_right") == "open"
    assert "wants system pressure (valve shut)" in claim_state(Diary().state, "system_right").why
    assert word(Diary().read("system_pressure"), "system_right") == "proved"


def test_the_newest_reading_decides_even_against_an_older_good_one():
    diary = Diary().read("system_pressure").read("system_pressure", False, words="4.2 bar, outside")
    assert word(diary, "system_right") == "open"
    assert "4.2 bar, outside" in claim_state(diary.state, "system_right").why
    assert word(diary.read("system_pressure"), "system_right") == "proved"


def test_a_reading_under_other_conditions_says_nothing_but_one_that_states_none_does():
    assert word(Diary().read("system_pressure", conditions={"valve": "open"}), "system_right") == "open"
    assert word(Diary().read("system_pressure", conditions={"valve": "shut"}), "system_right") == "proved"
    later = Diary().read("system_pressure").read("system_pressure", False, conditions={"valve": "open"})
    assert word(later, "system_right") == "proved"


def test_numbers_in_conditions_match_whatever_unit_they_were_typed_in():
    proof = Proof(check="holding_pressure", conditions={"after": 600.0})
    assert proof.matches({"after": 10.0 * 60.000000000001})
    assert not proof.matches({"after": 1200.0})
    assert not proof.matches({"after": "later"})


def test_replacing_one_injector_ages_its_own_seal_and_no_other():
    diary = Diary()
    for cylinder in range(1, 7):
        diary.read("injector_drip", cylinder=cylinder)
    diary.did("replaced", "injector", 4)
    words = [word(diary, "seals", cylinder) for cylinder in range(1, 7)]
    assert words == ["proved", "proved", "proved", "stale", "proved", "proved"]
    stale = claim_state(diary.state, "seals", 4)
    assert stale.why == "injector 4 was replaced at 10:06, after its proof of 10:03"
    assert (stale.since, stale.touched_by) == ("10:06", ("e6",))


def test_a_touch_without_a_cylinder_touches_all_of_them():
    diary = Diary().read("injector_drip").did("cleaned", "injector")
    assert {word(diary, "seals", cylinder) for cylinder in range(1, 7)} == {"stale"}


def test_a_claim_on_all_injectors_ages_with_any_of_them():
    diary = Diary().catch("injectors:idle").catch("injectors:full").did("cleaned", "injector", 2)
    assert word(diary, "even") == "stale"


def test_all_that_a_proof_requires_must_be_there():
    diary = Diary().catch("injectors:idle")
    assert word(diary, "even") == "open"
    assert "catch injectors, full" in claim_state(diary.state, "even").why
    assert word(diary.catch("injectors:full", False), "even") == "open"


def test_a_proof_is_as_old_as_its_oldest_reading():
    diary = Diary().did("cleaned", "charger").did("cleaned", "injector", 1)
    diary.catch("injectors:idle", oldest=0).catch("injectors:full")
    assert word(diary, "even") == "stale"
    assert [stale.requirement for stale in claim_state(diary.state, "even").stale] == [0] * 6
    assert word(diary.catch("injectors:idle"), "even") == "proved"


def test_an_entry_that_touches_and_proves_does_not_age_its_own_proof():
    claims = (Claim("wiped", "safe", "wiped", rests_on=("injector",), proof=(Proof(step="wipe"),)),)
    steps = (Step("wipe", "safe", "Wipe", proves=("wiped",), touches=("injector",)),)
    diary = Diary(Plan((Stage("safe", "Safe"),), claims, steps, PLAN.parts, 6)).step("wipe")
    assert word(diary, "wiped") == "proved"
    assert word(diary.did("cleaned", "injector"), "wiped") == "stale"


def test_a_reading_outside_is_open_and_not_stale_when_the_part_is_touched_after_it():
    diary = Diary().read("system_pressure", False).did("adjusted", "fuel_distributor")
    assert word(diary, "system_right") == "open"


def test_what_happened_ages_only_the_claims_that_name_it():
    diary = Diary().read("system_pressure").read("exhaust_co").happened("ran_dry")
    assert word(diary, "system_right") == "stale"
    assert "ran dry at 10:02" in claim_state(diary.state, "system_right").why
    assert word(diary, "idle_right") == "proved"


def test_a_screw_move_ages_the_idle_mixture_and_no_evenness():
    diary = Diary().read("exhaust_co").catch("injectors:idle").catch("injectors:full")
    diary.did("moved", "mixture_screw")
    assert (word(diary, "idle_right"), word(diary, "even")) == ("stale", "proved")


def test_replacing_opens_what_the_part_opens_but_adjusting_does_not_and_nothing_goes_further():
    wiped = Diary().step("wipe")
    assert word(wiped.did("adjusted", "injector", 4), "unions_dry", 4) == "proved"
    wiped.did("removed", "injector", 4)
    assert word(wiped, "unions_dry", 4) == "stale"
    assert word(wiped, "unions_dry", 5) == "proved"
    assert "injector union 4 was disturbed when injector 4 was removed" in (
        claim_state(wiped.state, "unions_dry", 4).why
    )
    through = Diary().read("injector_drip").did("replaced", "injector_union", 4)
    assert word(through, "seals", 4) == "proved"


def test_a_part_of_which_there_is_one_opens_all_cylinders():
    diary = Diary().step("wipe").did("replaced", "fuel_distributor")
    assert {word(diary, "unions_dry", cylinder) for cylinder in range(1, 7)} == {"stale"}


def test_one_of_several_proofs_will_do_and_the_newest_of_them_counts():
    diary = Diary().read("union_look", cylinder=2)
    assert (word(diary, "unions_dry", 2), word(diary, "unions_dry", 3)) == ("proved", "open")
    diary.step("wipe").read("union_look", False, cylinder=2)
    assert (word(diary, "unions_dry", 2), word(diary, "unions_dry", 3)) == ("open", "proved")


def test_a_claim_on_the_whole_engine_wants_every_cylinder_and_is_as_old_as_the_oldest():
    diary = Diary()
    for cylinder in range(1, 6):
        diary.read("exhaust_co", cylinder=cylinder)
    assert "for cylinder 6" in claim_state(diary.state, "idle_right").why
    diary.did("moved", "mixture_screw").read("exhaust_co", cylinder=6)
    assert word(diary, "idle_right") == "stale"
    assert word(diary.read("exhaust_co"), "idle_right") == "proved"
    assert word(diary.read("exhaust_co", False, cylinder=3), "idle_right") == "open"


def test_a_step_passed_over_later_no_longer_proves():
    diary = Diary().step("wipe").step("wipe", done=False, cylinder=3, reason="no access")
    assert (word(diary, "unions_dry", 3), word(diary, "unions_dry", 4)) == ("open", "proved")


def test_a_temporary_claim_holds_while_its_item_is_on_the_list_and_is_over_after():
    diary = Diary().step("cut_spark")
    assert word(diary, "no_spark") == "proved"
    diary.did("reconnected", "coil_feed")
    assert word(diary, "no_spark") == "over"
    assert "coil feed was reconnected at 10:01" in claim_state(diary.state, "no_spark").why


def test_a_temporary_claim_is_not_revived_by_putting_the_item_on_again():
    diary = Diary().step("cut_spark").did("reconnected", "coil_feed").did("disconnected", "coil_feed")
    assert word(diary, "no_spark") == "stale"
    assert word(diary.step("cut_spark"), "no_spark") == "proved"


def test_a_temporary_claim_whose_item_was_never_on_is_open():
    assert "not yet entered as taken off: coil feed" in claim_state(Diary().state, "no_spark").why


def test_a_temporary_claim_without_a_proof_holds_as_long_as_the_item_is_on():
    diary = Diary().did("fitted", "mixture_key")
    assert word(diary, "key_in") == "proved"
    assert word(diary.did("taken_out", "mixture_key"), "key_in") == "over"


def test_an_override_stands_until_newer_evidence():
    diary = Diary().override("system_right")
    state = claim_state(diary.state, "system_right")
    assert (state.state, state.beneath) == ("overridden", "open")
    assert "overridden by AB at 10:00 (seen by eye), until there is newer evidence" in state.why
    assert word(diary.read("system_pressure", False), "system_right") == "open"


def test_an_override_lapses_when_what_the_claim_rests_on_is_touched():
    diary = Diary().override("system_right").did("adjusted", "fuel_distributor")
    assert word(diary, "system_right") == "open"
    assert word(diary.override("system_right"), "system_right") == "overridden"


def test_an_override_on_one_cylinder_leaves_the_others():
    diary = Diary().override("seals[2]")
    assert (word(diary, "seals", 2), word(diary, "seals", 3)) == ("overridden", "open")


def test_an_override_on_a_proved_claim_does_not_answer_for_what_is_disturbed_later():
    diary = Diary().read("system_pressure").override("system_right")
    assert word(diary, "system_right") == "proved"
    assert word(diary.did("removed", "fuel_distributor"), "system_right") == "stale"


def test_a_span_speaks_only_of_evidence_that_states_a_number_in_it():
    cold = Proof(check="switch", conditions={"temperature": Span(high=303.15)})
    assert cold.matches({"temperature": 290.0})
    assert not cold.matches({"temperature": 320.0})
    assert not cold.matches({})


def test_a_condition_that_must_be_stated_is_not_taken_as_met_in_silence():
    in_the_car = Proof(check="drip", conditions={"where": "car"}, stated=frozenset({"where"}))
    assert in_the_car.matches({"where": "car"})
    assert not in_the_car.matches({})


def test_time_ages_a_proof_that_has_a_reading_before_the_line():
    diary = Diary().read("system_pressure")
    old = Aged(rank=1, at="11:00", entry="", claim="system_right", before=1, words="more than a year old")
    diary.events.append(old)
    assert word(diary, "system_right") == "stale"
    assert claim_state(diary.state, "system_right").why.startswith("more than a year old")
    young = Diary().read("system_pressure")
    young.events.append(Aged(rank=1, at="", entry="", claim="system_right", before=0, words="old"))
    assert word(young, "system_right") == "proved"


def test_a_reading_that_only_has_to_be_taken_proves_whatever_it_says():
    claims = (Claim("known", "safe", "the onset is known", proof=(Proof(reading="onset"),)),)
    plan = Plan((Stage("safe", "Safe"),), claims, (), PLAN.parts, 6)
    assert word(Diary(plan).read("onset", False), "known") == "proved"


def test_every_claim_is_answered_for_once_a_cylinder():
    assert len(claim_states(Diary().state)) == 5 + 2 * 6


@pytest.mark.parametrize("cylinder", [0, 7])
def test_a_cylinder_the_engine_does_not_have_is_questioned_and_ages_nothing(cylinder):
    diary = Diary().read("injector_drip").did("replaced", "injector", cylinder)
    diary.read("injector_drip", cylinder=cylinder).step("wipe", cylinder=cylinder)
    assert {word(diary, "seals", each) for each in range(1, 7)} == {"proved"}
    assert [question.entry for question in diary.state.questions] == ["e1", "e2", "e3"]


def test_a_claim_that_rests_on_a_state_of_the_car_is_over_when_that_ends_and_not_stale():
    parts = (*PLAN.parts, Part("fuel_pressure", "pressure in the lines", kind="state"))
    claim = Claim("no_pressure", "s", "no pressure", rests_on=("fuel_pressure",), proof=(Proof(step="rag"),))
    steps = (
        Step("rag", "s", "Open it under a rag", proves=("no_pressure",)),
        Step("pump", "s", "Run the pump", touches=("fuel_pressure",)),
    )
    diary = Diary(Plan((Stage("s", "S"),), (claim,), steps, parts, 6)).step("rag")
    assert word(diary, "no_pressure") == "proved"
    state = claim_state(diary.step("pump").state, "no_pressure")
    assert state.state == "over"
    assert state.why == "over: pressure in the lines was changed by step “Run the pump” at 10:01"
    assert word(diary.step("rag").did("ended", "fuel_pressure"), "no_pressure") == "over"
    assert word(diary.step("rag"), "no_pressure") == "proved"


def test_taking_an_unharmed_part_off_and_on_touches_only_what_it_opens():
    injector = replace(PLAN.parts[0], unharmed=True)
    plan = Plan(PLAN.stages, PLAN.claims, PLAN.steps, (injector, *PLAN.parts[1:]), 6)
    diary = Diary(plan).read("injector_drip").step("wipe").did("removed", "injector", 2)
    diary.did("refitted", "injector", 2)
    assert (word(diary, "seals", 2), word(diary, "unions_dry", 2)) == ("proved", "stale")
    assert word(diary.did("replaced", "injector", 2), "seals", 2) == "stale"


def test_what_befell_all_cylinders_at_once_is_said_once():
    diary = Diary().read("injector_drip").step("wipe").did("replaced", "injector")
    assert {claim_state(diary.state, "seals", cylinder).why for cylinder in range(1, 7)} == {
        "injectors 1 to 6 were replaced at 10:02, after its proof of 10:00"
    }
    why = claim_state(diary.state, "unions_dry", 3).why
    assert why.startswith(
        "injector unions 1 to 6 were disturbed when injectors 1 to 6 were replaced at 10:02"
    )


def test_a_touch_between_the_readings_of_one_proof_is_said_to_come_after_the_first():
    diary = Diary().did("cleaned", "charger").did("moved", "mixture_screw").read("exhaust_co", oldest=0)
    assert claim_state(diary.state, "idle_right").why == (
        "mixture screw was moved at 10:01, after the first reading of its proof of 10:02"
    )


def test_a_step_done_whose_reading_was_never_entered_counts_on_the_word_alone_and_says_so() -> None:
    wiping = tuple(
        replace(step, checks=("union_look",)) if step.id == "wipe" else step for step in PLAN.steps
    )
    diary = Diary(replace(PLAN, steps=wiping)).step("wipe", who="AB")
    claim = claim_state(diary.state, "unions_dry", 3)
    assert (claim.state, claim.why) == ("proved", "done at 10:00 by AB, on your word, without its reading")
    diary.read("union_look", cylinder=3)
    assert "on your word" not in claim_state(diary.state, "unions_dry", 3).why
    only_done = Diary().step("wipe", who="AB")  # here the step reads nothing
    assert claim_state(only_done.state, "unions_dry", 3).why == "done at 10:00 by AB"


def test_what_cannot_be_told_does_not_settle_a_claim_and_what_is_outside_speaks_against_it():
    told = {
        p: claim_state(Diary().read("system_pressure", False, p=p).state, "system_right").why
        for p in (0.01, 0.5, 0.995)  # the last: an amount of it was not to be trusted
    }
    assert "the newest reading speaks against it" in told[0.01]
    assert "the newest reading does not settle it" in told[0.5]
    assert "the newest reading does not settle it" in told[0.995]
    nothing_said = Diary().read("system_pressure", False, compared=False)  # its limit wants a temperature
    assert "does not settle it" in claim_state(nothing_said.state, "system_right").why


def test_what_was_outside_before_a_part_was_changed_says_that_it_was_before():
    diary = Diary().read("system_pressure", False, p=0.01)
    assert "after that" not in claim_state(diary.state, "system_right").why
    diary.did("replaced", "fuel_distributor")
    assert re.search(
        r"after that fuel distributor was replaced at \S+: read it again$",
        claim_state(diary.state, "system_right").why,
    )
    diary.read("system_pressure", False, p=0.01)
    assert "after that" not in claim_state(diary.state, "system_right").why


def test_that_a_step_was_done_does_not_outweigh_its_own_reading_outside():
    diary = Diary().read("union_look", False, cylinder=4).step("wipe")
    assert claim_state(diary.state, "unions_dry", 4).state == "open"
    assert "speaks against it" in claim_state(diary.state, "unions_dry", 4).why
    assert claim_state(diary.state, "unions_dry", 3).state == "proved"
    mended = (
        Diary().read("union_look", False, cylinder=4).did("reconnected", "injector_union", 4).step("wipe")
    )
    assert claim_state(mended.state, "unions_dry", 4).state == "proved"
