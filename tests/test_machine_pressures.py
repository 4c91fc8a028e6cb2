"""Supply, control circuit and what is held after the stop, on every kind of engine."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from evenpour.machine.holding import HOLES, capacity, held, leaks
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Readout
from evenpour.machine.supply import free_flow, supplied
from machine_world import (
    CAUSES,
    HOME,
    SHEETS,
    changed,
    kind,
    mixture,
    seen,
    value,
    with_,
)

BAR = 1e5
WARM = ("idle_warm", "fast_idle", "road_steady", "full_load")

every_sheet = pytest.mark.parametrize("name", SHEETS)


# Control pressure


@every_sheet
def test_a_blocked_inlet_raises_control_pressure_cold_and_warm_towards_system_pressure(name: str) -> None:
    of = kind(name)
    system = value(seen(of), "system_pressure")[0]
    for check in ("control_pressure_cold", "control_pressure_warm"):
        read = [value(with_(of, "control_inlet_restricted", at), check)[0] for at in np.linspace(0.0, 1.0, 9)]
        assert np.all(np.diff(read) > 0.0)
        assert 0.85 * system < read[-1] < system
    blocked = with_(of, "control_inlet_restricted", 1.0)
    assert value(blocked, "control_flow")[0] < 0.4 * value(seen(of), "control_flow")[0]


@every_sheet
@pytest.mark.parametrize("cause", ["control_heater_dead", "control_heater_unfed"])
def test_a_dead_or_unfed_heater_leaves_the_warm_pressure_at_the_cold_line(name: str, cause: str) -> None:
    cold = with_(kind(name), cause, 1.0)
    for temperature in (278.15, 293.15, 303.15):
        stated = {"regulator_temperature": temperature}
        warm = value(cold, "control_pressure_warm", **stated)[0]
        assert warm == pytest.approx(value(cold, "control_pressure_cold", **stated)[0], rel=2e-3)


@every_sheet
def test_a_clogged_feed_starves_the_control_circuit_of_flow_and_then_of_pressure(name: str) -> None:
    of = kind(name)
    right, some, all_ = (
        seen(of),
        with_(of, "control_feed_restricted", 0.5),
        with_(of, "control_feed_restricted", 1.0),
    )
    assert value(some, "control_flow")[0] < 0.5 * value(right, "control_flow")[0]
    assert value(some, "control_pressure_warm")[0] == pytest.approx(
        value(right, "control_pressure_warm")[0], rel=0.02
    )
    assert value(all_, "control_pressure_warm")[0] < 0.7 * value(right, "control_pressure_warm")[0]


@pytest.mark.parametrize("name", [name for name in SHEETS if "load_diaphragm" in kind(name).devices])
def test_vacuum_raises_the_warm_pressure_by_the_sheets_step_and_a_leak_loses_it(name: str) -> None:
    of = kind(name)
    on, off = (value(seen(of), "control_pressure_warm", vacuum=one)[0] for one in ("applied", "none"))
    assert on - off == pytest.approx(of.centre["load_step"], rel=0.03)
    leaking = with_(of, "control_load_diaphragm_leaks", 1.0)
    assert value(leaking, "control_pressure_warm", vacuum="applied")[0] == pytest.approx(off, abs=0.02 * BAR)


# Supply


@every_sheet
def test_a_weak_pump_shows_in_delivery_first_and_in_pressure_only_when_more_is_asked_than_it_brings(
    name: str,
) -> None:
    of = kind(name)
    right, weak = seen(of), with_(of, "pump_weak", 0.1)
    assert value(weak, "pump_delivery")[0] < 0.9 * value(right, "pump_delivery")[0]
    for plate in ("rest", "full"):
        fallen = (
            value(right, "system_pressure", plate=plate)[0] - value(weak, "system_pressure", plate=plate)[0]
        )
        assert 0.0 < fallen < 0.06 * BAR
    worse = with_(of, "pump_weak", 0.8)
    at_rest = value(right, "system_pressure")[0] - value(worse, "system_pressure")[0]
    at_full = (
        value(right, "system_pressure", plate="full")[0] - value(worse, "system_pressure", plate="full")[0]
    )
    assert at_rest < 0.15 * BAR
    assert at_full > 0.5 * BAR


@every_sheet
def test_low_voltage_brings_a_weak_pump_down_first(name: str) -> None:
    of = kind(name)

    def breaks_down(volts: float) -> float:
        for severity in np.linspace(0.0, 0.8, 41):
            full = value(
                with_(of, "pump_weak", severity), "system_pressure", plate="full", pump_voltage=volts
            )[0]
            if full < of.centre["system_setting"] - 0.2 * BAR:
                return float(severity)
        return 1.0

    low, usual, high = (breaks_down(volts) for volts in (11.0, 12.0, 13.5))
    assert low < usual < high


@every_sheet
@pytest.mark.parametrize("cause", ["pump_weak", "feed_starved", "filter_restricted", "system_pressure_low"])
def test_no_car_pours_more_than_its_pump_brings(name: str, cause: str) -> None:
    of = kind(name)
    for severity in np.linspace(0.0, 1.0, 11):
        cars = with_(of, cause, severity)
        for situation in (
            replace(HOME, opening=of.design.openings["full"]),
            replace(HOME, opening=of.design.openings["full"], lines=True),
        ):
            state = cars.pour(situation)
            free = free_flow(cars.cars, situation)
            brought, _ = supplied(cars.cars, free, state.system)
            assert state.fuel.sum() <= max(float(brought[0]), 0.0) + 1e-9


@every_sheet
def test_a_silent_relay_leaves_a_running_engine_no_fuel_and_does_nothing_to_a_bridged_pump(name: str) -> None:
    right, dead = seen(kind(name)), with_(kind(name), "pump_relay_silent", 1.0)
    assert value(dead, "system_pressure", engine="idle")[0] < 0.1 * BAR
    # with the engine off the pump is bridged past its relay
    for check in ("system_pressure", "holding_pressure", "pump_delivery", "pump_current", "catch"):
        assert value(dead, check)[0] == value(right, check)[0]
    assert value(dead, "start_outcome")[0] < -3.0  # no fire
    assert not dead.running(replace(HOME, engine="idle_warm")).converged[0]


@every_sheet
def test_bad_wiring_takes_voltage_and_never_more_than_there_is(name: str) -> None:
    of = kind(name)
    read = [value(changed(of, "pump_wiring", more=ohms), "pump_voltage")[0] for ohms in (0.0, 0.3, 1.0, 5.0)]
    assert read == sorted(read, reverse=True)
    assert read[0] - read[1] > 1.0
    assert read[-1] > 0.5


@every_sheet
def test_a_battery_that_is_not_charged_leaves_the_running_engines_regulator_colder(name: str) -> None:
    of = kind(name)
    flat, right = changed(of, "charging_voltage", more=-3.5), seen(of)
    for cars, less in ((flat, 0.02 * BAR), (right, -1.0)):
        fallen = (
            value(right, "control_pressure_warm", state="idle_cold", after=90.0)[0]
            - value(cars, "control_pressure_warm", state="idle_cold", after=90.0)[0]
        )
        assert fallen > less
    assert mixture(flat, "idle_cold", ran=90.0) < mixture(right, "idle_cold", ran=90.0) - 0.01


@every_sheet
def test_a_needle_stops_at_its_pin(name: str) -> None:
    of = kind(name)
    low = changed(of, "gauge_offset", more=-0.9 * BAR)
    low.cars.values[low.cars.rows["shut_pressure"]] = 0.2 * BAR
    assert value(low, "holding_pressure", after=10.0)[0] == 0.0


# After the stop


def after(cars: Readout, seconds: float, **stated: Any) -> float:
    return float(value(cars, "holding_pressure", after=seconds, **stated)[0])


@every_sheet
def test_an_injector_that_opens_low_drags_the_holding_pressure_down(name: str) -> None:
    of = kind(name)
    low = with_(of, "injector_opens_low", 1.0)
    assert after(low, 1200.0) < after(seen(of), 1200.0) - 0.2 * BAR
    assert value(low, "hot_restart")[0] < value(seen(of), "hot_restart")[0] - 0.5


@every_sheet
def test_an_injector_that_leaks_shows_in_holding_in_hot_restart_in_its_plug_and_at_its_tip(name: str) -> None:
    of = kind(name)
    right, leaking = seen(of), with_(of, "injector_leaks", 1.0, cylinder=2)
    assert after(leaking, 1200.0) < after(right, 1200.0) - 0.3 * BAR
    assert value(leaking, "hot_restart")[0] < value(right, "hot_restart")[0] - 1.0
    for check in ("plug_look", "injector_drip"):
        assert value(leaking, check, 2)[0] < value(right, check, 2)[0] - 3.0
        assert value(leaking, check, 1)[0] == value(right, check, 1)[0]


@every_sheet
def test_an_injectors_leak_does_not_change_the_running_mixture(name: str) -> None:
    of = kind(name)
    assert mixture(with_(of, "injector_leaks", 1.0), "idle_warm") == mixture(seen(of), "idle_warm")


@pytest.mark.parametrize("name", [name for name in SHEETS if "accumulator" in kind(name).devices])
def test_a_failed_accumulator_drops_the_pressure_within_seconds_and_a_leaking_valve_within_minutes(
    name: str,
) -> None:
    of = kind(name)
    right = seen(of)
    failed = with_(of, "accumulator_failed", 1.0)
    assert after(failed, 20.0) < 0.5 * after(right, 20.0)
    for valve in ("non_return_valve_leaks", "primary_regulator_leaks", "control_return_valve_leaks"):
        leaking = with_(of, valve, 1.0)
        assert after(leaking, 20.0) > 0.9 * after(right, 20.0)
        # a third of it is gone at the least: where half of the leak is a gap, it slows as the pressure falls
        assert after(leaking, 600.0) < after(right, 600.0) * 2.0 / 3.0


@every_sheet
def test_blocking_a_branch_tells_which_valve_leaks(name: str) -> None:
    of = kind(name)
    for cause, branch, other in (
        ("non_return_valve_leaks", "feed", "return"),
        ("primary_regulator_leaks", "return", "feed"),
        ("control_return_valve_leaks", "control", "feed"),
        ("control_return_valve_leaks", "return", "feed"),  # it sits in the primary regulator
        ("cold_start_valve_leaks", "cold_start_valve", "feed"),
    ):
        leaking = with_(of, cause, 0.6)
        assert after(leaking, 1200.0, blocked=branch) > after(leaking, 1200.0, blocked=other) + 0.2 * BAR
        assert after(leaking, 1200.0, blocked=branch) == pytest.approx(
            after(seen(of), 1200.0, blocked=branch), rel=0.05
        )


@every_sheet
def test_the_pressure_after_the_stop_falls_as_its_differential_equation_says(name: str) -> None:
    of = kind(name)
    for cause, severity in (
        ("accumulator_failed", 0.3),
        ("non_return_valve_leaks", 0.85),
        ("injector_opens_low", 1.0),
    ):
        if CAUSES[cause].only and CAUSES[cause].only not in of.devices:
            continue
        cars = with_(of, cause, severity).cars
        out = leaks(cars)

        def falls(_: float, pressure: Any, cars: Any = cars, out: Any = out) -> Any:
            left = np.maximum(pressure, 1.0)
            return -(out.holes * np.sqrt(left) + out.laminar(left) * left) / capacity(cars, left)

        start = held(cars, 5 * BAR, 0.0)[0]
        for seconds in (10.0, 300.0, 1200.0):
            right = solve_ivp(falls, (0.0, seconds), start, method="LSODA", rtol=1e-8, atol=1.0).y[0, -1]
            # twenty-four steps, each with leaks and store of its middle; the store ends within one of them
            assert held(cars, 5 * BAR, seconds)[0][0] == pytest.approx(max(right, 100.0), rel=5e-3, abs=200.0)


def leaking_by(of: Kind, cause: str, odds: float) -> Readout:
    """A gross fault, its leaks wholly holes or wholly gaps."""
    cars = with_(of, cause, 1.0)
    cars.cars.values[cars.cars.rows["gap_odds"]] = odds
    return cars


HOLE, GAP = 1e-6, 1e6


@every_sheet
def test_gaps_and_holes_empty_a_system_alike_at_first_and_gaps_take_longer_for_the_last(name: str) -> None:
    hole, gap = (leaking_by(kind(name), "primary_regulator_leaks", odds) for odds in (HOLE, GAP))
    # all systems shut within a quarter of the pressure where both are alike, and differ by its root there
    assert after(gap, 30.0) == pytest.approx(after(hole, 30.0), rel=0.05)
    start = after(hole, 0.0)
    quarter = next(time for time in np.arange(30.0, 3600.0, 10.0) if after(hole, time) < 0.25 * start)
    # with a store that gives alike throughout, exp(-1) against a quarter: half as much again
    assert after(gap, quarter) > 1.3 * after(hole, quarter)


@every_sheet
@pytest.mark.parametrize("odds", [HOLE, 1.0, GAP])
def test_what_a_cold_start_valve_lets_past_goes_into_the_engine_be_it_a_hole_or_a_gap(
    name: str, odds: float
) -> None:
    cars = leaking_by(kind(name), "cold_start_valve_leaks", odds).cars
    start = held(cars, 5 * BAR, 0.0)[0][0]
    left, seeped = (one[0] for one in held(cars, 5 * BAR, 600.0))
    given = quad(lambda pressure: float(capacity(cars, pressure)[0]), left, start)[0]
    share = cars["cold_start_leak"] / sum(cars[leak] for leak in HOLES)
    assert seeped == pytest.approx(share[0] * given, rel=0.04)  # the rest by injectors and past the plunger
    shut_off = held(cars, 5 * BAR, 600.0, "cold_start_valve")[1][0]
    assert shut_off < 0.5 * seeped


def test_the_middle_car_reads_in_its_sheets_band_after_ten_minutes_whatever_leaks_how() -> None:
    """The sheet's least is 1.6 bar then, and 3.0 bar its most just after the stop."""
    read = after(seen(kind("vee-six")), 600.0)
    assert read == pytest.approx((1.6 + 0.44 * 1.4) * BAR, abs=0.005 * BAR)


@every_sheet
def test_a_starved_pump_brings_as_much_against_pressure_as_into_a_can_and_the_same_head(name: str) -> None:
    """A chamber that fills by half has room for what slips back: the feed alone says what comes out."""
    of = kind(name)
    right, starved = seen(of), with_(of, "feed_starved", 1.0)
    into_a_can = value(starved, "pump_delivery", where="before_filter")[0]
    returned = value(starved, "pump_delivery", where="distributor_return")[0]
    assert returned == pytest.approx(into_a_can, rel=0.02)
    assert into_a_can < 0.4 * value(right, "pump_delivery", where="before_filter")[0]
    # a good pump does lose its slip, and one that is worn as much loses more
    assert (
        value(right, "pump_delivery", where="distributor_return")[0]
        < 0.9 * (value(right, "pump_delivery", where="before_filter")[0])
    )
    # with the return pinched nothing flows in
    assert value(starved, "pump_deadhead") == pytest.approx(value(right, "pump_deadhead"), rel=1e-9)
