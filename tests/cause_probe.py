"""What a cause does to everything that can be read: the questions, and the answers in standard deviations."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np

from evenpour.machine.checks import NumberCheck
from evenpour.machine.faults import Cause, act_on
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Cars
from evenpour.machine.readout import Query, Readout
from evenpour.machine.set_up import set_since
from machine_world import CAUSES, HOME, PREDICTED, ask, kind, middle_car, seen
from sheet_tools import FORM

#: Circumstances in which a check is asked besides the usual ones.
OTHERS: dict[str, list[dict[str, Any]]] = {
    "control_pressure_cold": [{"regulator_temperature": 283.15}],
    "control_pressure_warm": [{"vacuum": "none"}, {"vacuum": "applied"}, {"state": "idle_warm"}],
    "catch": [
        {"through": way, "opening": opening}
        for way in ("lines", "injectors")
        for opening in ("idle", "part", "full")
    ],
    "onset": [{"through": "lines"}, {"through": "injectors"}],
    "holding_pressure": [
        {"after": 10.0},
        {"after": 1200.0},
        {"after": 1200.0, "blocked": "feed"},
        {"after": 1200.0, "blocked": "return"},
    ],
    "pump_delivery": [{"voltage": 12.0}],
    "exhaust_lambda": [
        {"state": state, "sensor": "off"}
        for state in ("idle_cold", "idle_warm", "fast_idle", "road_steady", "full_load")
    ]
    + [{"state": "full_load"}],
    "exhaust_co": [{"state": state, "sensor": "off"} for state in ("idle_warm", "fast_idle")]
    + [{"state": "idle_warm", "breather": "off_capped"}, {"state": "full_load"}],
    "exhaust_o2": [{"state": "idle_warm", "sensor": "off"}],
    "exhaust_hc": [{"state": "idle_warm", "sensor": "off"}],
    "idle_speed": [{"state": "idle_cold"}],
    "system_pressure": [{"plate": "full"}, {"engine": "idle"}],
    "auxiliary_air": [{"temperature": 293.15, "after": 300.0}, {"temperature": 353.15}],
    "auxiliary_air_pinch": [{"state": "idle_cold"}],
    "thermo_time_switch": [{"temperature": 283.15}, {"temperature": 333.15}],
    "start_outcome": [{"engine": "warm"}, {"ambient_temperature": 263.15}],
    "hot_restart": [{"soak": 300.0}, {"soak": 2400.0}, {"soak": 1200.0, "blocked": "cold_start_valve"}],
    "timing_running": [{"speed": 50.0}, {"speed": 50.0, "hose": "on"}, {"speed": 14.0, "hose": "on"}],
    "manifold_vacuum": [{"state": "fast_idle"}, {"state": "road_steady"}],
    "advance": [{"hose": "on"}],
    "plug_look": [{"after": "cut_at_load"}],
    "lambda_duty": [
        {"state": "idle_warm", "sensor": "connected"},
        {"state": "fast_idle", "sensor": "connected"},
    ],
    "lambda_loop": [{"sensor": sensor} for sensor in ("connected", "off", "earthed", "fed")],
    "intake_smoke": [{"seats": "plugged"}],
    "valve_clearance": [{"where": "inlet_valve"}, {"where": "exhaust_valve"}],
    "battery_voltage": [{"load": load} for load in ("rested", "cranking", "charging")],
}


def questions(of: Kind) -> tuple[tuple[str, Query], ...]:
    """Everything that is read on such an engine, on cylinder 1 where a check has cylinders."""
    return _questions(of.sheet)


@cache
def _questions(sheet: str) -> tuple[tuple[str, Query], ...]:
    of, found = kind(sheet), []
    for name in PREDICTED:
        device = FORM.device_of(name)
        if device is not None and device.id not in of.devices:
            continue
        found += [(_label(name, stated), ask(of, name, **stated)) for stated in [{}, *OTHERS.get(name, [])]]
    return tuple(found)


def _label(name: str, stated: dict[str, Any]) -> str:
    return f"{name} {' '.join(map(str, stated.values()))}".strip()


def answers(cars: Readout) -> dict[str, Any]:
    """What is compared, by question, in units of its own doubt: repeatability and the model's; widths."""
    found = {}
    for label, asked in questions(cars.kind):
        check = PREDICTED[asked.check]
        value = check.reads(cars, asked) + np.zeros(len(cars.cars))
        found[label] = (
            check.compared(value) / np.hypot(check.repeats, check.model)
            if isinstance(check, NumberCheck)
            else value
        )
    return found


def cases(of: Kind, severities: Any) -> list[tuple[Cause, int, float]]:
    """Every cause such an engine can have, in every form, at each of these severities."""
    able = [cause for cause in CAUSES.values() if cause.only is None or cause.only in of.devices]
    return [
        (cause, form, float(at)) for cause in able for form in range(len(cause.forms)) for at in severities
    ]


def spoilt(
    of: Kind, wanted: Sequence[tuple[Cause, int, float]], cylinder: int = 1, cars: Cars | None = None
) -> Readout:
    """A car for each case, the middle one where none are given; its screws as they were right without it."""
    one = middle_car(of)
    cars = Cars(one.rows, np.repeat(one.values, len(wanted), axis=1)) if cars is None else cars
    right, values = seen(of, cars), cars.values.copy()
    for column, (cause, form, severity) in enumerate(wanted):
        act_on(
            of.blueprint,
            values[:, column : column + 1],
            cause,
            cylinder if cause.per_cylinder else None,
            severity,
            form,
        )
    faulty = Cars(cars.rows, values)
    return Readout(of, faulty, set_since(of.design, of.torque, of.funnel, faulty, HOME, right.screws))
