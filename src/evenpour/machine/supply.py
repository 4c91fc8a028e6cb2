"""What pump, filter and primary regulator make of the battery's voltage: delivery and system pressure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import VOLTS_WARM, Situation
from evenpour.machine.smooth import lesser, positive
from evenpour.machine.some import PerCar

PER_VOLT = 0.10  # 1/V, flow of the pump gained for each volt about 12 V; common practice, no source
LEAST_VOLTS = 4.0  # V, below which the pump does not turn; common practice, no source
REGULATOR_STIFFNESS = 0.02e5 / 10e-6  # Pa s/m³, 0.02 bar for each 10 ml/s returned; from memory, not verified
CORNER = 0.15e-6  # m³/s, over which the regulator's valve comes off its seat
RELIEF_CORNER = 0.3e-6  # m³/s, over which the pump's relief valve takes over
LEAST = 0.02e5  # Pa, what stands in the lines of a pump that does not run
HEAD_NEEDED, HEAD_CORNER = 0.5e5, 0.01  # Pa over what is pushed against, below which the ports pour less
STEP = 1.0e5  # Pa, above which over the regulator's own rise no answer lies
TOLERATED = 1e-7  # share of the pump's flow left before the last step
TOGETHER, ROUNDS = 2, 30  # rounds of all cars, and then of those that need more


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


@dataclass(frozen=True, slots=True)
class _Line(PerCar):
    """Flow behind the filter over system pressure: the lower of what slip and relief valve leave. SI."""

    slip_at_rest: Any
    slip_falls: Any
    relief_at_rest: Any
    relief_falls: Any

    def at(self, pressure: Any) -> tuple[Any, Any]:
        """Flow, [m³/s], and how fast it falls with *pressure*, [m³/(s Pa)]. Hot."""
        by_slip = self.slip_at_rest - self.slip_falls * pressure
        by_relief = self.relief_at_rest - self.relief_falls * pressure
        apart = by_slip - by_relief
        root = np.sqrt(apart * apart + RELIEF_CORNER * RELIEF_CORNER)
        steeper = (self.relief_falls - self.slip_falls) * (apart / root)
        return 0.5 * (by_slip + by_relief - root), 0.5 * (self.slip_falls + self.relief_falls + steeper)


def _line(cars: Cars, free: Any) -> _Line:
    """The pump sees the filter's loss besides the system pressure. Its slip takes a share of the sum, and its
    relief valve limits it.
    """
    slip, filter_ = cars["pump_slip"], cars["filter_resistance"]
    within, steep = 1.0 + slip * filter_, 1.0 / filter_
    return _Line(free / within, slip / within, cars["pump_relief"] * steep, steep)


def supplied(cars: Cars, free: Any, pressure: Any) -> tuple[Any, Any]:
    """Flow behind the filter at system *pressure* [Pa], [m³/s], and how fast it falls with it. Hot."""
    return _line(cars, free).at(pressure)


@dataclass(frozen=True, slots=True)
class Demand(PerCar):
    """What the ports pour while pressure lasts, [m³/s], and what it pushes against, [Pa]; (cars,)."""

    poured: Any
    against: Any


@dataclass(frozen=True, slots=True)
class Balance(PerCar):
    """Supply and primary regulator, whatever the ports pour. Shape (cars,), SI.

    Attributes:
        control: What the control circuit takes, for the root of the pressure.
        flow: Of the pump at 12 V, unhindered.
    """

    pump: _Line
    setting: Any
    stiffness: Any
    control: Any
    flow: Any

    def pressure(self, demand: Demand | None = None) -> tuple[Any, Any]:
        """System pressure, [Pa], and the share of the pump's flow left out of balance before the last step.

        Newton's method: two rounds are enough for a regulator that regulates, and the last step is not looked
        at again, since it squares what was left. The rest goes on by itself.
        """
        pressure, over = self._regulated(demand)
        high = self.setting + np.maximum(over, 0.0) * self.stiffness + STEP
        for _ in range(TOGETHER):
            pressure = np.clip(pressure, LEAST, high)
            missed, steep = self._missed(demand, pressure)
            pressure = pressure + missed / steep
        unbalanced = np.abs(missed) / self.flow
        rest = np.flatnonzero(unbalanced > TOLERATED)
        if rest.size:
            some, asks = self.some(rest), None if demand is None else demand.some(rest)
            first = np.where(over[rest] > 0.0, pressure[rest], some._short(asks))
            pressure[rest], unbalanced[rest] = some._bracketed(asks, first, high[rest])
        return pressure, unbalanced

    def _missed(self, demand: Demand | None, pressure: Any) -> tuple[Any, Any]:
        """What supply leaves over at *pressure*, [m³/s], and how fast that falls with it."""
        supply, falls = self.pump.at(pressure)
        lift = (pressure - self.setting) / self.stiffness
        root = np.sqrt(lift * lift + CORNER * CORNER)
        returned = 0.5 * (lift + root)
        taken = self.control * np.sqrt(pressure)  # the control circuit takes less as its pressure falls
        left = supply - taken - returned
        steep = falls + returned / (root * self.stiffness) + 0.5 * taken / pressure
        if demand is None:
            return left, steep
        # the ports pour until the head is nearly gone
        beyond = (pressure - demand.against) * (1.0 / HEAD_NEEDED) - 1.0
        curve = np.sqrt(beyond * beyond + HEAD_CORNER)
        share = np.maximum(0.5 * (beyond + 2.0 - curve), 0.0)
        steeper = (share > 0.0) * (1.0 - beyond / curve) * (0.5 / HEAD_NEEDED)
        return left - demand.poured * share, steep + demand.poured * steeper

    def _regulated(self, demand: Demand | None) -> tuple[Any, Any]:
        """About where the regulator holds the pressure while supply lasts, and what it has left to return."""
        supply, falls = self.pump.at(self.setting)
        over = supply - self.control * np.sqrt(self.setting) - (0.0 if demand is None else demand.poured)
        return self.setting + over / (1.0 / self.stiffness + falls), over

    def _short(self, demand: Demand | None) -> Any:
        """About where the pressure stays when supply does not last: the regulator shut, the pump on a line.

        Where that is too little for the ports to pour in full, they pour what is left.
        """
        supply, falls = self.pump.at(self.setting)
        at_rest = supply + falls * self.setting
        left = np.maximum(at_rest - (0.0 if demand is None else demand.poured), 0.0)
        root = 2.0 * left / (self.control + np.sqrt(self.control * self.control + 4.0 * falls * left))
        if demand is None:
            return root * root
        whole = demand.against + HEAD_NEEDED
        share = (at_rest - falls * whole - self.control * np.sqrt(whole)) / np.maximum(demand.poured, 1e-12)
        partly = demand.against + HEAD_NEEDED * np.clip(share, 0.0, 1.0)
        return np.where(root * root > whole, root * root, partly)

    def _bracketed(self, demand: Demand | None, first: Any, high: Any) -> tuple[Any, Any]:
        """What is left over falls with pressure: Newton, and halving where it would leave the bracket."""
        low = np.full_like(first, LEAST)
        still = (
            self._missed(demand, low)[0] > 0.0
        )  # else nothing runs: what stands in the lines is all there is
        pressure = np.where(still, np.clip(first, low, high), low)
        missed = np.zeros_like(first)
        for _ in range(ROUNDS):
            now, steep = self._missed(demand, pressure)
            missed = np.where(still, now, missed)
            low, high = np.where(now > 0.0, pressure, low), np.where(now < 0.0, pressure, high)
            tried = pressure + now / steep
            tried = np.where((tried >= low) & (tried <= high), tried, 0.5 * (low + high))
            pressure = np.where(still, tried, pressure)
            still = still & (np.abs(now) > TOLERATED * self.flow)
            if not still.any():
                break
        return pressure, np.abs(missed) / self.flow


def balance(cars: Cars, situation: Situation, control: Any) -> Balance:
    """Supply and primary regulator of *cars*. Hot.

    Args:
        control: What the control circuit takes at the set pressure, [m³/s], shape (cars,).
    """
    setting = cars["system_setting"]
    return Balance(
        _line(cars, free_flow(cars, situation)),
        setting,
        REGULATOR_STIFFNESS + cars["return_resistance"],
        control / np.sqrt(setting),
        np.maximum(cars["pump_flow"], 1e-9),
    )


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
    return balance(cars, situation, control).pressure(Demand(poured, against))


def delivery(cars: Cars, situation: Situation) -> Any:
    """Flow at the distributor's return, plate at rest, the regulator holding its pressure, [m³/s]. Hot."""
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
