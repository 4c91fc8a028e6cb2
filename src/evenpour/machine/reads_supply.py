"""What the checks of supply and pressures read, from the model.

SI; margins of choices in judgement widths.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np

from evenpour.machine import supply
from evenpour.machine.control import LEAD_TAKES, fed_with
from evenpour.machine.readout import Query, Readout
from evenpour.machine.situation import Engine
from evenpour.physics.electric import HEATER_COEFFICIENT, warmed_resistance

# Judgement widths: of clear fuel; what age takes of it; the share of the light end gone with which most of
# that has shown. Common practice, no source.
CLEAR, VARNISH, HALF_GONE = 6.0, 6.2, 0.45
# Where a sample full of rust and where one with a layer of water lies; of how much in the tank each shows.
# Common practice, no source.
RUST, WATER, DIRT_SHOWS, WATER_SHOWS = -4.75, 18.0, 0.5, 0.25
_LOADS: Mapping[str, Engine] = MappingProxyType(
    {"rested": "off", "cranking": "cranking", "charging": "idle_warm"}
)
AFTER_STOP = 600.0  # s, when holding pressure is read, where it is not said


def battery_voltage(seen: Readout, query: Query) -> Any:
    """On its posts: rested, under the starter, or charged by the running engine."""
    state = _LOADS[query.word("load", "rested")]
    return supply.battery(seen.cars, replace(query.situation, engine=state))


def pump_voltage(seen: Readout, query: Query) -> Any:
    """At the pump's terminals, running."""
    return supply.pump_voltage(seen.cars, query.situation)


def pump_current(seen: Readout, query: Query) -> Any:
    """At the system pressure of the moment."""
    system = seen.pressures(query.situation).system
    return supply.current(seen.cars, query.situation, system, seen.kind.centre["system_setting"])


def pump_delivery(seen: Readout, query: Query) -> Any:
    """At the distributor's return, or into a can before it; in the time stated, half a minute if none is."""
    where = query.word("where", "distributor_return")
    if where in supply.INTO_A_CAN:
        flow = supply.poured_out(seen.cars, query.situation, where)
    else:
        flow = supply.delivery(seen.cars, query.situation)
    return flow * query.number("duration", 30.0)


def pump_deadhead(seen: Readout, query: Query) -> Any:
    """Return pinched."""
    return _on_gauge(seen, supply.dead_head(seen.cars, query.situation))


def pump_cutoff(seen: Readout, query: Query) -> Any:
    """Order: runs on, stops."""
    return 6.0 - 12.0 * seen.cars["cutoff_bypassed"]


def accumulator_vent(seen: Readout, query: Query) -> Any:
    """Wet where the diaphragm leaks."""
    return 2.0 * np.log(seen.cars["accumulator_leak"] / seen.kind.centre["accumulator_leak"]) - 6.0


def system_pressure(seen: Readout, query: Query) -> Any:
    """Plate at rest, or held up with fuel pouring, or the engine running."""
    if query.situation.running:
        pressure = seen.running(query.situation).system
    elif query.situation.opening is not None:
        pressure = seen.pour(query.situation).system
    else:
        pressure = seen.pressures(query.situation).system
    return _on_gauge(seen, pressure)


def control_pressure(seen: Readout, query: Query) -> Any:
    """Cold or warm by the situation's regulator temperature and heater."""
    running = query.situation.running
    state = seen.running(query.situation) if running else seen.pressures(query.situation)
    return _on_gauge(seen, state.control)


def control_flow(seen: Readout, query: Query) -> Any:
    """From the regulator's return."""
    return seen.pressures(query.situation).flow


def holding_pressure(seen: Readout, query: Query) -> Any:
    """After the stop, with a hose pinched or a branch blocked where stated."""
    blocked = query.word("blocked", query.word("pinched", "none"))
    left, _ = seen.held(query.situation, query.number("after", AFTER_STOP), blocked)
    return _on_gauge(seen, left)


def regulator_heater_voltage(seen: Readout, query: Query) -> Any:
    """At its plug, under load: the engine running, or the pump bridged."""
    cars, situation = seen.cars, query.situation
    return fed_with(cars, supply.battery(cars, situation) - LEAD_TAKES) * supply.pump_runs(cars, situation)


def regulator_heater_resistance(seen: Readout, query: Query) -> Any:
    """At the temperature stated."""
    return warmed_resistance(
        seen.cars["heater_resistance"], query.number("temperature", 293.15), HEATER_COEFFICIENT
    )


def regulator_vacuum(seen: Readout, query: Query) -> Any:
    """Order: leaks, holds."""
    return 4.2 - 19.6 * seen.cars["load_leak"]


def fuel_look(seen: Readout, query: Query) -> Any:
    """Order: rust, varnish, clear, water. Neither old fuel, however dark, nor rust looks like water.

    What the strainer or the filter holds back shows in the sample too; under it all a layer of water does.
    """
    look = CLEAR - VARNISH * np.tanh(seen.cars["staleness"] / HALF_GONE)
    look += (RUST - look) * np.tanh(seen.cars["fuel_dirt"] / DIRT_SHOWS)
    return look + (WATER - look) * np.tanh(seen.cars["fuel_water"] / WATER_SHOWS)


def filter_look(seen: Readout, query: Query) -> Any:
    """Dirty where it resists; many a dirty filter still passes enough. Order: dirt, clean."""
    usual = seen.kind.centre["filter_resistance"]
    dirt = seen.cars["fuel_water"] + seen.cars["fuel_dirt"]
    return 1.6 - 0.9 * np.log(seen.cars["filter_resistance"] / usual) - 2.0 * dirt


def _on_gauge(seen: Readout, pressure: Any) -> Any:
    """What the gauge shows: its needle stops at its pin."""
    return np.maximum(pressure + seen.cars["gauge_offset"], 0.0)
