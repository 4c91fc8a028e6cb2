"""What lies on the plugs after cranking in vain: fuel that no spark lit, or none.

Wet plugs and no fire: look for spark and starter; dry plugs: look for the fuel. Common practice, no source.
"""

from __future__ import annotations

from evenpour.job import job_of_text
from evenpour.job.causes.answer import case_of
from evenpour.job.causes.case import Case
from evenpour.job.job_file import read_text

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
    text = f'format = "evenpour-job/1"\n[engine]\nsheet = "{sheet}"\n'
    if started is not None:
        text += f'[[reading]]\nwhat = "start_outcome"\nvalue = "{started}"\nat = 2026-05-03T09:00:00\n'
    for number in range(1, 7) if look else ():
        text += f'[[reading]]\nwhat = "plug_look"\ncylinder = {number}\nvalue = "{look}"\n'
        text += f"at = 2026-05-03T09:1{number}:00\n"
    return case_of(job_of_text(read_text(text, "job.toml")))


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
    assert max(wet.probability, key=wet.probability.__getitem__) == spark_none(wet)


def spark_none(told: Case) -> int:
    return next(h for h, one in enumerate(told.explanation.suspects) if one.id == "spark_none")


def test_dry_plugs_of_an_engine_that_was_not_cranked_say_nothing_of_that() -> None:
    before, after = case(None, started=None), case("dry", started=None)
    assert abs(among(after, FUEL) - among(before, FUEL)) < 0.1
