"""What a reading's own conditions change in what the model foresees, and what an open circuit shows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenpour.machine.faults import with_fault
from evenpour.machine.ohmmeter import OPEN, shown_ohms
from evenpour.machine.readout import Readout
from evenpour.machine.situation import Situation
from evenpour.machine.tank import tank
from machine_world import CAUSES, HOME, PREDICTED, SHEETS, ask, kind, seen, value, with_

SIX = "flat-six"
COLD = 281.15  # K


def read(cars: Readout, check: str, **stated: float | str) -> float:
    return float(value(cars, check, **stated)[0])


# Where a thing is read


def test_delivery_before_the_filter_and_behind_it_names_the_filter() -> None:
    right, clogged = seen(kind(SIX)), with_(kind(SIX), "filter_restricted", 0.6)
    before, behind, back = (
        read(clogged, "pump_delivery", where=where) / read(right, "pump_delivery", where=where)
        for where in ("before_filter", "behind_filter", "distributor_return")
    )
    assert before == pytest.approx(1.0)
    assert back < behind < 0.95
    worn = with_(kind(SIX), "pump_weak", 0.6)
    assert read(worn, "pump_delivery", where="before_filter") < 0.9 * read(
        right, "pump_delivery", where="before_filter"
    )


def test_a_can_before_the_filter_gets_more_than_the_return_does() -> None:
    right = seen(kind(SIX))
    can, behind, back = (
        read(right, "pump_delivery", where=where)
        for where in ("before_filter", "behind_filter", "distributor_return")
    )
    assert back < behind < can
    assert read(right, "pump_delivery") == back


@pytest.mark.parametrize(
    ("cause", "here", "not_here"),
    [("air_leak_runner", "injector_seat", "boot"), ("air_leak_common", "boot", "injector_seat")],
)
def test_smoke_at_a_place_speaks_of_the_leaks_that_are_there(cause: str, here: str, not_here: str) -> None:
    right, leaking = seen(kind(SIX)), with_(kind(SIX), cause, 0.8)
    assert read(leaking, "intake_smoke", where=here) < -1.0
    assert read(leaking, "intake_smoke", where=here) == pytest.approx(read(leaking, "intake_smoke"), abs=0.01)
    assert read(leaking, "intake_smoke", where=not_here) > 2.5
    assert read(right, "intake_smoke", where=here) > 2.5


# What the engine did


def test_while_cranking_the_cold_start_valve_has_what_its_switch_gives_it() -> None:
    right, dead_switch = seen(kind(SIX)), with_(kind(SIX), "thermo_time_switch_open", 1.0)
    cranked = {"engine": "cranking", "ambient_temperature": COLD}
    assert read(right, "cold_start_valve_spray", **cranked) > 2.0
    assert read(dead_switch, "cold_start_valve_spray", **cranked) < -2.0
    assert read(dead_switch, "cold_start_valve_spray") == read(
        right, "cold_start_valve_spray"
    )  # fed directly
    warm = {"engine": "cranking", "ambient_temperature": 318.15}
    assert read(right, "cold_start_valve_spray", **warm) < -1.0  # and so it should not


@pytest.mark.parametrize("name", SHEETS)
def test_a_relay_that_does_not_close_leaves_the_pump_without_volts_while_cranking_alone(name: str) -> None:
    right, silent = seen(kind(name)), with_(kind(name), "pump_relay_silent", 1.0)
    for check in ("pump_voltage", "system_pressure"):
        assert read(silent, check, engine="cranking") < 0.05 * read(right, check, engine="cranking")
        assert read(silent, check) == read(right, check)  # the engine off: bridged past its relay


@pytest.mark.parametrize("name", SHEETS)
def test_a_blown_fuse_leaves_a_bridged_pump_without_volts_as_well(name: str) -> None:
    right, blown = seen(kind(name)), with_(kind(name), "pump_relay_silent", 0.5, form=1)
    assert read(right, "pump_voltage") > 11.0
    assert read(blown, "pump_voltage") < 2.0
    assert read(blown, "system_pressure") < 0.1e5
    assert read(blown, "start_outcome") < read(right, "start_outcome") - 8.0


@pytest.mark.parametrize("name", [name for name in SHEETS if kind(name).oxygen_control])
def test_a_dead_sensor_leaves_the_control_its_answer_to_an_earthed_and_a_fed_lead(name: str) -> None:
    right, dead = seen(kind(name)), with_(kind(name), "oxygen_sensor_dead", 1.0)
    assert read(dead, "lambda_loop", sensor="connected") < -1.0
    for sensor in ("earthed", "fed"):
        assert read(dead, "lambda_loop", sensor=sensor) == read(right, "lambda_loop", sensor=sensor) > 2.0
    silent = with_(kind(name), "oxygen_control_silent", 1.0)
    assert read(silent, "lambda_loop", sensor="earthed") < 0.0


@pytest.mark.parametrize("name", [name for name in SHEETS if kind(name).oxygen_control])
def test_the_duty_of_a_valve_that_stands_still_is_none_or_goes_to_the_rich_end(name: str) -> None:
    """The sensor of an engine left lean asks for more; a unit without drive gives nothing to read. Common
    practice, no source.
    """
    asked = {"state": "idle_warm", "sensor": "connected"}
    for form, duty in ((0, 0.0), (1, 0.95)):
        silent = with_(kind(name), "oxygen_control_silent", 0.5, form=form)
        assert read(silent, "exhaust_lambda", **asked) > 1.02
        assert read(silent, "lambda_duty", **asked) == pytest.approx(duty, abs=0.02)
    open_ = with_(kind(name), "frequency_coil_open", 0.5)
    assert read(open_, "lambda_duty", **asked) == pytest.approx(0.95, abs=0.02)


@pytest.mark.parametrize("name", ["flat-six-oxygen", "inline-four-oxygen"])
@pytest.mark.parametrize("second", ["mixture_screw_rich", "control_warm_low", "frequency_valve_rich"])
def test_an_engine_whose_valve_answers_in_part_finds_its_duty(name: str, second: str) -> None:
    """However far off the middle something else holds the mixture: it runs, and is not read as standing."""
    of = kind(name)
    for bad in (0.1, 0.3, 0.5, 0.7, 0.9):
        first = with_(of, "frequency_coil_bad", bad)
        for severity in np.linspace(0.1, 1.0, 7):
            cars = with_fault(of.blueprint, first.cars, CAUSES[second], None, float(severity), 0)
            state = Readout(of, cars, first.screws).running(
                replace(HOME, engine="idle_warm", sensor="connected")
            )
            assert np.all(state.converged), (bad, severity)


# Points, fuel, exhaust


@pytest.mark.parametrize("name", ["flat-six", "inline-four"])
@pytest.mark.parametrize("form", [0, 1])
def test_points_open_later_by_half_of_what_their_dwell_gains(name: str, form: int) -> None:
    right, wrong = seen(kind(name)), with_(kind(name), "points_gap_wrong", 0.4, form=form)
    gained = read(wrong, "dwell") - read(right, "dwell")  # turns of the distributor
    later = read(right, "timing_static") - read(wrong, "timing_static")  # turns of the crank
    assert abs(gained) > 5.0 / 360.0
    assert later == pytest.approx(2.0 * (gained / 2.0))  # the crank turns twice as fast


@pytest.mark.parametrize("name", SHEETS)
def test_more_ethanol_than_was_said_leans_everything_alike_and_no_pressure(name: str) -> None:
    right, other = seen(kind(name)), with_(kind(name), "fuel_blend", 0.3)
    leaner = [
        read(other, "exhaust_lambda", state=state, sensor="off")
        / read(right, "exhaust_lambda", state=state, sensor="off")
        for state in ("idle_warm", "fast_idle", "full_load")
    ]
    assert min(leaner) > 1.05
    assert np.ptp(leaner) < 0.06
    for check in ("system_pressure", "control_pressure_cold", "pump_delivery"):
        assert read(other, check) == read(right, check)


FUELLED = ("exhaust_lambda", "exhaust_co", "idle_speed", "manifold_vacuum", "start_outcome", "onset", "catch")


@pytest.mark.parametrize(("said", "is_in", "ethanol"), [(0.05, 0.85, 0.8 / 0.95), (0.85, 0.05, -0.8 / 0.85)])
def test_a_fuel_that_was_not_stated_reads_what_it_reads_where_it_is_stated(
    said: float, is_in: float, ethanol: float
) -> None:
    of, home = kind(SIX), Situation(fuel=said)
    right = seen(of, home=home)
    other = right.cars.copy()
    other.values[other.rows["ethanol"]] = ethanol
    told, untold = replace(home, fuel=is_in), Readout(of, other, right.screws)
    for check in FUELLED:
        unstated = PREDICTED[check].reads(untold, ask(of, check, home=home))
        stated = PREDICTED[check].reads(Readout(of, right.cars, right.screws), ask(of, check, home=told))
        np.testing.assert_allclose(unstated, stated, rtol=1e-5, err_msg=check)


def test_a_blend_tells_by_what_was_said_and_reaches_from_no_ethanol_to_nothing_else() -> None:
    of, cause = kind(SIX), CAUSES["fuel_blend"]
    for said in (0.0, 0.05, 0.85):
        home = Situation(fuel=said)
        for form, end in enumerate((1.0, 0.0)):
            shares = []
            for severity in (0.0, 0.5, 1.0):
                cars = with_fault(of.blueprint, seen(of).cars, cause, None, severity, form)
                shares.append(float(np.ravel(tank(cars, home).ethanol)[0]))
            assert shares[-1] == pytest.approx(end)
            steps = np.diff([said, *shares])
            assert np.all(steps >= 0.0 if form == 0 else steps <= 0.0)


@pytest.mark.parametrize("name", SHEETS)
def test_a_badly_blocked_exhaust_costs_most_of_the_vacuum_at_a_fast_idle_and_hardly_any_at_idle(
    name: str,
) -> None:
    right, blocked = seen(kind(name)), with_(kind(name), "exhaust_blocked", 0.95)
    assert read(blocked, "manifold_vacuum") > 0.93 * read(right, "manifold_vacuum")
    fast = read(blocked, "manifold_vacuum", state="fast_idle")
    assert fast < 0.65 * read(right, "manifold_vacuum", state="fast_idle")


# An ohmmeter


@pytest.mark.parametrize("ohms", [0.5, 22.0, 5e3, 1e5])
def test_an_ohmmeter_shows_what_is_there(ohms: float) -> None:
    assert shown_ohms(ohms) == pytest.approx(ohms, rel=1e-4)


@pytest.mark.parametrize("ohms", [5e6, 1e8, 1e12])
def test_an_ohmmeter_shows_an_open_circuit_however_open(ohms: float) -> None:
    assert shown_ohms(ohms) == pytest.approx(OPEN, rel=1e-3)


# Oxygen control


@pytest.mark.parametrize("name", ["flat-six-oxygen", "inline-four-oxygen"])
def test_a_valve_without_drive_leaves_what_the_springs_hold_so_that_the_engine_runs_lean(name: str) -> None:
    of = kind(name)
    right = read(seen(of), "exhaust_lambda", state="idle_warm", sensor="off")
    least, more = (
        read(with_(of, "oxygen_control_silent", at), "exhaust_lambda", state="idle_warm", sensor="off")
        for at in (0.0, 0.2)
    )
    # a shut valve is the end of its duty's range and a little beyond, not the end of all fuel
    assert 1.05 * right < least < 1.25 * right
    assert least < more < 1.8 * right
