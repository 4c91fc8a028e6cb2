"""What lies on the plugs after cranking in vain: fuel that no spark lit, or none.

Wet plugs and no fire: look for spark and starter; dry plugs: look for the fuel. Common practice, no source.
"""

from __future__ import annotations

import pytest

from evenpour.job.causes.answer import case_of
from evenpour.job.causes.asked import asked_now
from evenpour.job.causes.case import Case
from evenpour.job.causes.facts import observations
from evenpour.job.causes.prior import shipped_prior
from evenpour.job.engine_model import kind_of_sheet
from job_examples import hourly, job_with

FUEL = {
    "pump_relay_silent",
    "pump_motor_dead",
    "pump_spent",
    "feed_dry",
    "primary_regulator_open",
    "plunger_sticks",
}
SPARK = {"spark_none", "timing_late", "timing_early", "fuel_stale", "points_gap_wrong"}


def case(look: str | None, *, started: str | None = "no_fire", sheet: str = "flat-six") -> Case:
    text = ""
    if started is not None:
        text += f'[[reading]]\nwhat = "start_outcome"\nvalue = "{started}"\nat = 2026-05-03T09:00:00\n'
    for number in range(1, 7) if look else ():
        text += f'[[reading]]\nwhat = "plug_look"\ncylinder = {number}\nvalue = "{look}"\n'
        text += f"at = 2026-05-03T09:1{number}:00\n"
    return case_of(job_with(text, sheet=sheet))


def among(told: Case, causes: set[str]) -> float:
    listed = told.explanation.suspects
    return sum(p for h, p in told.probability.items() if listed[h].id in causes)


def test_dry_plugs_after_no_fire_speak_for_fuel_that_does_not_come() -> None:
    dry = case("dry")
    assert among(dry, FUEL) > 0.7
    assert among(dry, SPARK) < 0.1


def test_wet_plugs_after_no_fire_speak_for_what_lights_the_fuel() -> None:
    wet, dry = case("wet"), case("dry")
    assert among(wet, SPARK) > 5.0 * among(dry, SPARK)
    assert among(wet, FUEL) < 0.1
    first = max(wet.probability, key=wet.probability.__getitem__)
    assert wet.explanation.suspects[first].id in ("spark_none", "battery_weak")


def test_dry_plugs_of_an_engine_that_was_not_cranked_say_nothing_of_that() -> None:
    before, after = case(None, started=None), case("dry", started=None)
    assert abs(among(after, FUEL) - among(before, FUEL)) < 0.1


def plugs_read(*entries: str) -> set[str]:
    """What the engine is taken to have done for the plugs, read wet after no fire and these."""
    all_of_it = (
        '[[reading]]\nwhat = "start_outcome"\nvalue = "no_fire"',
        *entries,
        '[[reading]]\nwhat = "plug_look"\ncylinder = 2\nvalue = "wet"',
    )
    job = job_with(hourly(*all_of_it))
    found = observations(job, kind_of_sheet(job.sheet))
    return {
        one.observation.query.situation.engine for one in found if one.observation.check.check == "plug_look"
    }


LAMBDA = '[[reading]]\nwhat = "exhaust_lambda"\nvalue = "1.0"\nconditions = { state = "idle_warm" }'
IDLES = '[[reading]]\nwhat = "idle_speed"\nvalue = "850 rpm"'
STANDS = '[[reading]]\nwhat = "idle_speed"\nvalue = "0 rpm"'
HOT = '[[reading]]\nwhat = "hot_restart"\nvalue = "{}"'
PUMP = '[[did]]\naction = "replaced"\npart = "fuel_pump"'


@pytest.mark.parametrize("since", [(LAMBDA,), (IDLES,), (HOT.format("starts"),), (PUMP, IDLES)])
def test_plugs_of_an_engine_that_ran_since_it_did_not_fire_are_of_the_running_one(
    since: tuple[str, ...],
) -> None:
    assert plugs_read(*since) == {"idle_warm"}


@pytest.mark.parametrize("since", [(), (PUMP,), (STANDS,), (HOT.format("no_start"),)])
def test_a_repair_or_what_shows_no_running_engine_leaves_the_plugs_those_of_cranking(
    since: tuple[str, ...],
) -> None:
    assert plugs_read(*since) == {"cranking"}


@pytest.mark.parametrize(
    ("said", "taken"),
    [
        ('engine = "cold"', "cranking"),
        ('engine = "off"', "cranking"),
        ('engine = "running"', "idle_warm"),
        ('after = "idle"', "idle_warm"),
        ('state = "full_load"', "full_load"),
    ],
)
def test_how_warm_the_engine_was_does_not_say_that_it_ran(said: str, taken: str) -> None:
    stated = f'[[reading]]\nwhat = "plug_look"\ncylinder = 1\nvalue = "wet"\nconditions = {{ {said} }}'
    assert plugs_read(stated) == {"cranking", taken}


def test_what_was_read_before_a_start_in_vain_counts_again_once_the_engine_has_run() -> None:
    def told(*entries: str) -> int:
        return len(asked_now(job_with(hourly(*entries)), shipped_prior()).told)

    in_vain = '[[reading]]\nwhat = "start_outcome"\nvalue = "no_fire"'
    assert told(LAMBDA, in_vain) == 1
    assert told(LAMBDA, in_vain, IDLES) == 3
