"""In which of two ways a part is wrong is told as it was read; a mended fault leaves the screw set for it."""

from __future__ import annotations

import math

import pytest

from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.causes.asked import asked_now
from evenpour.job.causes.prior import shipped_prior
from job_examples import job_with

IDLE = 'conditions = { state = "idle_warm" }\n'
WARM = (
    'conditions = { valve = "open", heater = "plugged", after = "5 min", '
    'voltage = "12.5 V", vacuum = "applied" }\n'
)


def read(minute: int, what: str, value: str, more: str = "") -> str:
    return f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"\nat = 2026-05-03T09:{minute:02}:00\n{more}'


def answered(sheet: str, *entries: str) -> CausesAnswer:
    return causes_answer(job_with(*entries, sheet=sheet))


def clearance(cylinder: int, value: str) -> str:
    return read(
        cylinder,
        "valve_clearance",
        value,
        f'cylinder = {cylinder}\nconditions = {{ where = "exhaust_valve" }}\n',
    )


@pytest.mark.parametrize(("value", "way"), [("0.10 mm", "too tight"), ("0.75 mm", "too wide")])
def test_a_valve_is_told_tight_or_wide_as_it_was_read(value: str, way: str) -> None:
    right = [clearance(cylinder, "0.45 mm") for cylinder in (1, 3, 4, 5)]
    answer = answered("inline-five", clearance(2, value), *right)
    assert answer.causes[0].cause == "exhaust_clearance_wrong"
    assert answer.causes[0].way == way


def test_two_valves_are_told_tight_as_they_were_read() -> None:
    right = [clearance(cylinder, "0.45 mm") for cylinder in (1, 3, 5)]
    answer = answered("inline-five", clearance(2, "0.10 mm"), clearance(4, "0.12 mm"), *right)
    assert {"exhaust_clearance_wrong"} == {
        answer.causes[0].cause,
        *(one.cause for one in answer.causes[0].also),
    }
    assert answer.causes[0].way == "too tight"


@pytest.mark.parametrize(
    ("value", "way"), [("3.0 mm", "the plate rests too low"), ("-3.0 mm", "the plate rests too high")]
)
def test_a_plate_is_told_low_or_high_as_it_rests(value: str, way: str) -> None:
    """As the sheets ask for it: how far it lies below the funnel's edge."""
    answer = answered("flat-six", read(1, "plate_rest_height", value))
    assert answer.causes[0].cause == "plate_rest_wrong"
    assert answer.causes[0].way == way


def test_a_regulator_set_right_leaves_the_screw_as_it_was_set_for_it() -> None:
    """Set for a warm pressure that was too low, the idle is lean once that is right."""
    before = read(1, "control_pressure_warm", "3.1 bar", WARM) + read(2, "exhaust_co", "1.5 %", IDLE)
    mended = '[[did]]\npart = "control_pressure_regulator"\naction = "adjusted"\nat = 2026-05-03T10:00:00\n'
    after = (
        read(30, "control_pressure_warm", "3.6 bar", WARM) + read(40, "exhaust_co", "0.2 %", IDLE)
    ).replace("T09", "T11")
    lean = read(50, "exhaust_lambda", "1.05", IDLE).replace("T09", "T11")
    told = answered("inline-six", before, mended, after, lean)
    assert told.causes[0].cause == "mixture_screw_lean"
    untouched = answered("inline-six", after, lean)
    share = {one.cause: one.probability for one in untouched.causes}
    assert told.causes[0].probability > 1.5 * share.get("mixture_screw_lean", 0.0)


def test_a_pump_that_stops_when_the_starter_does_is_told_by_its_relay() -> None:
    volts = 'conditions = {{ where = "pump_terminals", engine = "{}" }}\n'
    answer = answered(
        "flat-six", read(1, "start_outcome", "fires_dies"),
        read(2, "pump_voltage", "11.9 V", volts.format("cranking")),
        read(3, "pump_voltage", "0 V", volts.format("running")),
    )  # fmt: skip
    assert answer.causes[0].cause == "pump_relay_lets_go"
    assert answer.causes[0].probability > 0.8


def test_readings_that_say_nothing_are_left_out_with_the_reason() -> None:
    """No volts with the engine stalled is as it must be; compression wants the throttle wide."""
    stalled = read(
        1, "pump_voltage", "0 V", 'conditions = { where = "pump_terminals", engine = "stalled" }\n'
    )
    shut = "".join(
        read(10 + k, "compression", "6.8 bar", f'cylinder = {k}\nconditions = {{ throttle = "shut" }}\n')
        for k in range(1, 7)
    )
    answer = answered("flat-six", stalled, shut)
    assert not answer.readings
    assert any("stand still" in one for one in answer.left_out)
    assert any("throttle must be wide open" in one for one in answer.left_out)


LEAN_NOW = read(50, "exhaust_lambda", "1.08", IDLE).replace("T09", "T11")
TIGHT = read(3, "intake_smoke", "tight")
LEAKS = read(3, "intake_smoke", "leaks", 'conditions = { where = "boot" }\n')
IN_ORDER = read(1, "control_pressure_warm", "3.6 bar", WARM)


def did(action: str, part: str, hour: int = 10) -> str:
    return f'[[did]]\npart = "{part}"\naction = "{action}"\nat = 2026-05-03T{hour}:30:00\n'


def lean_screw(*entries: str) -> float:
    """How likely the screw stands too lean before the readings are weighed, against nothing wrong."""
    found = asked_now(job_with(*entries, LEAN_NOW, sheet="inline-six"), shipped_prior())
    at = [one.id for one in found.listed].index("mixture_screw_lean")
    return math.exp(found.guesses[at].log_prior - found.guesses[0].log_prior)


def test_work_on_what_was_not_read_wrong_leaves_the_screw_as_likely_as_before() -> None:
    """A dripping cold-start valve, a throttle that wants cleaning: the screw was never set for these. What
    the mended lost goes to all others, so a little to the screw.
    """
    untouched = lean_screw(TIGHT)
    about = pytest.approx(untouched, rel=0.1)
    assert lean_screw(TIGHT, did("replaced", "cold_start_valve")) == about
    assert lean_screw(did("cleaned", "throttle")) == about
    assert lean_screw(IN_ORDER, did("adjusted", "control_pressure_regulator")) == about
    assert lean_screw(LEAKS, did("replaced", "intake_body")) > 3.0 * untouched


def test_a_screw_that_was_set_after_the_repair_is_not_as_it_was_set_before() -> None:
    work, again = did("replaced", "intake_body"), did("adjusted", "mixture_screw", 11)
    assert lean_screw(LEAKS, work, again) < 0.5 * lean_screw(LEAKS, work)


def test_a_leak_that_was_mended_before_the_screw_was_set_counts_no_more() -> None:
    """Nobody smoked it at the same place again, and the body came off once more for something else."""
    mended = (LEAKS, did("replaced", "intake_body"), did("adjusted", "mixture_screw", 11))
    again = '[[did]]\npart = "intake_body"\naction = "refitted"\nat = 2026-05-03T12:00:00\n'
    later = LEAN_NOW.replace("T11", "T13")
    assert lean_screw(*mended, again, later) < 1.3 * lean_screw(*mended, later)
