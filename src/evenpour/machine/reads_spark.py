"""What the checks of spark and of the bare engine read. SI, angles in turns; margins in judgement widths."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.design_point import REFERENCE_PRESSURE_ABS
from evenpour.machine.ohmmeter import shown_ohms
from evenpour.machine.readout import Query, Readout
from evenpour.machine.torque import advance_comes
from evenpour.machine.valves import seated

SPARKS = 4.5  # judgement widths; common practice, no source
LOST_FULL = 0.10  # share a good cylinder loses; common practice, no source


def compression(seen: Readout, query: Query) -> Any:
    """Plug out, throttle wide; thinner air gives less."""
    pressed = seen.of("compression", query) * _seated(seen, query)
    return pressed * query.situation.outside / REFERENCE_PRESSURE_ABS


def leak_down(seen: Readout, query: Query) -> Any:
    """Share lost; grows as the compression falls."""
    kept = seen.of("compression", query) * _seated(seen, query)
    left = np.clip(kept / seen.kind.centre["compression"], 0.02, 1.3)
    return np.minimum(LOST_FULL * left ** (-3.0), 0.97)


def valve_clearance(seen: Readout, query: Query) -> Any:
    """Cold, of the inlet valve unless the exhaust valve is named. A valve that is held open has none."""
    if query.word("where", "inlet_valve") == "exhaust_valve":
        return np.maximum(seen.kind.exhaust_clearance * seen.of("exhaust_clearance", query), 0.0)
    return np.maximum(seen.kind.clearance * seen.of("valve_clearance", query), 0.0)


def _seated(seen: Readout, query: Query) -> Any:
    return seated(seen.kind, seen.cars)[(query.cylinder or 1) - 1]


def timing_static(seen: Readout, query: Query) -> Any:
    """Before top dead centre."""
    return seen.kind.torque.idle_timing + seen.cars["timing"]


def timing_running(seen: Readout, query: Query) -> Any:
    """Before top dead centre, at the speed stated or at idle."""
    speed = query.number("speed", seen.kind.design.idle_speed)
    hose, cars = query.word("hose", "off") == "on", seen.cars
    # at idle the hose's place before the throttle gives no vacuum, unless it is crossed with one behind
    pulled = 1.0 if speed > 20.0 else cars["hoses_crossed"]
    vacuum = pulled * (1.0 - cars["advance_leak"]) if hose else 0.0
    return seen.kind.torque.timing(speed, cars["timing"], advance_comes(cars), hose, vacuum)


def advance(seen: Readout, query: Query) -> Any:
    """Over the idle timing, at the speed stated or at 3,000 rpm."""
    speed = query.number("speed", 50.0)
    torque, cars = seen.kind.torque, seen.cars
    vacuum = (1.0 - cars["advance_leak"]) if query.word("hose", "off") == "on" else 0.0
    there = torque.timing(speed, 0.0, advance_comes(cars), query.word("hose", "off") == "on", vacuum)
    return there - torque.idle_timing


def advance_unit(seen: Readout, query: Query) -> Any:
    """Order: leaks, holds."""
    return 4.2 - 11.2 * seen.cars["advance_leak"]


def dwell(seen: Readout, query: Query) -> Any:
    """At the distributor."""
    return seen.cars["dwell"]


def spark_seen(seen: Readout, query: Query) -> Any:
    """Order: no, yes. A tester shows a spark that comes now and then; one that is there is not overlooked."""
    return SPARKS * (1.0 - 2.0 * np.minimum(seen.of("misfire", query), 1.0))


def spark_lead_resistance(seen: Readout, query: Query) -> Any:
    """With its cap."""
    return shown_ohms(seen.of("lead_resistance", query))
