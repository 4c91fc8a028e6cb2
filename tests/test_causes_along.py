"""What a touched part spoils: one rule for what no longer counts on the page of readings and among causes."""

from __future__ import annotations

import pytest

from evenpour.job import job_of_text
from evenpour.job.causes.asked import asked_now
from evenpour.job.causes.prior import come_along, shipped_prior
from evenpour.job.job_file import read_text

JOB = """
format = "evenpour-job/1"

[engine]
sheet = "flat-six"

[[reading]]
what = "regulator_heater_resistance"
value = "21.5 ohm"
at = 2026-05-03T10:00:00

[[did]]
action = "{}"
part = "control_pressure_regulator"
at = 2026-05-03T11:00:00
"""


@pytest.mark.parametrize(("action", "counts"), [("adjusted", True), ("cleaned", True), ("replaced", False)])
def test_a_regulator_s_winding_is_another_only_with_another_regulator(action: str, counts: bool) -> None:
    job = job_of_text(read_text(JOB.format(action), "job.toml"))
    (row,) = job.judge().readings
    assert row.stands is counts
    asked = asked_now(job, shipped_prior())
    assert bool(asked.told) is counts
    assert any("regulator's heater" in one for one in asked.left_out) is not counts


def test_setting_the_distributor_moves_the_timing_and_a_new_pump_brings_its_valve() -> None:
    along = come_along()
    assert "ignition_timing" in along.parts_of("ignition_distributor", "adjusted")
    assert "non_return_valve" in along.parts_of("fuel_pump", "replaced")
    assert "non_return_valve" not in along.parts_of("fuel_pump", "adjusted")
