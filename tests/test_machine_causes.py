"""Causes: the whole catalogue, each acting on parameters alone, each to be seen where a mechanic looks."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np
import pytest

from cause_probe import answers, cases, questions, spoilt
from evenpour import data
from evenpour.errors import FieldProblem, OutOfRange
from evenpour.job.engine_model import causes_of
from evenpour.job.sheet.found import known_checks
from evenpour.machine import faults
from evenpour.machine.checks import not_predicted, predicted_checks
from evenpour.machine.faults import Cause, act_on, with_fault
from evenpour.machine.parameters import Cars
from evenpour.machine.readout import Readout
from machine_world import CAUSES, PARAMETERS, PREDICTED, SHEETS, kind, middle_car, seen
from sheet_tools import CHECKS, FORM

CATALOGUE = re.findall(r"\w+", """
    pump_weak filter_restricted system_pressure_low system_pressure_high non_return_valve_leaks
    accumulator_failed primary_regulator_leaks control_cold_low control_cold_high control_warm_low
    control_warm_high control_heater_dead control_inlet_restricted control_load_diaphragm_leaks
    plunger_sticks port_restricted pressure_valve_leaks plate_rest_wrong plate_off_centre
    mixture_screw_rich mixture_screw_lean line_restricted injector_restricted injector_leaks
    injector_opens_high injector_opens_low injector_shut air_leak_common air_leak_runner
    auxiliary_air_shut auxiliary_air_open exhaust_leak cold_start_valve_leaks cold_start_valve_dead
    thermo_time_switch_open thermo_time_switch_shorted oxygen_sensor_dead frequency_valve_rich
    frequency_valve_lean timing_late timing_early spark_none spark_missing compression_low fuel_stale
    injector_sprays_poorly control_feed_restricted control_return_restricted control_heater_unfed
    pump_voltage_low feed_starved pump_relay_silent pump_relay_lets_go
    throttle_not_shut crankcase_fuel advance_stuck
    valve_clearance_wrong plugs_swapped lines_swapped gauge_fault port_rich plunger_base_leaks
    control_return_valve_leaks return_restricted advance_diaphragm_leaks oxygen_control_silent fuel_water
    frequency_coil_open
    pump_cutoff_bypassed deceleration_valve_open purge_rich vacuum_hose_swapped air_injection_on
    exhaust_blocked full_load_switch_wrong points_gap_wrong fuel_blend battery_weak charging_poor
    pump_relief_weak charging_high warm_up_unfed engine_worn tank_dirty
    pump_spent pump_motor_dead feed_dry primary_regulator_open battery_dead
    points_gap_timed port_shut exhaust_clearance_wrong inlet_clearance_wrong
    control_heater_shorted auxiliary_heater_bad cold_start_coil_bad frequency_coil_bad
""")  # fmt: skip
ASKED_CHECKS = re.findall(r"\w+", """
    system_pressure control_pressure_cold control_pressure_warm holding_pressure pump_delivery
    pump_current catch onset injector_opening_pressure injector_drip injector_spray
    regulator_heater_voltage
    regulator_heater_resistance cold_start_valve_resistance cold_start_valve_drip cold_start_valve_spray
    thermo_time_switch auxiliary_air plate_rest_height plate_travel plunger_return intake_smoke
    intake_leak_flow exhaust_lambda exhaust_co exhaust_co2 exhaust_o2 exhaust_hc lambda_duty idle_speed
    filler_cap_response plate_lift_response cylinder_drop plug_look start_outcome hot_restart
    timing_static compression spark_seen control_flow pump_deadhead pump_voltage pump_cutoff
    accumulator_vent manifold_vacuum exhaust_port_temperature auxiliary_air_pinch hose_pinch
    timing_running dwell leak_down lambda_loop rest_delivery lever_play plate_drag valve_clearance advance
    idle_adjustable oil_smell fuel_look filter_look fuel_wet_meter line_crossed
""")  # fmt: skip

#: Of the little ethanol that these cars are said to have in the tank, no more can be missing.
LITTLE_TO_MISS = ("fuel_blend", 1)
#: Causes that are so or not: what they do at their least is gross.
ON_OR_OFF = {
    "pump_relay_silent", "pump_relay_lets_go", "injector_shut", "spark_none", "thermo_time_switch_open",
    "thermo_time_switch_shorted", "cold_start_valve_dead", "oxygen_control_silent", "lines_swapped",
    "frequency_coil_open",
    "plugs_swapped", "pump_cutoff_bypassed", "vacuum_hose_swapped",
    "full_load_switch_wrong", "pump_motor_dead", "pump_spent", "feed_dry", "primary_regulator_open",
    "battery_dead", "port_shut",
}  # fmt: skip
#: Forms that are so or not, of causes that are not: a winding is open, or it is whole.
OPEN_OR_WHOLE = {
    "auxiliary_air_open", "feed_starved", "filter_restricted", "pump_relief_weak",
    "compression_low", "line_restricted", "injector_restricted",
}  # fmt: skip
#: Where the second form of a cause shows, and which way.
ALSO_SHOWS: dict[str, list[tuple[str, int]]] = {
    "plunger_sticks": [("plunger_return", -1), ("plate_drag", -1)],
    "pump_weak": [("pump_delivery", -1), ("pump_deadhead", -1)],
    "feed_starved": [("pump_delivery", -1), ("fuel_look", -1)],
    "feed_dry": [("pump_delivery", -1), ("start_outcome", -1), ("fuel_look", -1)],
    "pump_spent": [("pump_delivery", -1), ("pump_current", 1), ("start_outcome", -1)],
    "pump_relief_weak": [("pump_deadhead", -1), ("system_pressure", -1), ("start_outcome", -1)],
    "valve_clearance_wrong": [("valve_clearance exhaust_valve", 1), ("valve_clearance inlet_valve", 1)],
    "exhaust_clearance_wrong": [("valve_clearance exhaust_valve", 1)],
    "inlet_clearance_wrong": [("valve_clearance inlet_valve", 1)],
    "filter_restricted": [("pump_delivery", -1), ("filter_look", -1), ("fuel_look", -1)],
    "pump_relay_silent": [("pump_voltage", -1), ("system_pressure", -1), ("start_outcome", -1)],
    "plate_rest_wrong": [("plate_rest_height", -1), ("onset lines", -1)],
    "port_restricted": [("catch lines idle", -1)],
    "line_restricted": [("catch lines idle", -1), ("catch injectors full", -1), ("cylinder_drop", -1)],
    "injector_restricted": [("catch injectors idle", -1), ("injector_spray", -1), ("cylinder_drop", -1)],
    "auxiliary_air_open": [("auxiliary_air_resistance", 1), ("auxiliary_air_pinch", 1), ("idle_speed", 1)],
    "cold_start_valve_dead": [("cold_start_valve_resistance", 1), ("cold_start_valve_spray", -1)],
    "auxiliary_heater_bad": [("auxiliary_air_resistance", -1)],
    "cold_start_coil_bad": [("cold_start_valve_resistance", -1), ("cold_start_valve_spray", -1)],
    "frequency_coil_bad": [("frequency_valve_resistance", -1), ("frequency_valve_hum", -1)],
    "oxygen_control_silent": [("frequency_valve_hum", -1), ("lambda_duty idle_warm connected", 1)],
    "full_load_switch_wrong": [("lambda_loop connected", -1)],
    "points_gap_wrong": [("dwell", -1), ("timing_static", 1)],
    "points_gap_timed": [("dwell", -1)],
    "crankcase_fuel": [("oil_smell", -1)],
    "battery_weak": [("battery_voltage cranking", -1)],
    "battery_dead": [("battery_voltage rested", -1), ("pump_voltage", -1), ("start_outcome", -1)],
    "timing_late": [("timing_static", -1)],
    "timing_early": [("timing_static", 1)],
    "compression_low": [("compression", -1), ("leak_down", 1), ("cylinder_drop", -1)],
    "charging_poor": [("battery_voltage charging", -1), ("battery_voltage rested", -1)],
    "exhaust_leak": [("exhaust_o2 idle_warm off", 1), ("exhaust_co2", -1), ("exhaust_lambda", 1)],
    "fuel_blend": [],  # of E5 no more than a twentieth can be missing
    "spark_missing": [("spark_lead_resistance", 1), ("spark_seen", -1), ("cylinder_drop", -1)],
    "gauge_fault": [("system_pressure", -1), ("holding_pressure", -1)],
    "engine_worn": [("compression", -1), ("leak_down", 1), ("manifold_vacuum", -1)],
    "control_feed_restricted": [("control_flow", -1), ("control_pressure_warm", -1)],
    "air_leak_common": [("intake_smoke", -1), ("intake_leak_flow", 1)],
    "control_warm_low": [("control_pressure_warm", -1)],
    "control_warm_high": [("control_pressure_warm", 1)],
}
#: Where each cause shows in its gross form, and which way; a choice's margin falls towards what is wrong.
SHOWS: dict[str, list[tuple[str, int]]] = {
    "pump_weak": [("pump_delivery", -1), ("system_pressure full", -1)],
    "pump_spent": [("pump_delivery", -1), ("pump_deadhead", -1), ("start_outcome", -1)],
    "pump_motor_dead": [("pump_current", -1), ("system_pressure", -1), ("start_outcome", -1)],
    "feed_dry": [("pump_delivery", -1), ("pump_current", -1), ("start_outcome", -1)],
    "primary_regulator_open": [("system_pressure", -1), ("holding_pressure", -1), ("start_outcome", -1)],
    "pump_voltage_low": [("pump_voltage", -1), ("pump_delivery", -1)],
    "pump_relay_silent": [("system_pressure idle", -1), ("start_outcome", -1)],
    "pump_relay_lets_go": [("system_pressure idle", -1), ("start_outcome", -1)],
    "pump_cutoff_bypassed": [("pump_cutoff", -1)],
    "feed_starved": [("pump_delivery", -1), ("pump_current", -1)],
    "filter_restricted": [("pump_delivery", -1), ("pump_current", 1), ("filter_look", -1)],
    "system_pressure_low": [("system_pressure", -1)],
    "system_pressure_high": [("system_pressure", 1)],
    "return_restricted": [("system_pressure", 1)],
    "non_return_valve_leaks": [("holding_pressure 1200.0 return", -1), ("hot_restart", -1)],
    "accumulator_failed": [("holding_pressure 10.0", -1), ("accumulator_vent", 1)],
    "primary_regulator_leaks": [("holding_pressure 1200.0 feed", -1), ("hot_restart", -1)],
    "control_cold_low": [("control_pressure_cold", -1), ("exhaust_lambda idle_cold off", -1)],
    "control_cold_high": [("control_pressure_cold", 1), ("exhaust_lambda idle_cold off", 1)],
    "control_warm_low": [("control_pressure_warm", -1), ("exhaust_co idle_warm off", 1)],
    "control_warm_high": [("control_pressure_warm", 1), ("exhaust_co idle_warm off", -1)],
    "control_heater_dead": [("regulator_heater_resistance", 1), ("control_pressure_warm", -1)],
    "control_heater_shorted": [("regulator_heater_resistance", -1)],
    "auxiliary_heater_bad": [("auxiliary_air_resistance", 1), ("auxiliary_air_pinch", 1)],
    "cold_start_coil_bad": [("cold_start_valve_resistance", 1), ("cold_start_valve_spray", -1)],
    "frequency_coil_bad": [("frequency_valve_resistance", 1), ("frequency_valve_hum", -1)],
    "control_heater_unfed": [("control_pressure_warm", -1), ("exhaust_co idle_warm off", 1)],
    "control_inlet_restricted": [("control_pressure_cold", 1), ("control_flow", -1)],
    "control_return_restricted": [("control_pressure_cold", 1), ("control_flow", -1)],
    "control_feed_restricted": [("control_flow", -1), ("control_pressure_warm", -1)],
    "control_return_valve_leaks": [("holding_pressure", -1)],
    "control_load_diaphragm_leaks": [("regulator_vacuum", -1), ("control_pressure_warm applied", -1)],
    "plunger_sticks": [("plunger_return", -1), ("plate_drag", -1)],
    "plunger_base_leaks": [("fuel_wet_meter", -1), ("holding_pressure", -1)],
    "plate_rest_wrong": [("plate_rest_height", 1), ("onset lines", 1), ("lever_play", 1)],
    "plate_off_centre": [("plate_travel", -1)],
    "mixture_screw_rich": [("onset lines", -1), ("rest_delivery", -1), ("lever_play", -1)],
    "mixture_screw_lean": [("onset lines", 1), ("exhaust_co fast_idle off", -1)],
    "port_restricted": [("catch lines idle", -1), ("catch injectors full", -1)],
    "port_shut": [("catch lines idle", -1), ("catch injectors full", -1), ("cylinder_drop", -1)],
    "port_rich": [("catch lines idle", 1), ("catch injectors full", 1)],
    "pressure_valve_leaks": [("catch lines idle", -1), ("catch injectors full", -1)],
    "line_restricted": [("catch injectors full", -1), ("catch lines full", -1)],
    "injector_restricted": [("catch injectors full", -1), ("injector_spray", -1)],
    "injector_sprays_poorly": [("injector_spray", -1), ("exhaust_hc idle_warm off", 1)],
    "injector_leaks": [("injector_drip", -1), ("holding_pressure 1200.0", -1), ("plug_look", -1)],
    "injector_opens_high": [("injector_opening_pressure", 1), ("catch injectors full", -1)],
    "injector_opens_low": [("injector_opening_pressure", -1), ("holding_pressure 1200.0", -1)],
    "injector_shut": [("injector_opening_pressure", 1), ("catch injectors idle", -1), ("cylinder_drop", -1)],
    "air_leak_common": [("intake_smoke", -1), ("intake_leak_flow", 1), ("exhaust_co idle_warm off", -1)],
    "air_leak_runner": [("intake_smoke", -1), ("cylinder_drop", -1), ("exhaust_lambda idle_warm off", 1)],
    "auxiliary_air_shut": [("auxiliary_air", -1), ("idle_speed idle_cold", -1)],
    "auxiliary_air_open": [("auxiliary_air_pinch", 1), ("idle_speed", 1), ("idle_adjustable", 1)],
    "throttle_not_shut": [("idle_speed", 1), ("idle_adjustable", 1)],
    "crankcase_fuel": [("oil_smell", -1), ("exhaust_co idle_warm off", 1)],
    "exhaust_leak": [("exhaust_o2 idle_warm off", 1), ("exhaust_co2", -1)],
    "cold_start_valve_leaks": [("cold_start_valve_drip", -1), ("hot_restart", -1)],
    "cold_start_valve_dead": [("cold_start_valve_spray", -1), ("start_outcome 263.15", -1)],
    "thermo_time_switch_open": [("thermo_time_switch 283.15", -1), ("start_outcome 263.15", -1)],
    "thermo_time_switch_shorted": [("thermo_time_switch 333.15", 1), ("start_outcome warm", -1)],
    "oxygen_sensor_dead": [("lambda_loop connected", -1)],
    "oxygen_control_silent": [("frequency_valve_hum", -1), ("catch lines idle", -1)],
    "frequency_coil_open": [("frequency_valve_resistance", 1), ("frequency_valve_hum", -1)],
    "frequency_valve_rich": [("lambda_duty idle_warm connected", -1), ("exhaust_co fast_idle off", 1)],
    "frequency_valve_lean": [("lambda_duty idle_warm connected", 1), ("exhaust_co fast_idle off", -1)],
    "timing_late": [("timing_running", -1), ("idle_speed", -1)],
    "timing_early": [("timing_running", 1), ("idle_speed", 1)],
    "advance_stuck": [("advance", -1), ("timing_running 50.0", -1)],
    "advance_diaphragm_leaks": [("advance_unit", -1), ("advance on", -1)],
    "spark_none": [("spark_seen", -1), ("start_outcome", -1)],
    "spark_missing": [("spark_seen", -1), ("cylinder_drop", -1), ("exhaust_port_temperature", -1)],
    "compression_low": [("compression", -1), ("leak_down", 1), ("cylinder_drop", -1)],
    "valve_clearance_wrong": [("valve_clearance exhaust_valve", -1), ("compression", -1)],
    "exhaust_clearance_wrong": [("valve_clearance exhaust_valve", -1), ("compression", -1), ("leak_down", 1)],
    "inlet_clearance_wrong": [("valve_clearance inlet_valve", -1), ("compression", -1), ("leak_down", 1)],
    "fuel_stale": [("fuel_look", -1), ("start_outcome 263.15", -1)],
    "fuel_water": [("fuel_look", 1), ("exhaust_hc idle_warm off", 1)],
    "tank_dirty": [("fuel_look", -1), ("filter_look", -1)],
    "lines_swapped": [("line_crossed", -1)],
    "plugs_swapped": [("line_crossed", -1), ("auxiliary_air_pinch", 1), ("start_outcome warm", -1)],
    "deceleration_valve_open": [("idle_speed", 1), ("idle_adjustable", 1)],
    "purge_rich": [("exhaust_co idle_warm off", 1), ("exhaust_lambda fast_idle off", -1)],
    "vacuum_hose_swapped": [("control_pressure_warm idle_warm", -1), ("timing_running 14.0 on", 1)],
    "air_injection_on": [("exhaust_lambda idle_warm off", 1), ("exhaust_co2", -1)],
    "full_load_switch_wrong": [("exhaust_lambda full_load", 1), ("exhaust_co full_load", -1)],
    "points_gap_wrong": [("dwell", 1), ("timing_static", -1)],
    "points_gap_timed": [("dwell", 1)],
    "battery_weak": [("battery_voltage rested", -1), ("pump_voltage", -1)],
    "battery_dead": [("battery_voltage rested", -1), ("battery_voltage cranking", -1)],
    "charging_poor": [("battery_voltage charging", -1)],
    "charging_high": [("battery_voltage charging", 1)],
    "pump_relief_weak": [("pump_deadhead", -1)],
    "warm_up_unfed": [("control_pressure_warm", -1), ("auxiliary_air_pinch", 1), ("idle_speed", 1)],
    "engine_worn": [("compression", -1), ("leak_down", 1), ("manifold_vacuum", -1)],
    "fuel_blend": [("exhaust_lambda idle_warm off", 1), ("exhaust_lambda full_load", 1)],
    "exhaust_blocked": [("manifold_vacuum fast_idle", -1), ("manifold_vacuum road_steady", -1)],
    "gauge_fault": [("system_pressure", 1), ("control_pressure_warm", 1), ("holding_pressure", 1)],
}


@cache
def both_ends(name: str) -> tuple[list[tuple[Cause, int, float]], dict[str, Any]]:
    """Every cause, least and gross, and what is read then, by question."""
    able = cases(kind(name), (0.0, 1.0))
    return able, answers(spoilt(kind(name), able))


def at_severity(name: str, severity: float) -> Iterator[tuple[Cause, int, dict[str, float]]]:
    """Each cause in each form with what is read on the middle car that has it, by question."""
    able, read = both_ends(name)
    for column, (cause, form, at) in enumerate(able):
        if at == severity:
            yield cause, form, {question: float(values[column]) for question, values in read.items()}


def healthy(name: str) -> dict[str, float]:
    """What is read on the middle car, by question."""
    return {question: float(values[0]) for question, values in answers(seen(kind(name))).items()}


# The catalogue


def test_every_cause_of_the_catalogue_is_there() -> None:
    assert set(CATALOGUE) == set(CAUSES)


def test_every_check_is_read_by_the_model_or_said_not_to_be_and_why() -> None:
    checks, _ = known_checks()
    left_out = not_predicted(data.shipped("predictions.toml").values, checks)
    assert set(PREDICTED) | set(left_out) == set(checks)
    assert not set(PREDICTED) & set(left_out)
    assert set(ASKED_CHECKS) <= set(checks)
    assert all(len(why) > 30 for why in left_out.values())
    assert set(left_out) & set(ASKED_CHECKS) == {"hose_pinch"}


def test_a_check_that_is_neither_predicted_nor_left_out_is_refused() -> None:
    checks, _ = known_checks()
    plain = {key: list(tables) for key, tables in data.shipped("predictions.toml").values.items()}
    plain["not_predicted"] = plain["not_predicted"][1:]
    with pytest.raises(FieldProblem, match="'earth_drop' is neither predicted nor left out"):
        predicted_checks(plain, checks)


# A fault changes parameters and nothing else


def test_no_cause_names_a_check() -> None:
    for table in data.shipped("causes.toml").values["cause"]:
        acts = [act for form in [table["acts"], *table.get("also", [])] for act in form]
        assert all(set(act) <= {"on", "times", "add", "every"} for act in acts)
        assert all(act["on"] in {one.id for one in PARAMETERS} for act in acts)
        assert set(table) <= set(faults.FIELDS)
        # a parameter, a part or a device may bear a check's name: a compression is had, and is read
        assert table["id"] not in CHECKS


def test_the_module_of_faults_knows_no_check() -> None:
    tree = ast.parse(inspect.getsource(faults))
    words = {
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    assert not (words | names) & set(CHECKS)
    imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert not {module for module in imported if module and ("checks" in module or "reads" in module)}


@pytest.mark.parametrize("name", ["flat-six-oxygen", "inline-six"])
def test_a_car_with_a_fault_reads_what_one_reads_whose_parameters_are_so(name: str) -> None:
    of = kind(name)
    for cause, form, severity in cases(of, (0.7,)):
        right = seen(of)
        by_hand = right.cars.copy()
        for act in cause.forms[form]:
            rows = of.blueprint.where(act.parameter, 1 if cause.per_cylinder and not act.every else None)
            by_hand.values[rows] = (
                by_hand.values[rows] * act.at(severity)
                if act.factor
                else by_hand.values[rows] + act.at(severity)
            )
        faulty = with_fault(
            of.blueprint, right.cars, cause, 1 if cause.per_cylinder else None, severity, form
        )
        np.testing.assert_array_equal(faulty.values, by_hand.values)
        named = {act.parameter for act in cause.forms[form]}
        for one in PARAMETERS:
            if one.id not in named:
                rows = of.blueprint.rows[one.id]
                np.testing.assert_array_equal(faulty.values[rows], right.cars.values[rows])


def test_a_parameter_that_does_not_spread_is_turned_by_a_cause_or_may_be_stated() -> None:
    turned = {act.parameter for cause in CAUSES.values() for form in cause.forms for act in form}
    idle = [one.id for one in PARAMETERS if not one.spread and one.dimension is None and one.id not in turned]
    assert idle == ["auxiliary_rise"]  # the kind's own: what its auxiliary air valve's heater does


@pytest.mark.parametrize("name", SHEETS)
def test_a_second_form_that_is_no_other_than_the_first_without_a_device_is_not_told_there(name: str) -> None:
    fitted = {one.id: one for one in causes_of(kind(name))}
    both = kind(name).oxygen_control  # else there is no sensor to draw air behind
    assert len(fitted["exhaust_leak"].forms) == len(CAUSES["exhaust_leak"].forms) - (not both)
    assert len(fitted["exhaust_leak"].ways) == (2 if both else 0)
    assert all(one == CAUSES[one.id] for one in fitted.values() if one.id != "exhaust_leak")


def test_what_a_cause_or_its_second_form_belongs_to_is_a_device() -> None:
    named = {one.only for one in CAUSES.values()} | {one.also_only for one in CAUSES.values()}
    assert named - {None} <= set(FORM.devices)
    assert all(len(one.forms) > 1 for one in CAUSES.values() if one.also_only)


@pytest.mark.parametrize("severity", [-0.01, 1.01, float("nan")])
def test_a_severity_outside_zero_to_one_is_refused(severity: float) -> None:
    of = kind("flat-six")
    with pytest.raises(OutOfRange, match="pump_weak"):
        with_fault(of.blueprint, middle_car(of), CAUSES["pump_weak"], None, severity)


@pytest.mark.parametrize("cylinder", [None, 0, 7])
def test_a_cylinder_the_engine_does_not_have_is_refused(cylinder: int | None) -> None:
    of = kind("flat-six")
    with pytest.raises(OutOfRange, match="spark_missing"):
        with_fault(of.blueprint, middle_car(of), CAUSES["spark_missing"], cylinder, 0.5)


# Severity: from barely noticeable to gross


@pytest.mark.parametrize("name", SHEETS)
def test_a_gross_fault_shows_where_a_mechanic_looks_and_in_the_right_direction(name: str) -> None:
    right = healthy(name)
    for cause, form, cars in at_severity(name, 1.0):
        for question, way in ALSO_SHOWS[cause.id] if form else SHOWS[cause.id]:
            if question not in right:
                continue  # the device is not fitted
            moved = way * (cars[question] - right[question])
            assert moved > 1.5, (cause.id, question, moved)


@pytest.mark.parametrize("name", SHEETS)
def test_the_least_form_of_a_cause_is_barely_noticeable_but_something_answers(name: str) -> None:
    right = healthy(name)
    for cause, form, cars in at_severity(name, 0.0):
        most = max(abs(cars[question] - right[question]) for question in right)
        assert most > 0.3, cause.id
        if cause.id not in ON_OR_OFF and not (form and cause.id in OPEN_OR_WHOLE):
            assert most < 12.0, cause.id


@pytest.mark.parametrize("name", SHEETS)
def test_the_gross_form_of_a_cause_cannot_be_overlooked(name: str) -> None:
    right = healthy(name)
    for cause, form, cars in at_severity(name, 1.0):
        if (cause.id, form) == LITTLE_TO_MISS:
            continue
        most = max(abs(cars[question] - right[question]) for question in right)
        assert most > 5.0, cause.id


# Cylinders


@pytest.mark.parametrize("name", ["flat-six", "inline-five", "vee-eight"])
def test_a_cause_of_one_cylinder_does_there_what_it_does_in_any_other(name: str) -> None:
    of = kind(name)
    wanted = [one for one in cases(of, (0.6,)) if one[0].per_cylinder]
    first, third = spoilt(of, wanted, cylinder=1), spoilt(of, wanted, cylinder=3)
    for label, asked in questions(of):
        check = PREDICTED[asked.check]
        # a catch is read by port: at the one that feeds the cylinder
        own = of.design.line_map.port(3) if asked.check == "catch" else 3
        there = asked if asked.cylinder is None else _on(asked, own)
        np.testing.assert_allclose(
            check.reads(third, there) + np.zeros(len(wanted)),
            check.reads(first, asked) + np.zeros(len(wanted)),
            rtol=1e-6, atol=1e-9, err_msg=label,
        )  # fmt: skip


def test_permuting_the_cylinders_permutes_what_is_read_on_them_and_nothing_else() -> None:
    of = kind("flat-six")
    plan = of.blueprint
    random = np.random.default_rng(8)
    wanted = cases(of, (0.7,))
    values = plan.cars(random.standard_normal((len(wanted), len(plan.free)))).values
    order = random.permutation(of.design.cylinders)
    turned = values.copy()
    for rows in plan.rows.values():
        if rows.stop - rows.start > 1:
            turned[rows] = values[rows][order]
    where = int(np.flatnonzero(order == 0)[0]) + 1  # where cylinder 1 has gone
    before = spoilt(of, wanted, cylinder=1, cars=Cars(plan.rows, values))
    after = spoilt(of, wanted, cylinder=where, cars=Cars(plan.rows, turned))
    for label, asked in questions(of):
        check = PREDICTED[asked.check]
        cylinders = [None] if asked.cylinder is None else range(1, of.design.cylinders + 1)
        for cylinder in cylinders:
            there = (
                asked if cylinder is None else _on(asked, int(np.flatnonzero(order == cylinder - 1)[0]) + 1)
            )
            np.testing.assert_allclose(
                check.reads(after, there) + np.zeros(len(wanted)),
                check.reads(before, _on(asked, cylinder)) + np.zeros(len(wanted)),
                rtol=1e-6, atol=1e-9, err_msg=label,
            )  # fmt: skip


def _on(asked: Any, cylinder: int | None) -> Any:
    return type(asked)(asked.check, asked.situation, cylinder, asked.stated)


# Nothing but numbers


@pytest.mark.parametrize("name", SHEETS)
def test_no_car_however_odd_and_however_broken_reads_anything_but_numbers(name: str) -> None:
    of = kind(name)
    plan, random = of.blueprint, np.random.default_rng(5)
    able = cases(of, (0.0,))
    wanted = [(cause, form, float(at)) for cause, form, _ in able for at in random.uniform(0.0, 1.0, 3)]
    draws = random.standard_normal((len(wanted), len(plan.free)))
    second = [able[number] for number in random.integers(0, len(able), len(wanted))]
    cars = spoilt(of, wanted, cars=plan.cars(draws, widening=3.0))
    for column, (cause, form, _) in enumerate(second):
        if cause is wanted[column][0]:
            continue
        # and another one on top
        some = cars.cars.values[:, column : column + 1]
        act_on(plan, some, cause, 2 if cause.per_cylinder else None, float(random.uniform()), form)
    again = Readout(of, cars.cars, cars.screws)
    with np.errstate(all="raise", under="ignore"):
        for label, value in answers(again).items():
            assert np.all(np.isfinite(value)), label
