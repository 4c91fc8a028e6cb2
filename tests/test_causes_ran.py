"""An engine on which something was read while it ran does run: what would stop it is not the matter."""

from __future__ import annotations

import pytest

from evenpour.job import job_of_text
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.causes.asked import asked_now
from evenpour.job.causes.possible_checks import possible_checks
from evenpour.job.causes.prior import shipped_prior
from evenpour.job.job import Job
from evenpour.job.job_file import read_text
from evenpour.machine.asking import RUNNING
from shows_tools import FORM

HEAD = f"""{FORM}
[engine]
sheet = "inline-four"
[conditions]
ambient_temperature = "18 degC"
fuel = "E5"
"""
NO_SPARK = 'what = "spark_seen"\ncylinder = 3\nvalue = "no"'
IDLED = 'what = "plate_lift_response"\nvalue = "no_change"\nconditions = { state = "idle_warm" }'
DROP = 'what = "cylinder_drop"\ncylinder = 3\nvalue = "5 rpm"\nconditions = { state = "idle_warm" }'
WET = 'what = "plug_look"\ncylinder = 3\nvalue = "wet"'
DEAD = 'what = "start_outcome"\nvalue = "no_fire"\nconditions = { engine = "cold" }'


def job(*entries: str) -> Job:
    tables = (one if one.startswith("[[") else f"[[reading]]\n{one}" for one in entries)
    timed = (f"{one}\nat = 2026-05-03T09:{minute:02}:00\n" for minute, one in enumerate(tables))
    return job_of_text(read_text(HEAD + "".join(timed), "job.toml"))


def told(*entries: str) -> dict[str, float]:
    answer: CausesAnswer = causes_answer(job(*entries))
    return {
        one.cause: sum(two.probability for two in answer.causes if two.cause == one.cause)
        for one in answer.causes
    }


def prior_of(cause: str, job: Job) -> float:
    """Log of how likely a cause is before its readings are weighed, against nothing wrong."""
    asked = asked_now(job, shipped_prior())
    (one,) = (h for h in asked.guesses if h.label == cause)
    return one.log_prior - asked.guesses[0].log_prior


@pytest.mark.parametrize("ran", [IDLED, DROP])
def test_no_spark_at_all_is_not_told_of_an_engine_that_idled(ran: str) -> None:
    found = told(ran, NO_SPARK)
    assert found.get("spark_none", 0.0) < 0.05
    assert max(found, key=lambda one: found[one]) == "spark_missing"


def test_nor_is_the_spark_of_all_cylinders_missing_at_once() -> None:
    """Each of them alone leaves an engine that idles; all of them do not."""
    answer = causes_answer(job(DROP, NO_SPARK))
    assert (answer.causes[0].cause, answer.causes[0].cylinder) == ("spark_missing", 3)
    assert answer.causes[0].probability > 0.7
    assert not any(one.also for one in answer.causes if one.probability > 0.03)


def test_a_plug_in_the_hand_does_not_say_that_it_ran() -> None:
    assert told(NO_SPARK, WET)["spark_none"] > 0.3


def test_what_stops_an_engine_is_a_hundred_times_less_likely_and_what_does_not_as_likely_as_before() -> None:
    before, after = job(NO_SPARK), job(NO_SPARK, IDLED)
    assert prior_of("spark_none", after) < prior_of("spark_none", before) - 4.5
    assert prior_of("pump_relay_silent", after) < prior_of("pump_relay_silent", before) - 4.5
    assert prior_of("fuel_stale", after) == pytest.approx(prior_of("fuel_stale", before), abs=0.05)


def test_however_much_was_read_it_counts_once() -> None:
    once, often = job(IDLED), job(IDLED, IDLED.replace("no_change", "worse"), DROP)
    assert prior_of("spark_none", often) == pytest.approx(prior_of("spark_none", once), abs=0.02)


def test_an_engine_that_would_not_start_afterwards_may_have_lost_its_spark_since() -> None:
    assert prior_of("spark_none", job(IDLED, DEAD)) == pytest.approx(prior_of("spark_none", job(NO_SPARK)))
    assert prior_of("spark_none", job(DEAD, IDLED)) < prior_of("spark_none", job(DEAD)) - 4.5


PUMP = '[[did]]\npart = "fuel_pump"\naction = "replaced"'
SPARK = '[[did]]\npart = "ignition_distributor"\naction = "replaced"'
PLUG = '[[did]]\npart = "spark_plug"\ncylinder = 3\naction = "replaced"'


@pytest.mark.parametrize(("work", "its", "other"), [
    (PUMP, "pump_motor_dead", "spark_none"),
    (SPARK, "spark_none", "pump_motor_dead"),
])  # fmt: skip
def test_that_it_ran_before_work_tells_nothing_of_what_was_worked_on_and_of_all_else(
    work: str, its: str, other: str
) -> None:
    ran, touched = job(IDLED, work), job(work)
    assert prior_of(its, ran) == pytest.approx(prior_of(its, touched), abs=0.02)
    assert prior_of(other, ran) < prior_of(other, touched) - 4.5
    assert prior_of(its, job(work, IDLED)) < prior_of(its, touched) - 4.5


def test_an_idle_speed_that_work_made_old_says_still_that_it_ran() -> None:
    idle = 'what = "idle_speed"\nvalue = "850 rpm"\nconditions = { state = "idle_warm" }'
    assert prior_of("spark_none", job(idle, PUMP)) < prior_of("spark_none", job(PUMP)) - 4.5


@pytest.mark.parametrize("part", ["spark_plug", "injector"])
def test_a_repair_in_vain_at_one_cylinder_does_not_accuse_the_whole_ignition(part: str) -> None:
    work = PLUG.replace("spark_plug", part)
    found = told(IDLED, DROP, NO_SPARK, work, NO_SPARK)
    assert found.get("spark_none", 0.0) < 0.1
    assert max(found, key=lambda one: found[one]) == "spark_missing"


def test_nor_the_spark_of_all_cylinders_at_once_which_let_it_run_when_one_was_worked_on() -> None:
    """Of all four, those three that nobody touched would have stopped it before."""
    all_four = [NO_SPARK.replace("3", str(number)) for number in (1, 2, 3, 4)]
    answer = causes_answer(job(IDLED, PLUG, *all_four))
    assert not any(one.also for one in answer.causes if one.probability > 0.3)


def test_what_was_read_before_it_died_does_not_speak_against_what_stopped_it() -> None:
    idle = 'what = "idle_speed"\nvalue = "900 rpm"\nconditions = { state = "idle_warm" }'
    volts = 'what = "pump_voltage"\nvalue = "0 V"\nconditions = { where = "pump_terminals" }'
    answer = causes_answer(job(idle, DEAD, volts))
    assert answer.causes[0].cause == "pump_relay_silent"
    assert any("did not fire since" in words for words in answer.left_out)
    assert not answer.clashes


def test_what_only_a_hand_moves_is_as_it_was_while_the_engine_ran_though_it_would_not_start_since() -> None:
    """The screw that let it idle lets it start; what stopped it is something else."""
    assert prior_of("mixture_screw_lean", job(IDLED, DEAD)) < prior_of("mixture_screw_lean", job(DEAD)) - 0.5
    turned = '[[move]]\npart = "mixture_screw"\nturns = "+1/4 turn"'
    assert prior_of("mixture_screw_lean", job(IDLED, turned, DEAD)) > prior_of(
        "mixture_screw_lean", job(IDLED, DEAD)
    )


def test_after_a_start_in_vain_no_check_is_advised_that_wants_a_running_engine() -> None:
    possible = possible_checks(job(IDLED, DEAD))
    assert not {one.check for one in possible} & RUNNING
    assert not any("as_found_run" in (*one.before, one.step) for one in possible)
    assert {one.check for one in possible} == {one.check for one in possible_checks(job(DEAD))}
    assert {one.check for one in possible_checks(job(DEAD, IDLED))} & RUNNING
