"""The shipped table of checks: nothing that is named elsewhere is missing, and every check is complete."""

from __future__ import annotations

import re

import pytest

from evenpour import data
from evenpour.measure.units import DIMENSIONS
from sheet_tools import CHECKS, CONDITIONS, EVERYWHERE, KINDS


def words(text: str) -> list[str]:
    """The names in *text*."""
    return text.split()


NAMED = words(
    """
system_pressure control_pressure_cold control_pressure_warm holding_pressure pump_delivery
pump_current catch onset injector_opening_pressure injector_drip injector_spray
regulator_heater_voltage
regulator_heater_resistance cold_start_valve_resistance cold_start_valve_drip cold_start_valve_spray
thermo_time_switch auxiliary_air plate_rest_height plate_travel plunger_return intake_smoke
intake_leak_flow exhaust_lambda exhaust_co exhaust_co2 exhaust_o2 exhaust_hc lambda_duty idle_speed
filler_cap_response plate_lift_response cylinder_drop plug_look start_outcome hot_restart
timing_static compression spark_seen control_flow pump_deadhead pump_voltage pump_cutoff
accumulator_vent manifold_vacuum exhaust_port_temperature auxiliary_air_pinch hose_pinch
timing_running dwell leak_down lambda_loop rest_delivery lever_play plate_drag valve_clearance
advance idle_adjustable oil_smell fuel_look filter_look fuel_wet_meter line_crossed catch_evenness
compression_spread injector_opening_pressure_spread
"""
)

PER_CYLINDER = words(
    """
injector_opening_pressure injector_drip injector_spray cylinder_drop plug_look compression
spark_seen exhaust_port_temperature leak_down rest_delivery valve_clearance catch
"""
)

CHOICES = {
    "injector_drip": "dry drips",
    "injector_spray": "even streaky none cone strings one_sided jet",
    "cold_start_valve_drip": "dry drips",
    "cold_start_valve_spray": "sprays none",
    "thermo_time_switch": "closed open",
    "auxiliary_air": "open half shut",
    "plate_travel": "free binds",
    "plunger_return": "falls hesitates sticks",
    "intake_smoke": "tight leaks",
    "filler_cap_response": "stumbles no_change",
    "plate_lift_response": "better no_change worse",
    "plug_look": "dry wet sooty good",
    "start_outcome": "no_fire fires_dies runs_rough hunts runs",
    "hot_restart": "starts long_crank no_start",
    "spark_seen": "yes no",
    "plate_drag": "even stiff_somewhere stiff_both_ways",
    "accumulator_vent": "dry wet",
    "pump_cutoff": "stops runs_on",
}

PARTS = words(
    """
fuel_tank tank_strainer feed_hoses fuel_pump pump_relay non_return_valve accumulator filter
fuel_distributor port pressure_valve plunger primary_pressure_regulator control_pressure_regulator
regulator_heater line injector injector_union injector_seal cold_start_valve thermo_time_switch
auxiliary_air_valve sensor_plate funnel mixture_screw throttle idle_air_screw intake_body
frequency_valve oxygen_sensor spark_plug spark_lead ignition_distributor ignition_timing compression
valve_train exhaust battery oil fuel
"""
)


@pytest.mark.parametrize("name", NAMED)
def test_every_named_check_is_there(name: str) -> None:
    assert name in CHECKS


@pytest.mark.parametrize("name", PER_CYLINDER)
def test_what_is_read_by_cylinder_asks_for_one(name: str) -> None:
    assert CHECKS[name].per_cylinder


@pytest.mark.parametrize(("name", "listed"), CHOICES.items())
def test_choices_are_spelt_as_the_steps_and_limits_spell_them(name: str, listed: str) -> None:
    assert set(words(listed)) <= set(CHECKS[name].choices)


@pytest.mark.parametrize("check", CHECKS.values(), ids=lambda check: check.id)
def test_a_check_is_complete(check) -> None:
    assert re.fullmatch(r"[a-z0-9_]+", check.id)
    assert set(check.conditions) <= set(KINDS)
    assert not set(check.conditions) & set(EVERYWHERE)
    assert check.reads
    assert set(check.reads) <= set(PARTS)
    assert set(check.dimensions) <= set(DIMENSIONS)
    if check.dimensions:
        assert check.sense is not None
        assert check.assumed_error > 0.0 or check.assumed_relative > 0.0
    derived = check.spread_of is not None or check.id == "catch_evenness"
    assert (check.minutes == 0) == derived
    if check.spread_of is not None:
        assert CHECKS[check.spread_of].per_cylinder


def test_every_condition_is_carried_by_some_check_and_says_how_wrong_it_may_be() -> None:
    carried = {name for check in CHECKS.values() for name in check.conditions}
    assert carried | set(EVERYWHERE) == set(KINDS)
    for kind in KINDS.values():
        if kind.dimension is not None:
            assert kind.assumed_error > 0.0, kind.id
            assert kind.sense is not None, kind.id


def test_conditions_of_every_pressure_are_offered_with_every_pressure() -> None:
    needed = {"valve", "heater", "plate", "vacuum", "pump_voltage", "body_temperature", "engine", "bled"}
    for name in (
        "system_pressure",
        "control_pressure_cold",
        "control_pressure_warm",
        "holding_pressure",
        "pump_deadhead",
    ):
        assert needed <= set(CHECKS[name].conditions)


def test_no_two_checks_answer_to_one_name() -> None:
    names = [name for check in CHECKS.values() for name in (check.id, *check.also)]
    assert len(names) == len(set(names))
    assert {"system", "cold", "warm", "holding", "delivery", "drip", "spray", "co", "lambda"} <= set(names)


def test_no_name_stands_twice() -> None:
    for table in ("check", "condition"):
        ids = [row["id"] for row in data.shipped("checks.toml").values[table]]
        assert len(ids) == len(set(ids))


def test_what_holds_for_a_whole_job_is_carried_by_every_check() -> None:
    assert set(EVERYWHERE) >= {"ambient_temperature", "altitude", "fuel"}
    assert {table["id"] for table in CONDITIONS} == set(KINDS)


def test_an_after_can_be_a_time_or_what_went_before() -> None:
    assert KINDS["after"].dimension == "time"
    assert set(KINDS["after"].choices) == {"idle", "cut_at_load"}
    assert KINDS["opening"].dimension == "length"
    assert set(KINDS["opening"].choices) == {"rest", "idle", "part", "full"}
