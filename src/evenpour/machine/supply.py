"""What pump, filter and primary regulator make of the battery's voltage: delivery and system pressure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.control import Feed, feed
from evenpour.machine.metering import Paths
from evenpour.machine.parameters import Cars
from evenpour.machine.situation import VOLTS_WARM, Situation
from evenpour.machine.smooth import lesser, positive
from evenpour.machine.some import PerCar

RESTED = 12.6  # V, of a battery that is not charged; common practice, no source
PER_VOLT = 0.10  # 1/V, flow of the pump gained for each volt about 12 V; common practice, no source
LEAST_VOLTS = 4.0  # V, below which the pump does not turn; common practice, no source
STARTER_TAKES = 2.0  # V, what the starter pulls the battery down by; common practice, no source
REGULATOR_STIFFNESS = 0.02e5 / 10e-6  # Pa s/m³, 0.02 bar for each 10 ml/s returned; from memory, not verified
CORNER = 0.15e-6  # m³/s, over which the regulator's valve comes off its seat
RELIEF_CORNER = 0.3e-6  # m³/s, over which the pump's relief valve takes over
LEAST = 0.02e5  # Pa, what stands in the lines of a pump that does not run
IDLE_CURRENT = (
    0.45  # share of the pump's current with no pressure to push against; common practice, no source
)
STARVED_CURRENT = 0.25  # share it loses with nothing to pump; common practice, no source
USUAL_HEAD = 1.03  # what a pump pushes against over the system pressure: filter and lines
STEP = 1.0e5  # Pa, above which over the regulator's own rise no answer lies
TOLERATED = 1e-7  # share of the pump's flow left before the last step
SHORT = 0.9  # of the set pressure, where one begins to look when supply does not last
HARDLY = 1e-3  # share of the pump's flow, below which it hardly matters what is poured
NEARS = 0.8  # share to which a step must bring down what is left over
CLOSE, NARROW = 1e-7, 1e-5  # share of the pump's flow, and Pa, at which a search ends
ROUNDS = 60  # of those that need more than two


def pump_voltage(cars: Cars, situation: Situation) -> Any:
    """Voltage at the pump's terminals while it runs, [V]. Hot."""
    if situation.pump_voltage is not None:
        return situation.pump_voltage + 0.0 * cars["supply_voltage"]
    source = cars["supply_voltage"]
    if situation.running:
        source = source + (VOLTS_WARM - RESTED)
    elif situation.engine == "cranking":
        source = source - STARTER_TAKES
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
    """What the slits ask for, [m³/s], (ports, cars), and the paths it has to go."""

    wanted: Any
    paths: Paths

    def poured(self, pressure: Any) -> Any:
        """What leaves each port at a system *pressure* [Pa], [m³/s]. Hot."""
        return self.paths.limited(self.wanted, self.paths.most(pressure))


@dataclass(frozen=True, slots=True)
class Balance(PerCar):
    """Supply, primary regulator and control circuit, whatever the ports pour. Shape (cars,), SI.

    Attributes:
        orifice: Flow into the control circuit for the root of the pressure over its feed.
        flow: Of the pump at 12 V, unhindered.
    """

    pump: _Line
    setting: Any
    stiffness: Any
    feed: Feed
    orifice: Any
    flow: Any

    def pressure(self, set_to: Any, demand: Demand | None = None) -> tuple[Any, Any, Any]:
        """Where all balance. Hot.

        Newton's method: two rounds are enough for a regulator that regulates, the second with the first one's
        slope of what the ports pour. Its step is not looked at again, since it squares what was left. The
        rest goes on by itself.

        Args:
            set_to: What the control-pressure regulator sets, [Pa].
        Returns:
            System pressure, [Pa]; what leaves each port at it, [m³/s], nothing where there is no demand; and
            the share of the pump's flow left out of balance before the last step.
        """
        pressure, over = self._regulated(set_to, 0.0 if demand is None else demand.wanted.sum(axis=0))
        high = self.setting + np.maximum(over, 0.0) * self.stiffness + STEP
        pressure = np.clip(pressure, LEAST, high)
        left, steep, poured, rises = self._left_over(set_to, demand, pressure)
        pressure = np.clip(pressure + left / steep, LEAST, high)
        left, steep = self._left(set_to, pressure)
        if demand is not None:
            poured = demand.poured(pressure)
            left, steep = left - poured.sum(axis=0), steep + rises.sum(axis=0)
        step, unbalanced = left / steep, np.abs(left) / self.flow
        pressure, poured = pressure + step, None if demand is None else poured + rises * step
        rest = np.flatnonzero(unbalanced > TOLERATED)
        if rest.size:
            started = np.where(over[rest] > 0.0, pressure[rest], self.setting[rest] * SHORT)
            self._write((pressure, poured, unbalanced), rest, set_to, demand, started, 0.0)
        return pressure, poured, unbalanced

    def usual(self, set_to: Any, taken: Any) -> Any:
        """About where the pressure lies while the ports pour *taken* [m³/s], to begin with, [Pa]. Hot."""
        pressure, _ = self._regulated(set_to, taken)
        return np.maximum(pressure, LEAST)

    def step(self, set_to: Any, demand: Demand, before: Any, off: float) -> tuple[Any, Any, Any]:
        """One round closer to the balance, for a solve in which the demand moves as well. Hot.

        One step of Newton's from the pressure *before* [Pa]; while its regulator is open that alone decides.
        Where supply cannot hold the pressure, the step counts on what the ports then pour; and where more
        than a share *off* of that is out of balance, it is solved for: a step may hop about an injector's
        opening.

        Returns:
            As `pressure`; what the ports pour is at the pressure *before* while the regulator is open.
        """
        poured = demand.poured(before)
        left, steep = self._left(set_to, before)
        left = left - poured.sum(axis=0)
        found = before + left / steep, poured, np.abs(left) / self.flow
        shut = np.flatnonzero((found[0] < self.setting) | (before < self.setting))
        if shut.size:
            self._write(found, shut, set_to, demand, before[shut], off)
        return found

    def _write(
        self,
        found: tuple[Any, Any, Any],
        rest: Any,
        set_to: Any,
        demand: Demand | None,
        start: Any,
        off: float,
    ) -> None:
        """Take some of the cars further from *start* [Pa], and write over what was *found* of them."""
        some, asks = self.some(rest), None if demand is None else demand.some(rest)
        set_some = set_to.take(rest) if np.ndim(set_to) else set_to
        for whole, new in zip(found, some._shut(set_some, asks, start, off), strict=True):
            if whole is not None:
                whole[..., rest] = new

    def _shut(self, set_to: Any, demand: Demand | None, before: Any, off: float) -> tuple[Any, Any, Any]:
        """A round in which no regulator helps."""
        left, steep, poured, rises = self._left_over(set_to, demand, before)
        nothing = _nothing(before, left)
        pressure = np.where(nothing, LEAST, np.maximum(before + left / steep, LEAST))
        unbalanced = np.where(nothing, 0.0, np.abs(left) / self.flow)
        if demand is None:
            far = ~nothing
        else:
            far = ~nothing & (np.abs(left) > off * (poured.sum(axis=0) + HARDLY * self.flow))
            poured = poured + rises * (pressure - before)
        found = pressure, poured, unbalanced
        rest = np.flatnonzero(far)
        if rest.size:
            some, asks = self.some(rest), None if demand is None else demand.some(rest)
            set_some = set_to.take(rest) if np.ndim(set_to) else set_to
            for whole, new in zip(found, some._bracketed(set_some, asks, before[rest]), strict=True):
                if whole is not None:
                    whole[..., rest] = new
        return found

    def taken(self, set_to: Any, pressure: Any) -> tuple[Any, Any]:
        """What the control circuit takes at a system *pressure* [Pa], [m³/s]; its own pressure, [Pa]. Hot."""
        control = self.feed.control(pressure, set_to)
        return self.orifice * np.sqrt(np.maximum(pressure - control, 1.0)), control

    def _left(self, set_to: Any, pressure: Any) -> tuple[Any, Any]:
        """What supply leaves for the ports at *pressure*, [m³/s], and how fast that falls with it."""
        supply, falls = self.pump.at(pressure)
        lift = (pressure - self.setting) / self.stiffness
        root = np.sqrt(lift * lift + CORNER * CORNER)
        returned = 0.5 * (lift + root)
        control, rises = self.feed.answer(pressure, set_to)
        drop = np.maximum(pressure - control, 1.0)
        taken = self.orifice * np.sqrt(drop)
        more = 0.5 * taken / drop * (1.0 - rises)
        return supply - taken - returned, falls + returned / (root * self.stiffness) + more

    def _regulated(self, set_to: Any, taken: Any) -> tuple[Any, Any]:
        """About where the regulator holds the pressure while supply lasts, and what it has left to return."""
        supply, falls = self.pump.at(self.setting)
        into, control = self.taken(set_to, self.setting)
        over, more = supply - into - taken, 0.5 * into / np.maximum(self.setting - control, 1.0)
        return self.setting + over / (1.0 / self.stiffness + falls + more), over

    def _left_over(self, set_to: Any, demand: Demand | None, pressure: Any) -> tuple[Any, Any, Any, Any]:
        """What nobody takes at *pressure*, [m³/s], and how fast that falls with it; what the ports pour, and
        how fast that rises.
        """
        left, steep = self._left(set_to, pressure)
        if demand is None:
            return left, steep, None, None
        poured, rises = demand.paths.answer(demand.wanted, pressure)
        return left - poured.sum(axis=0), steep + rises.sum(axis=0), poured, rises

    def _bracketed(self, set_to: Any, demand: Demand | None, first: Any) -> tuple[Any, Any, Any]:
        """What is left over falls with pressure: Newton, and halving where it leaves the bracket or hops."""
        low, pressure = np.zeros_like(first), np.maximum(first, LEAST)
        high = self.setting + np.maximum(self.pump.at(self.setting)[0], 0.0) * self.stiffness + STEP
        missed, still, before = np.zeros_like(first), np.ones(first.shape, dtype=bool), np.inf
        for _ in range(ROUNDS):
            left, steep, _, _ = self._left_over(set_to, demand, pressure)
            nothing = _nothing(pressure, left)
            missed = np.where(nothing, 0.0, np.where(still, left, missed))
            low, high = np.where(left > 0.0, pressure, low), np.where(left < 0.0, pressure, high)
            tried = np.maximum(pressure + left / steep, LEAST)
            close = np.abs(left) <= CLOSE * self.flow
            nears = (tried > low) & (tried < high) & (np.abs(left) < NEARS * before)
            tried = np.where(nears | close, tried, 0.5 * (low + high))
            pressure = np.where(still & ~nothing, tried, pressure)
            still = still & ~nothing & ~close & (high - low > NARROW)
            if not still.any():
                break
            before = np.abs(left)
        return pressure, None if demand is None else demand.poured(pressure), np.abs(missed) / self.flow


def _nothing(pressure: Any, left: Any) -> Any:
    """Where nothing runs: what stands in the lines is all there is."""
    return (pressure <= LEAST) & (left <= 0.0)


def balance(cars: Cars, situation: Situation) -> Balance:
    """Supply, primary regulator and control circuit of *cars*. Hot."""
    return Balance(
        _line(cars, free_flow(cars, situation)),
        cars["system_setting"],
        REGULATOR_STIFFNESS + cars["return_resistance"],
        feed(cars),
        cars["feed_orifice"],
        np.maximum(cars["pump_flow"], 1e-9),
    )


def delivery(cars: Cars, situation: Situation) -> Any:
    """Flow at the distributor's return, plate at rest, the regulator holding its pressure, [m³/s]. Hot."""
    flow, _ = supplied(cars, free_flow(cars, situation), cars["system_setting"])
    return positive(flow, 0.2e-6)


def dead_head(cars: Cars, situation: Situation) -> Any:
    """Pressure with the return pinched, [Pa]: where the pump's slip or its relief valve takes all. Hot."""
    flow = free_flow(cars, situation)
    return lesser(flow / cars["pump_slip"], cars["pump_relief"], 0.1e5)


def current(cars: Cars, situation: Situation, pressure: Any, usual: float) -> Any:
    """Current of the pump, [A], at system *pressure* [Pa]; it works against the filter as well. Hot.

    Args:
        usual: System pressure at which the pump takes its usual current, [Pa].
    """
    free = free_flow(cars, situation)
    flow = positive(supplied(cars, free, pressure)[0], 1e-8)
    head = pressure + flow * cars["filter_resistance"]
    loaded = IDLE_CURRENT + (1.0 - IDLE_CURRENT) * head / (USUAL_HEAD * usual)
    dry = positive(1.0 - cars["feed_capacity"] / np.maximum(cars["pump_flow"], 1e-9), 0.02)
    running = cars["pump_current"] * loaded * (1.0 - STARVED_CURRENT * dry)
    return running * (1.0 - cars["pump_off"])
