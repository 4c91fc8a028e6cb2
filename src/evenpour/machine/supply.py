"""What pump, filter and primary regulator make of the battery's voltage: delivery and system pressure."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import VOLTS_WARM, Situation
from evenpour.machine.smooth import lesser, positive

PER_VOLT = 0.10  # 1/V, flow of the pump gained for each volt about 12 V; common practice, no source
LEAST_VOLTS = 4.0  # V, below which the pump does not turn; common practice, no source
REGULATOR_STIFFNESS = 0.02e5 / 10e-6  # Pa s/m³, 0.02 bar for each 10 ml/s returned; from memory, not verified
CORNER = 0.15e-6  # m³/s, over which the regulator's valve comes off its seat
ROUNDS = 5


def pump_voltage(cars: Cars, situation: Situation) -> Any:
    """Voltage at the pump's terminals while it runs, [V]. Hot."""
    if situation.pump_voltage is not None:
        return situation.pump_voltage + 0.0 * cars["supply_voltage"]
    source = VOLTS_WARM - 12.6 + cars["supply_voltage"] if situation.running else cars["supply_voltage"]
    return source - cars["pump_wiring"] * cars["pump_current"]


def free_flow(cars: Cars, situation: Situation) -> Any:
    """What pump and feed would bring against no pressure, [m³/s]. Hot."""
    volts = pump_voltage(cars, situation)
    speed = positive(1.0 + PER_VOLT * (volts - 12.0), 0.02) * np.tanh(positive(volts - LEAST_VOLTS, 0.1))
    turned = cars["pump_flow"] * speed * (1.0 - cars["pump_off"])
    return lesser(turned, cars["feed_capacity"], 0.05 * turned)


def slope(cars: Cars) -> Any:
    """Flow lost for each pascal of system pressure, slip of the pump behind its filter, [m³/(s Pa)]. Hot."""
    return cars["pump_slip"] / (1.0 + cars["pump_slip"] * cars["filter_resistance"])


def brought(cars: Cars, situation: Situation) -> Any:
    """Flow behind the filter against no system pressure, [m³/s]; with :func:`slope` the supply's whole line. Hot.

    The pump sees the filter's loss besides the system pressure, and its relief valve limits the sum.
    """
    free = free_flow(cars, situation)
    line = free / (1.0 + cars["pump_slip"] * cars["filter_resistance"])
    return lesser(line, cars["pump_relief"] / cars["filter_resistance"], 0.02 * free)


def system_pressure(cars: Cars, situation: Situation, demand: Any, demand_slope: Any = 0.0) -> tuple[Any, Any]:
    """Where supply, primary regulator and demand balance.

    Args:
        demand: What distributor and control circuit take at the set pressure, [m³/s], shape (cars,).
        demand_slope: How that grows with system pressure, [m³/(s Pa)].
    Returns:
        System pressure, [Pa], and the share of the supply that is left out of balance (convergence).
    """
    supply, lost = brought(cars, situation), slope(cars)
    setting = cars["system_setting"]
    stiffness = REGULATOR_STIFFNESS + cars["return_resistance"]
    over = supply - lost * setting - demand
    pressure = np.where(
        over > 0.0,
        setting + over / (1.0 / stiffness + lost + demand_slope),
        setting + over / (lost + demand_slope + 1e-13),
    )
    pressure = np.maximum(pressure, 0.0)
    missed = over
    for _ in range(ROUNDS):
        lift = (pressure - setting) / stiffness
        root = np.sqrt(lift * lift + CORNER * CORNER)
        returned, opened = 0.5 * (lift + root), 0.5 * (1.0 + lift / root) / stiffness
        taken = demand + demand_slope * (pressure - setting)
        missed = supply - lost * pressure - taken - returned
        pressure = np.maximum(pressure + missed / (lost + demand_slope + opened), 0.0)
    return pressure, np.abs(missed) / np.maximum(supply, 1e-9)


def delivery(cars: Cars, situation: Situation) -> Any:
    """Flow at the distributor's return with the plate at rest, the regulator holding its pressure, [m³/s]. Hot."""
    flow = brought(cars, situation) - slope(cars) * cars["system_setting"]
    return positive(flow, 0.2e-6)


def dead_head(cars: Cars, situation: Situation) -> Any:
    """Pressure with the return pinched, [Pa]: where the pump's slip or its relief valve takes all. Hot."""
    flow = free_flow(cars, situation)
    return lesser(flow / cars["pump_slip"], cars["pump_relief"], 0.1e5)


def current(cars: Cars, situation: Situation, pressure: Any) -> Any:
    """Current of the pump, [A], at system *pressure* [Pa]; it works against the filter as well. Hot."""
    flow = positive(brought(cars, situation) - slope(cars) * pressure, 1e-8)
    head = pressure + flow * cars["filter_resistance"]
    usual = cars["system_setting"] * 1.03
    idle_share = 0.45  # of the current with no pressure to push against; common practice, no source
    starved = 1.0 - 0.25 * positive(1.0 - cars["feed_capacity"] / np.maximum(cars["pump_flow"], 1e-9), 0.02)
    running = cars["pump_current"] * (idle_share + (1.0 - idle_share) * head / usual) * starved
    return running * (1.0 - cars["pump_off"])
