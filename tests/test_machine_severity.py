"""Severity: what is read moves one way as a fault grows, and without a jump, save where physics turns it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cause_probe import answers, cases, questions, spoilt
from evenpour.machine.checks import NumberCheck
from evenpour.machine.faults import Cause
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Cars
from evenpour.machine.readout import Query
from machine_world import PREDICTED, SHEETS, drawn_cars, kind
from test_machine_causes import SHOWS

TRIED = ["flat-six", "flat-six-oxygen", "inline-six", "vee-eight"]  # between them, every device
STEPS = 24
HAIR = 1e-3  # of severity, about a jump, within which a balance may be found on either side of it
SEEN = 0.02  # of a reading's own doubt, below which a turn is no turn

#: Checks that have their best or their worst at one mixture: a fault that moves the mixture may pass it on
#: its way, and these turn. Speed, vacuum and what hangs on them are best near lambda 0.9, CO2 and the ports'
#: heat near 1, O2 and HC least between; a nudge of the plate helps a lean engine, until it is too lean.
BEST_AT_ONE_MIXTURE = {
    "idle_speed", "manifold_vacuum", "cylinder_drop", "idle_adjustable", "start_outcome", "exhaust_co2",
    "exhaust_o2", "exhaust_hc", "exhaust_port_temperature", "plate_lift_response", "auxiliary_air_pinch",
    "filler_cap_response",
}  # fmt: skip
#: Causes that move the mixture of all cylinders or of one.
MOVES_THE_MIXTURE = {
    "pump_weak", "filter_restricted", "feed_starved", "system_pressure_low", "control_cold_low",
    "control_cold_high", "control_warm_low", "control_warm_high", "control_heater_dead",
    "control_heater_unfed", "control_heater_shorted", "auxiliary_heater_bad", "warm_up_unfed",
    "control_inlet_restricted", "control_return_restricted",
    "control_feed_restricted", "control_load_diaphragm_leaks", "plunger_sticks",
    "plate_off_centre", "mixture_screw_rich", "mixture_screw_lean", "port_restricted", "port_rich",
    "port_shut", "pressure_valve_leaks", "line_restricted", "injector_restricted", "injector_opens_high",
    "injector_sprays_poorly", "air_leak_common", "air_leak_runner", "auxiliary_air_open",
    "throttle_not_shut", "crankcase_fuel", "cold_start_valve_leaks", "frequency_valve_rich",
    "frequency_valve_lean", "fuel_stale", "timing_early", "timing_late", "plugs_swapped", "purge_rich",
    "fuel_blend", "points_gap_wrong",
    "deceleration_valve_open", "vacuum_hose_swapped",
    "exhaust_leak",  # by an oxygen sensor that believes it
    "pump_spent", "pump_relief_weak", "feed_dry", "primary_regulator_open", "pump_voltage_low",
}  # fmt: skip
#: A cylinder that runs rich or lean moves the carbon monoxide of all until it misses and takes its own out.
ONE_CYLINDER_LEAVES = {"exhaust_co"}
#: Control pressure and lambda: as the system's pressure fails, the control pressure goes with it and
#: enriches before fuel runs short; where a diaphragm feels the load, an engine that pulls badly opens its
#: throttle and is enriched, and draws more as a cylinder weakens; stale fuel leans what burns until the
#: engine turns too slowly to draw as it did, and a flooding valve enriches it until then; a gap that races
#: an engine opens the plate into the funnel's rich end. A sensor that believes the exhaust's stray air
#: enriches until its range ends; from there on the air only thins the gas. A worn engine that idles slower
#: answers a nudge with more speed, until it draws too little and misses; so does one that is left the leaner,
#: until it misses in spite of it.
FOLLOWS_ANOTHER_PRESSURE = {
    "exhaust_lambda": {
        "pump_weak", "filter_restricted", "feed_starved", "port_restricted", "pressure_valve_leaks",
        "fuel_stale", "mixture_screw_rich", "system_pressure_low", "plugs_swapped",
        "compression_low", "valve_clearance_wrong", "exhaust_clearance_wrong", "inlet_clearance_wrong",
        "throttle_not_shut", "deceleration_valve_open", "engine_worn", "pump_spent", "pump_relief_weak",
        "feed_dry", "pump_voltage_low",
    },
    "exhaust_co": {
        "pump_weak", "filter_restricted", "feed_starved", "mixture_screw_rich", "exhaust_leak",
        "system_pressure_low", "pump_spent", "pump_relief_weak", "feed_dry", "pump_voltage_low",
        "timing_late",
    },
    # the loop enriches while it can, and stops with the engine; a plug cut at load is dry once it has starved
    "lambda_duty": {"feed_dry", "pump_voltage_low"},
    "plug_look": {"system_pressure_low", "feed_dry", "filter_restricted"},
    "plate_lift_response": {"engine_worn", "oxygen_control_silent", "frequency_coil_open"},
}  # fmt: skip
#: What has leaked out to the tank cannot seep into the engine: less floods it while more boils.
LESS_LEFT_TO_SEEP = {
    "pump_weak", "pump_spent", "pump_motor_dead", "feed_dry", "primary_regulator_open", "pump_relief_weak",
    "pump_relay_silent", "pump_voltage_low", "battery_dead", "non_return_valve_leaks", "accumulator_failed",
    "primary_regulator_leaks", "control_return_valve_leaks", "plunger_base_leaks",
}  # fmt: skip
#: An engine stalls at once, and what is read by letting it nearly do so jumps with it.
STALLS_AT_ONCE = {
    "idle_speed",
    "idle_adjustable",
    "start_outcome",
    "filler_cap_response",
    "auxiliary_air_pinch",
}


def may_turn(cause: Cause, check: str) -> bool:
    """Whether physics gives a reason why a check turns as a cause grows."""
    return (
        (check in BEST_AT_ONE_MIXTURE and cause.id in MOVES_THE_MIXTURE)
        or (check in ONE_CYLINDER_LEAVES and cause.per_cylinder)
        or cause.id in FOLLOWS_ANOTHER_PRESSURE.get(check, ())
        or (check == "hot_restart" and cause.id in LESS_LEFT_TO_SEEP)
    )


@cache
def rows(name: str) -> tuple[tuple[Cause, int, str, Query, Any], ...]:
    """Cause, form, question and what is read at each severity; nan where the engine does not run so."""
    of = kind(name)
    severities = np.linspace(0.0, 1.0, STEPS + 1)
    able = cases(of, severities)
    cars = spoilt(of, able)
    read = answers(cars)
    found = []
    for first in range(0, len(able), len(severities)):
        part = slice(first, first + len(severities))
        for label, asked in questions(of):
            runs = cars.balanced(asked.situation)[part]
            values = read[label][part]
            if asked.check not in ("idle_speed", "start_outcome"):  # these say that it stalls
                values = np.where(runs, values, np.nan)
            found.append((able[first][0], able[first][1], label, asked, values))
    return tuple(found)


@pytest.mark.parametrize("name", SHEETS)
def test_a_reading_moves_one_way_as_a_fault_grows_save_where_physics_turns_it(name: str) -> None:
    turned = 0
    for cause, _, label, asked, values in rows(name):
        steps = np.diff(values[np.isfinite(values)])
        steps = steps[np.abs(steps) > SEEN]
        turns = int(np.count_nonzero(np.diff(np.sign(steps))))
        allowed = 3 if may_turn(cause, asked.check) else 0
        assert turns <= allowed, (cause.id, label, np.round(values, 2))
        turned += turns > 0
    assert turned > 10  # else the exceptions above are no exceptions


@settings(max_examples=60, deadline=None)
@given(
    name=st.sampled_from(SHEETS),
    which=st.integers(0, 10_000),
    seed=st.integers(0, 10_000),
    ends=st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)).map(sorted),
)
def test_what_shows_a_fault_shows_more_of_a_worse_one_on_any_healthy_car(
    name: str, which: int, seed: int, ends: list[float]
) -> None:
    of = kind(name)
    able = cases(of, (0.0,))
    cause = able[which % len(able)][0]
    one = drawn_cars(of, 1, seed=seed, widening=1.5)
    cars = Cars(one.rows, np.repeat(one.values, 2, axis=1))
    both = spoilt(of, [(cause, 0, severity) for severity in ends], cars=cars)
    asked = dict(questions(of))
    for label, way in SHOWS[cause.id]:
        if label not in asked or may_turn(cause, asked[label].check):
            continue
        check, query = PREDICTED[asked[label].check], asked[label]
        values = check.reads(both, query) + np.zeros(2)
        if isinstance(check, NumberCheck):
            values = check.compared(values) / np.hypot(check.repeats, check.model)
        if np.all(both.balanced(query.situation)):
            assert way * (values[1] - values[0]) >= -SEEN, (cause.id, label, values)


@pytest.mark.parametrize("name", TRIED)
def test_halving_a_step_of_severity_halves_what_is_read_of_it(name: str) -> None:
    of = kind(name)
    looked_closer = 0
    for cause, form, label, asked, values in rows(name):
        if asked.check in STALLS_AT_ONCE:
            continue
        fine, coarse = np.abs(np.diff(values)), np.abs(np.diff(values[::2]))
        if not np.any(fine > 0.3):
            continue
        most = int(np.nanargmax(fine))
        if fine[most] <= 0.75 * np.nanmax(np.append(coarse, 0.0)):
            continue
        # steep, or a jump: a jump stays as high however closely one looks
        looked_closer += 1
        low, high = most / STEPS, (most + 1) / STEPS
        low, high, left = zoomed(of, cause, form, asked, low, high)
        if left >= 0.1 * fine[most] and asked.situation.running:
            told = (cause.id, label, low, fine[most], left)
            ends = (of, cause, form, asked, low, high)
            assert drops_out(*ends) or runs_short(*ends) or stalls(*ends[:-1]), told
        else:
            assert left < 0.1 * fine[most], (cause.id, label, low, fine[most], left)
    assert looked_closer > 0


def zoomed(
    of: Kind, cause: Cause, form: int, asked: Query, low: float, high: float
) -> tuple[float, float, float]:
    """Where the largest change over a 65,536th of a step lies, and how large it is."""
    change = 0.0
    for _ in range(4):
        at = np.linspace(low, high, 17)
        steps = np.abs(np.diff(list(read(of, cause, form, asked, at))))
        if not np.any(np.isfinite(steps)):
            return low, high, 0.0
        most = int(np.nanargmax(steps))
        low, high, change = at[most], at[most + 1], float(steps[most])
    return low, high, change


def drops_out(of: Kind, cause: Cause, form: int, asked: Query, low: float, high: float) -> bool:
    """Whether the jump is one cylinder's dropping out.

    A cylinder that leans out makes the others pull more air, by the driver's foot or as the idle slows, which
    leans it further, until it misses more all at once. About there it may do either: one looks a hair beside.
    """
    beside = (max(low - HAIR, 0.0), min(high + HAIR, 1.0))
    state = spoilt(of, [(cause, form, at) for at in beside]).running(asked.situation)
    return cause.per_cylinder and float(state.missed[0, 1] - state.missed[0, 0]) > 0.1


def runs_short(of: Kind, cause: Cause, form: int, asked: Query, low: float, high: float) -> bool:
    """Whether the jump is the system's pressure falling at once with the control pressure.

    Once the feed lets in less than engine and control circuit take, the control pressure hangs on the other
    and falls with it, the slits open, and more is drawn: no state lies between.
    """
    beside = (max(low - HAIR, 0.0), min(high + HAIR, 1.0))
    state = spoilt(of, [(cause, form, at) for at in beside]).running(asked.situation)
    return cause.id == "feed_dry" and float(state.system[0] - state.system[1]) > 0.1e5


def stalls(of: Kind, cause: Cause, form: int, asked: Query, severity: float) -> bool:
    """Whether an idle is as good as stalling there.

    Below some six tenths of its speed it loses its vacuum at once; a diaphragm that feels the load enriches.
    """
    speed = spoilt(of, [(cause, form, severity)]).running(asked.situation).speed
    return asked.situation.engine == "idle_warm" and float(speed[0]) < 0.6 * of.design.idle_speed


def read(of: Kind, cause: Cause, form: int, asked: Query, severities: Any) -> Iterator[float]:
    """One question at these severities, in units of its own doubt; nan where the engine does not run so."""
    cars = spoilt(of, [(cause, form, float(at)) for at in severities])
    check = PREDICTED[asked.check]
    values = check.reads(cars, asked) + np.zeros(len(severities))
    if isinstance(check, NumberCheck):
        values = check.compared(values) / np.hypot(check.repeats, check.model)
    yield from np.where(cars.balanced(asked.situation), values, np.nan)


@pytest.mark.parametrize("name", ["flat-six"])
def test_a_severity_is_a_smooth_dial_between_its_two_ends(name: str) -> None:
    of = kind(name)
    for cause, form, _ in cases(of, (0.0,)):
        for act in cause.forms[form]:
            at = act.at(np.linspace(0.0, 1.0, 11))
            steps = np.diff(np.log(np.abs(at)) if act.factor else at)
            assert np.ptp(steps) <= 1e-9 * max(1.0, float(np.abs(steps).max())), cause.id
            assert at[0] == pytest.approx(act.least)
            assert at[-1] == pytest.approx(act.gross)
