"""What comes before a check: nothing that was only read makes the car safe to work on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from evenpour.job.causes.possible_checks import Possible, possible_checks
from evenpour.job.job import Job
from evenpour.job.opening import stored_job
from evenpour.job.store import Store

SAFETY = {"fire_place", "pump_switch_off", "look_for_wet_unions"}
Typed = tuple[str, dict[str, Any]]
SYSTEM_PRESSURE: Typed = ("reading", {"what": "system_pressure", "value": "4.30 bar"})


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(f"sqlite:///{tmp_path}/jobs.db") as opened:
        yield opened


def job_after(store: Store, *typed: Typed) -> Job:
    number = store.new_job({"sheet": "flat-six", "car": "Blue estate"})
    for kind, content in typed:
        store.append(number, kind, content)
    return stored_job(store, number)


def ways_to(check: str, job: Job) -> dict[str, Possible]:
    """The step by which a check is read, with how it is read there."""
    return {one.step: one for one in possible_checks(job) if one.check == check}


def check_after(store: Store, step: str, *typed: Typed) -> tuple[Possible, float]:
    """The step's check as it can be done after these entries, and the minutes of what comes before it."""
    job = job_after(store, *typed)
    one = next(one for one in possible_checks(job) if one.step == step)
    return one, sum(job.plan.step[name].minutes for name in one.before)


def test_a_typed_pressure_proves_neither_the_place_nor_the_spark_nor_the_pumps_switch(store: Store) -> None:
    one, minutes = check_after(store, "deadhead_pump", SYSTEM_PRESSURE)
    new, as_new = check_after(store, "deadhead_pump")
    assert set(one.before) >= SAFETY
    assert len(one.before) == 6
    assert (one.before, minutes) == (new.before, as_new)  # the order of the work says the same
    assert one.minutes > minutes > 0
    assert "fire" in one.cautions


def test_a_typed_pressure_shows_that_the_gauge_was_in_until_it_is_taken_off(store: Store) -> None:
    bled = "bleed_gauge"
    without, _ = check_after(store, "read_holding")
    assert bled in without.before
    typed, _ = check_after(store, "read_holding", SYSTEM_PRESSURE)
    assert bled not in typed.before
    gone: Typed = ("did", {"action": "removed", "part": "gauge"})
    after, _ = check_after(store, "read_holding", SYSTEM_PRESSURE, gone)
    assert bled in after.before


IDLES: Typed = ("reading", {"what": "idle_speed", "value": "900 rpm"})
NO_FIRE: Typed = ("reading", {"what": "start_outcome", "value": "no_fire"})


@pytest.mark.parametrize("typed", [(), (SYSTEM_PRESSURE,), (NO_FIRE, SYSTEM_PRESSURE)])
def test_no_pressure_is_advised_on_an_engine_run_as_found_that_nobody_said_ran(
    store: Store, typed: tuple[Typed, ...]
) -> None:
    for check in ("control_pressure_warm", "holding_pressure"):
        ways = ways_to(check, job_after(store, *typed))
        assert ways
        assert all(set(one.before) >= SAFETY for one in ways.values())


def test_a_cold_pressure_after_a_failed_start_wants_a_start_that_was_tried(store: Store) -> None:
    for typed in ((), (SYSTEM_PRESSURE,)):
        ways = ways_to("control_pressure_cold", job_after(store, *typed))
        assert all(set(one.before) >= SAFETY for one in ways.values())
    assert "start_fails" in ways_to("control_pressure_cold", job_after(store, NO_FIRE))


def test_an_engine_that_runs_is_read_as_found_and_the_gauge_costs_the_whole_run(store: Store) -> None:
    job = job_after(store, IDLES)
    one = ways_to("control_pressure_warm", job)["as_found_run"]
    assert one.before == ("fire_place", "battery_check")  # it runs by its own spark and pump
    assert one.minutes == sum(job.plan.step[name].minutes for name in (*one.before, one.step))


def test_an_engine_is_not_run_as_found_once_its_spark_is_away(store: Store) -> None:
    away: Typed = ("did", {"action": "disconnected", "part": "coil_feed"})
    assert "as_found_run" not in ways_to("control_pressure_warm", job_after(store, IDLES, away))


def test_a_plug_looked_at_in_the_hand_does_not_say_that_the_engine_runs(store: Store) -> None:
    plug: Typed = ("reading", {"what": "plug_look", "value": "sooty", "cylinder": 1})
    looked = job_after(store, plug)
    assert not ways_to("exhaust_co", looked)
    assert not ways_to("idle_speed", looked)
