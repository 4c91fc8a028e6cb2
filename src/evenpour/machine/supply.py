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
RELIEF_CORNER = 0.3e-6  # m³/s, over which the pump's relief valve takes over
LEAST = 0.02e5  # Pa, what stands in the lines of a pump that does not run
HEAD_NEEDED, HEAD_CORNER = 0.5e5, 0.01  # Pa over what is pushed against, below which the ports pour less
STEP = 1.0e5  # Pa, above which over the regulator's own rise no answer lies
TOLERATED = 1e-9  # share of the pump's flow
ROUNDS = 30


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


def supplied(cars: Cars, free: Any, pressure: Any) -> tuple[Any, Any]:
    """Flow behind the filter at system *pressure* [Pa], and how fast it falls with it, [m³/s] and [m³/(s Pa)]. Hot.

    The pump sees the filter's loss besides the system pressure. Its slip takes a share of the sum, and its
    relief valve limits it.
    """
    slip, filter_ = cars["pump_slip"], cars["filter_resistance"]
    within = 1.0 + slip * filter_
    by_slip, slope = (free - slip * pressure) / within, slip / within
    by_relief, steep = (cars["pump_relief"] - pressure) / filter_, 1.0 / filter_
    apart = by_slip - by_relief
    root = np.sqrt(apart * apart + RELIEF_CORNER * RELIEF_CORNER)
    side = apart / root
    return 0.5 * (by_slip + by_relief - root), 0.5 * (slope + steep + side * (steep - slope))


def system_pressure(
    cars: Cars, situation: Situation, control: Any, poured: Any = 0.0, against: Any = 0.0
) -> tuple[Any, Any]:
    """Where supply, primary regulator and demand balance.

    Args:
        control: What the control circuit takes at the set pressure, [m³/s], shape (cars,).
        poured: What leaves through the ports while the pressure lasts, [m³/s].
        against: What that has to push against, [Pa]: the injectors' opening pressure, or nothing.
    Returns:
        System pressure, [Pa], and the share of the pump's flow that is left out of balance (convergence).
    """
    free = free_flow(cars, situation)
    setting = cars["system_setting"]
    stiffness = REGULATOR_STIFFNESS + cars["return_resistance"]
    supply, falls = supplied(cars, free, setting)
    over = supply - control - poured
    pressure = setting + over / np.where(
        over > 0.0, 1.0 / stiffness + falls, falls + (control + poured) / setting
    )
    missed, tolerated = over, TOLERATED * cars["pump_flow"]
    low, high = np.full_like(setting, LEAST), setting + np.maximum(over, 0.0) * stiffness + STEP
    for _ in range(ROUNDS):
        pressure = np.clip(pressure, low, high)
        lift = (pressure - setting) / stiffness
        root = np.sqrt(lift * lift + CORNER * CORNER)
        returned, opened = 0.5 * (lift + root), 0.5 * (1.0 + lift / root) / stiffness
        supply, falls = supplied(cars, free, pressure)
        # the control circuit takes less as its pressure falls; the ports pour until the head is nearly gone
        drive = np.sqrt(pressure / setting)
        x = (pressure - against) / HEAD_NEEDED
        curve = np.sqrt((x - 1.0) ** 2 + HEAD_CORNER)
        share = 0.5 * (x + 1.0 - curve)
        share_slope = np.where(share > 0.0, 0.5 * (1.0 - (x - 1.0) / curve) / HEAD_NEEDED, 0.0)
        taken = control * drive + poured * np.maximum(share, 0.0)
        missed = supply - taken - returned
        steep = falls + opened + 0.5 * control * drive / pressure + poured * share_slope
        if np.all(np.abs(missed) <= tolerated):
            break
        # what is missing falls with pressure throughout: Newton, and halving where it would leave the bracket
        low, high = np.where(missed > 0.0, pressure, low), np.where(missed < 0.0, pressure, high)
        tried = pressure + missed / steep
        pressure = np.where((tried > low) & (tried < high), tried, 0.5 * (low + high))
    missed = np.where(pressure <= 1.5 * LEAST, 0.0, missed)
    return pressure, np.abs(missed) / np.maximum(cars["pump_flow"], 1e-9)


def delivery(cars: Cars, situation: Situation) -> Any:
    """Flow at the distributor's return with the plate at rest, the regulator holding its pressure, [m³/s]. Hot."""
    flow, _ = supplied(cars, free_flow(cars, situation), cars["system_setting"])
    return positive(flow, 0.2e-6)


def dead_head(cars: Cars, situation: Situation) -> Any:
    """Pressure with the return pinched, [Pa]: where the pump's slip or its relief valve takes all. Hot."""
    flow = free_flow(cars, situation)
    return lesser(flow / cars["pump_slip"], cars["pump_relief"], 0.1e5)


def current(cars: Cars, situation: Situation, pressure: Any) -> Any:
    """Current of the pump, [A], at system *pressure* [Pa]; it works against the filter as well. Hot."""
    flow = positive(supplied(cars, free_flow(cars, situation), pressure)[0], 1e-8)
    head = pressure + flow * cars["filter_resistance"]
    usual = cars["system_setting"] * 1.03
    idle_share = 0.45  # of the current with no pressure to push against; common practice, no source
    starved = 1.0 - 0.25 * positive(1.0 - cars["feed_capacity"] / np.maximum(cars["pump_flow"], 1e-9), 0.02)
    running = cars["pump_current"] * (idle_share + (1.0 - idle_share) * head / usual) * starved
    return running * (1.0 - cars["pump_off"])
