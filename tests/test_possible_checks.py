"""What comes before a check: nothing that was only read makes the car safe to work on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from evenpour.job.causes.possible_checks import Possible, possible_checks
from evenpour.job.opening import stored_job
from evenpour.job.store import Store

SAFETY = {"fire_place", "pump_switch_off", "look_for_wet_unions"}
Typed = tuple[str, dict[str, Any]]
SYSTEM_PRESSURE: Typed = ("reading", {"what": "system_pressure", "value": "4.30 bar"})


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(f"sqlite:///{tmp_path}/jobs.db") as opened:
        yield opened


def check_after(store: Store, step: str, *typed: Typed) -> tuple[Possible, float]:
    """The step's check as it can be done after these entries, and the minutes of what comes before it."""
    number = store.new_job({"sheet": "flat-six", "car": "Blue estate"})
    for kind, content in typed:
        store.append(number, kind, content)
    job = stored_job(store, number)
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
