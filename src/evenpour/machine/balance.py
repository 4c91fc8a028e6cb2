"""Where supply, primary regulator, control circuit and ports balance: the system pressure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.control import Feed, feed
from evenpour.machine.metering import Paths
from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Situation
from evenpour.machine.some import PerCar
from evenpour.machine.supply import REGULATOR_STIFFNESS, PumpLine, free_flow, pump_line

CORNER = 0.15e-6  # m³/s, over which the regulator's valve comes off its seat
LEAST = 0.02e5  # Pa, what stands in the lines of a pump that does not run
STEP = 1.0e5  # Pa, above which over the regulator's own rise no answer lies
TOLERATED = 1e-7  # share of the pump's flow left before the last step
SHORT = 0.9  # of the set pressure, where one begins to look when supply does not last
HARDLY = 1e-3  # share of the pump's flow, below which it hardly matters what is poured
NEARS = 0.8  # share to which a step must bring down what is left over
NARROW = 1e-5  # Pa, between which a search ends
ROUNDS = 60  # of a search


@dataclass(frozen=True, slots=True)
class Demand(PerCar):
    """What the slits ask for, [m³/s], (ports, cars), and the paths it has to go."""

    wanted: Any
    paths: Paths

    def poured(self, pressure: Any) -> Any:
        """What leaves each port at a system *pressure* [Pa], [m³/s]. Hot."""
        return self.paths.limited(self.wanted, self.paths.most(pressure))


@dataclass(frozen=True, slots=True)
class Level(PerCar):
    """Where a balance lies.

    Attributes:
        pressure: Of the system, [Pa], (cars,).
        poured: What leaves each port at it, [m³/s], (ports, cars); ``None`` where there is no demand.
        unbalanced: Share of the pump's flow that was left out of balance before the last step, (cars,).
    """

    pressure: Any
    poured: Any
    unbalanced: Any


@dataclass(frozen=True, slots=True)
class Balance(PerCar):
    """Supply, primary regulator and control circuit, whatever the ports pour. Shape (cars,), SI.

    Attributes:
        orifice: Flow into the control circuit for the root of the pressure over its feed.
        flow: Of the pump at 12 V, unhindered.
    """

    pump: PumpLine
    setting: Any
    stiffness: Any
    feed: Feed
    orifice: Any
    flow: Any

    def pressure(self, set_to: Any, demand: Demand | None = None) -> Level:
        """Where all balance, with *set_to* [Pa] what the control-pressure regulator sets. Hot.

        Newton's method: two rounds are enough for a regulator that regulates, the second with the first one's
        slope of what the ports pour. Its step is not looked at again, since it squares what was left. The
        rest goes on by itself.
        """
        asked = _Asked(self, set_to, demand)
        pressure, over = self._regulated(set_to, 0.0 if demand is None else demand.wanted.sum(axis=0))
        high = self.setting + np.maximum(over, 0.0) * self.stiffness + STEP
        pressure = np.clip(pressure, LEAST, high)
        left, steep, poured, rises = asked.left_over(pressure)
        pressure = np.clip(pressure + left / steep, LEAST, high)
        left, steep = self.left(set_to, pressure)
        if demand is not None:
            poured = demand.poured(pressure)
            left, steep = left - poured.sum(axis=0), steep + rises.sum(axis=0)
        step = left / steep
        poured = None if demand is None else poured + rises * step
        found = Level(pressure + step, poured, np.abs(left) / self.flow)
        rest = np.flatnonzero(found.unbalanced > TOLERATED)
        if rest.size:
            start = np.where(over[rest] > 0.0, found.pressure[rest], self.setting[rest] * SHORT)
            found.put(rest, asked.some(rest).searched(start))
        return found

    def usual(self, set_to: Any, taken: Any) -> Any:
        """About where the pressure lies while the ports pour *taken* [m³/s], to begin with, [Pa]. Hot."""
        pressure, _ = self._regulated(set_to, taken)
        return np.maximum(pressure, LEAST)

    def step(self, set_to: Any, demand: Demand, before: Any, off: float) -> Level:
        """One round closer to the balance, for a solve in which the demand moves as well. Hot.

        One step of Newton's from the pressure *before* [Pa]; while its regulator is open that alone decides,
        and what the ports pour is given at the pressure before. Where supply cannot hold the pressure, what
        the ports then pour counts too; and where more than a share *off* of that is out of balance, it is
        searched for: a step may hop about an injector's opening pressure.
        """
        poured = demand.poured(before)
        left, steep = self.left(set_to, before)
        left = left - poured.sum(axis=0)
        found = Level(before + left / steep, poured, np.abs(left) / self.flow)
        shut = np.flatnonzero((found.pressure < self.setting) | (before < self.setting))
        if shut.size:
            found.put(shut, _Asked(self, set_to, demand).some(shut).stepped(before[shut], off))
        return found

    def taken(self, set_to: Any, pressure: Any) -> tuple[Any, Any]:
        """What the control circuit takes at a system *pressure* [Pa], [m³/s]; its own pressure, [Pa]. Hot."""
        control = self.feed.control(pressure, set_to)
        return self.orifice * np.sqrt(np.maximum(pressure - control, 1.0)), control

    def left(self, set_to: Any, pressure: Any) -> tuple[Any, Any]:
        """What supply leaves for the ports at *pressure*, [m³/s], and how fast that falls with it. Hot."""
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


def balance(cars: Cars, situation: Situation) -> Balance:
    """Supply, primary regulator and control circuit of *cars*. Hot."""
    return Balance(
        pump_line(cars, free_flow(cars, situation)),
        cars["system_setting"],
        REGULATOR_STIFFNESS + cars["return_resistance"],
        feed(cars),
        cars["feed_orifice"],
        np.maximum(cars["pump_flow"], 1e-9),
    )


@dataclass(frozen=True, slots=True)
class _Asked(PerCar):
    """A balance, what the regulator sets, [Pa], and what the ports ask for."""

    balance: Balance
    set_to: Any
    demand: Demand | None

    def left_over(self, pressure: Any) -> tuple[Any, Any, Any, Any]:
        """What nobody takes, [m³/s], and how fast that falls with *pressure*; what the ports pour, and how
        fast that rises.
        """
        left, steep = self.balance.left(self.set_to, pressure)
        if self.demand is None:
            return left, steep, None, None
        poured, rises = self.demand.paths.answer(self.demand.wanted, pressure)
        return left - poured.sum(axis=0), steep + rises.sum(axis=0), poured, rises

    def stepped(self, before: Any, off: float) -> Level:
        """A round in which no regulator helps."""
        left, steep, poured, rises = self.left_over(before)
        nothing = _nothing(before, left)
        pressure = np.where(nothing, LEAST, np.maximum(before + left / steep, LEAST))
        poured_then = poured + rises * (pressure - before)
        found = Level(pressure, poured_then, np.where(nothing, 0.0, np.abs(left) / self.balance.flow))
        far = np.abs(left) > off * (poured.sum(axis=0) + HARDLY * self.balance.flow)
        rest = np.flatnonzero(far & ~nothing)
        if rest.size:
            found.put(rest, self.some(rest).searched(before[rest]))
        return found

    def searched(self, start: Any) -> Level:
        """What is left over falls with pressure: Newton, and halving where it leaves the bracket or hops."""
        supply, flow = self.balance, self.balance.flow
        low, pressure = np.zeros_like(start), np.maximum(start, LEAST)
        high = supply.setting + np.maximum(supply.pump.at(supply.setting)[0], 0.0) * supply.stiffness + STEP
        missed, still, before = np.zeros_like(start), np.ones(start.shape, dtype=bool), np.inf
        for _ in range(ROUNDS):
            left, steep, _, _ = self.left_over(pressure)
            nothing = _nothing(pressure, left)
            missed = np.where(nothing, 0.0, np.where(still, left, missed))
            low, high = np.where(left > 0.0, pressure, low), np.where(left < 0.0, pressure, high)
            tried = np.maximum(pressure + left / steep, LEAST)
            close = np.abs(left) <= TOLERATED * flow
            nears = (tried > low) & (tried < high) & (np.abs(left) < NEARS * before)
            tried = np.where(nears | close, tried, 0.5 * (low + high))
            pressure = np.where(still & ~nothing, tried, pressure)
            still = still & ~nothing & ~close & (high - low > NARROW)
            if not still.any():
                break
            before = np.abs(left)
        poured = None if self.demand is None else self.demand.poured(pressure)
        return Level(pressure, poured, np.abs(missed) / flow)


def _nothing(pressure: Any, left: Any) -> Any:
    """Where nothing runs: what stands in the lines is all there is."""
    return (pressure <= LEAST) & (left <= 0.0)
