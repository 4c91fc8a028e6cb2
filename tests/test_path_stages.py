"""Stage by stage, what to do next, and whether the job may be closed."""

from __future__ import annotations

from dataclasses import replace

from evenpour.path import CautionRead, Claim, Plan, Proof, Stage, StageState, Step, next_steps, stage_states
from evenpour.path import may_close as reasons_against_closing
from path_world import CLAIMS, PARTS, PLAN, STAGES, STEPS, Diary


def stage(diary: Diary, name: str) -> StageState:
    return next(one for one in stage_states(diary.state) if one.stage == name)


def ready_to_catch() -> Diary:
    return Diary().step("cut_spark").read("injector_drip").read("system_pressure")


def finished() -> Diary:
    diary = ready_to_catch().catch("injectors:idle").catch("injectors:full").step("wipe")
    diary.step("spark_back").read("exhaust_co")
    return diary.add(CautionRead, id="jet").add(CautionRead, id="fire")


def test_a_stage_is_blocked_until_the_claims_it_needs_stand():
    blocked = stage(Diary(), "catch")
    assert blocked.state == "blocked"
    why = "needs “no spark can come”, which is open: not yet entered as taken off: coil feed"
    assert why in blocked.why
    assert stage(ready_to_catch(), "catch").state == "open"


def test_the_reason_names_the_cylinders_that_hold_it_up():
    diary = ready_to_catch().did("replaced", "injector", 2).did("replaced", "injector", 3)
    assert (
        "“the injector seals” (cylinder 2), which is to be proved again: injector 2 was replaced"
        in stage(diary, "catch").why
    )


def test_a_temporary_claim_that_is_over_holds_no_stage_up_but_its_steps():
    diary = ready_to_catch().step("spark_back")
    catch = stage(diary, "catch")
    assert catch.state == "open"
    assert catch.steps[0].state == "blocked"
    assert "“no spark can come” is no longer so: coil feed was put back by step" in catch.steps[0].why


def test_stale_goes_before_blocked_and_both_are_said():
    diary = ready_to_catch().catch("injectors:idle").catch("injectors:full")
    assert stage(diary, "catch").state == "proved"
    diary.did("replaced", "injector", 4)
    catch = stage(diary, "catch")
    assert catch.state == "stale"
    assert len(catch.reasons) == 2


def test_a_gate_that_breaks_leaves_the_claims_behind_it_as_they_are():
    diary = ready_to_catch().catch("injectors:idle").catch("injectors:full")
    diary.read("system_pressure", False)
    catch = stage(diary, "catch")
    assert catch.state == "blocked"
    assert [claim.state for claim in catch.claims] == ["proved"]


def test_an_override_opens_the_gate_and_is_shown_where_the_claim_lives():
    diary = Diary().step("cut_spark").read("injector_drip").override("system_right")
    assert stage(diary, "bench").state == "overridden"
    assert stage(diary, "catch").state == "open"


def test_a_stage_with_an_empty_list_as_its_gate_names_what_is_left_on():
    diary = finished().did("fitted", "mixture_key").did("fitted", "charger")
    assert "still on the put-back list: mixture key (fitted, since 10:10)" in stage(diary, "fire").why
    assert "charger" not in stage(diary, "fire").why
    assert "charger" in stage(diary, "handover").why
    assert stage(diary.did("taken_out", "mixture_key"), "fire").state == "proved"
    assert stage(diary.override("charger"), "handover").state == "proved"


def test_a_stage_without_claims_is_behind_us_when_its_steps_are():
    plan = Plan((Stage("safe", "Safe"), *PLAN.stages[1:]), PLAN.claims, PLAN.steps, PLAN.parts, 6)
    assert stage(Diary(plan), "handover").state == "blocked"
    assert stage(finished(), "handover").state == "proved"


def test_an_optional_claim_without_evidence_holds_nothing_up():
    assert stage(Diary().step("cut_spark"), "safe").state == "proved"


def test_a_step_counts_as_done_when_what_its_readings_prove_stands():
    diary = Diary().read("injector_drip", cylinder=2)
    steps = {step.cylinder: step.state for step in stage(diary, "bench").steps if step.step == "drip_test"}
    assert steps == {1: "open", 2: "done", 3: "open", 4: "open", 5: "open", 6: "open"}
    (whole,) = (step for step in stage(ready_to_catch(), "bench").steps if step.step == "drip_test")
    assert (whole.cylinder, whole.state) == (None, "done")


def test_a_step_passed_over_says_why():
    diary = Diary().step("drip_test", done=False, reason="no hand pump")
    (step,) = (step for step in stage(diary, "bench").steps if step.step == "drip_test")
    assert (step.state, step.why) == ("passed_over", "passed over at 10:00: no hand pump")


def test_the_first_steps_come_first_with_the_caution_to_read():
    assert [step.step for step in next_steps(Diary().state)] == ["cut_spark"]
    drip, system = next_steps(Diary().step("cut_spark").state)
    assert (drip.step, drip.cautions, drip.minutes, drip.unmet) == ("drip_test", ("jet",), 20, ())
    assert system.step == "read_system"
    diary = Diary().step("cut_spark").add(CautionRead, id="jet")
    assert next_steps(diary.state)[0].cautions == ()


def test_only_the_cylinders_still_open_are_asked_for():
    diary = Diary().step("cut_spark").read("injector_drip").read("injector_drip", False, cylinder=5)
    step = next_steps(diary.state)[0]
    assert (step.step, step.cylinders, step.minutes) == ("drip_test", (5,), 4)


def test_stale_proofs_come_first_and_what_they_need_before_them():
    diary = finished().did("adjusted", "fuel_distributor")
    steps = next_steps(diary.state)
    assert [step.step for step in steps] == ["cut_spark", "read_system", "catch_all"]
    assert [step.repeat for step in steps] == [False, True, True]
    assert "“Read system pressure” needs it: “no spark can come”" in steps[0].why
    assert "no longer so" in steps[1].unmet[0]


def test_a_stage_held_up_by_the_list_offers_the_step_that_clears_it():
    diary = ready_to_catch().catch("injectors:idle").catch("injectors:full").step("wipe")
    assert [step.step for step in next_steps(diary.state)] == ["spark_back"]


def test_a_finished_job_has_nothing_left_to_do_but_the_steps_that_prove_nothing():
    diary = finished().step("start")
    assert next_steps(diary.state) == ()
    assert reasons_against_closing(diary.state) == ()


def test_a_job_stays_open_for_an_item_a_stale_claim_and_an_unread_caution():
    diary = Diary().step("wipe").did("disconnected", "coil_feed").did("replaced", "injector", 4)
    on_list, stale, unread = reasons_against_closing(diary.state)
    assert on_list == "still on the put-back list: coil feed (disconnected, since 10:01)"
    assert stale.startswith(
        "“the union is dry” (cylinder 4) is to be proved again: injector union 4 was disturbed"
    )
    assert unread == "caution “fire” was not read (step “Wipe every union”)"


def test_each_of_these_can_be_overridden_by_name():
    diary = Diary().step("wipe").did("disconnected", "coil_feed").did("replaced", "injector", 4)
    diary.override("coil_feed").override("unions_dry[4]").override("fire")
    assert reasons_against_closing(diary.state) == ()


def test_a_claim_never_proved_does_not_keep_the_job_open():
    assert reasons_against_closing(Diary().state) == ()


def test_a_caution_of_a_step_known_only_by_its_reading_must_be_read_too():
    (reason,) = reasons_against_closing(Diary().read("injector_drip", cylinder=1).state)
    assert "“jet”" in reason
    (step_passed,) = [reasons_against_closing(Diary().step("wipe", done=False, reason="later").state)]
    assert step_passed == ()


def test_a_step_that_mends_a_claim_is_offered_only_while_a_reading_speaks_against_it():
    shim = Step("shim", "bench", "Shim the regulator", mends=("system_right",), minutes=20)
    plan = Plan(STAGES, CLAIMS, (*STEPS, shim), PARTS, 6)

    def offered(diary: Diary) -> list[str]:
        return [step.step for step in next_steps(diary.state)]

    assert "shim" not in offered(Diary(plan).step("cut_spark"))
    assert "shim" in offered(Diary(plan).step("cut_spark").read("system_pressure", False))
    assert "shim" not in offered(Diary(plan).step("cut_spark").read("system_pressure"))
    no_claims = Plan(STAGES[:1], (), (replace(shim, stage="safe", mends=()),), PARTS, 6)
    assert stage(Diary(no_claims), "safe").why == "step “Shim the regulator” is not done"


def test_a_step_that_gave_its_share_of_a_claim_is_not_offered_again_for_what_another_must_give():
    look, turn = (Step(name, "safe", name, proves=("fit",), minutes=5) for name in ("look", "turn"))
    fit = Claim("fit", "safe", "it may turn", proof=(Proof(step="look"), Proof(step="turn")))
    diary = Diary(Plan(STAGES[:1], (fit,), (look, turn), PARTS, 6))
    assert [one.step for one in next_steps(diary.state)] == ["look", "turn"]
    assert [one.step for one in next_steps(diary.step("look").state)] == ["turn"]
    assert next_steps(diary.step("turn").state) == ()


def test_what_holds_a_claim_is_fitted_before_the_step_that_proves_it():
    bled = Claim("bled", "safe", "it is in and bled", held_by="charger", proof=(Proof(step="bleed"),))
    right = Claim("right", "bench", "it reads right", proof=(Proof(step="read"),))
    steps = (
        Step("bleed", "safe", "Bleed it", proves=("bled",), minutes=5),
        Step("fit", "bench", "Fit it", puts_on=("charger",), minutes=5),
        Step("read", "bench", "Read it", proves=("right",), needs=("bled",), minutes=5),
    )
    diary = Diary(Plan(STAGES[:2], (bled, right), steps, PARTS, 6)).step("bleed")
    assert next(one.step for one in next_steps(diary.state)) == "fit"
    assert next(one.step for one in next_steps(diary.step("fit").step("bleed").state)) == "read"


def test_what_a_step_must_find_off_or_back_is_named_before_it():
    hang = Step("hang", "bench", "Hang it", puts_on=("charger",), minutes=5)
    catch = Step("catch", "bench", "Catch", proves=("even",), finds_on=("charger",), minutes=5)
    fire = Step("fire", "bench", "Fire", proves=("fired",), finds_off=("charger",), minutes=5)
    down = Step("down", "bench", "Take it down", takes_off=("charger",), minutes=5)
    even, fired = (
        Claim(name, "bench", name, rests_on=("fuel_distributor",), proof=(Proof(step=step),))
        for name, step in (("even", "catch"), ("fired", "fire"))
    )
    diary = Diary(Plan(STAGES[:2], (even, fired), (hang, catch, down, fire), PARTS, 6))
    assert [one.step for one in next_steps(diary.state)] == ["hang", "catch", "down", "fire"]
    diary.step("hang").step("catch")
    assert [(one.step, one.unmet) for one in next_steps(diary.state)] == [
        ("down", ()),
        ("fire", ("still on the put-back list: charger",)),
    ]
    diary.step("down").step("fire").did("replaced", "fuel_distributor")
    assert [one.step for one in next_steps(diary.state)] == ["hang", "catch", "fire"]
    assert next_steps(diary.state)[1].unmet == ("not yet entered as fitted: charger",)


def test_a_step_passed_over_that_holds_up_the_rest_is_named_with_the_ways_on():
    diary = ready_to_catch().step("catch_all", done=False, reason="no jars")
    (one,) = next_steps(diary.state)
    assert one.step == "catch_all"
    assert "passed over at" in one.why
    assert (
        "(no jars), but “Put back” waits for it: do it, or let “the injectors pour evenly” stand" in one.why
    )


def test_a_step_passed_over_comes_back_only_when_all_that_is_left_waits_for_it():
    diary = finished().did("adjusted", "fuel_distributor").step("cut_spark", done=False, reason="it runs")
    first = next_steps(diary.state)[0]
    assert (first.step, first.brings) == ("cut_spark", True)
    assert "(it runs), but “Read system pressure” cannot be done without it: do it, or pass" in first.why
    diary.did("replaced", "injector", 2)
    steps = [one.step for one in next_steps(diary.state)]
    assert steps.index("drip_test") < steps.index("cut_spark") < steps.index("read_system")


def test_a_step_in_the_same_state_for_all_cylinders_is_one_line():
    diary = Diary().read("injector_drip").did("replaced", "injector", 1)
    for cylinder in range(2, 7):
        diary.did("replaced", "injector", cylinder)
    (step,) = (step for step in stage(diary, "bench").steps if step.step == "drip_test")
    assert (step.state, step.cylinder) == ("stale", None)
    assert step.why.count("“the injector seals”") == 6
    once = Diary().read("injector_drip").did("replaced", "injector")
    (step,) = (step for step in stage(once, "bench").steps if step.step == "drip_test")
    assert step.why.count("“the injector seals” (cylinders 1 to 6) is to be proved again") == 1
