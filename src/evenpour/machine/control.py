"""The control circuit: what its pressure regulator makes of temperature, heater and load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import VOLTS_WARM, Situation
from evenpour.machine.smooth import lesser, positive
from evenpour.machine.some import PerCar
from evenpour.physics.electric import heater_power
from evenpour.physics.heat import two_bodies

FREEZING = 273.15
LEAST = 0.01e5  # Pa, so that a dead circuit still leaves the plate its own weight to lift
CORNER = 0.03e5  # Pa, over which the warm stop takes over from the bimetal
# The heated strip and the body it sits in; common practice, no source.
STRIP_SHARE = 0.6  # of the rise, the strip over its body
STRIP_TIME, BODY_TIME = 90.0, 600.0  # s
ENGINE_WARMS_BY = (
    25.0  # K, the regulator's body over the outside on a warm engine; common practice, no source
)
RUNNING_TIME = 1200.0  # s, a warm engine has run this long
FULL_VACUUM = 0.5e5  # Pa, a hand pump's, or an idling engine's
LOAD_BAND = (0.10e5, 0.30e5)  # Pa of vacuum between which the load diaphragm changes over; from memory


def bimetal_temperature(cars: Cars, situation: Situation) -> Any:
    """Temperature of the regulator's bimetal, [K]. Hot."""
    ambient = situation.regulator_temperature
    if ambient is None:
        ambient = situation.ambient_temperature + (ENGINE_WARMS_BY if situation.warm else 0.0)
    volts, time = situation.heater_voltage, situation.heater_time
    if situation.warm:
        volts, time = VOLTS_WARM - 0.5, RUNNING_TIME
    elif situation.engine == "idle_cold":
        volts, time = VOLTS_WARM - 0.5, 20.0
    return warmed(cars, ambient, volts, time)


def warmed(cars: Cars, ambient: Any, volts: Any, time: Any) -> Any:
    """Temperature of the bimetal, [K], *time* [s] after *volts* [V] came on, cold at *ambient* [K]. Hot."""
    resistance, lead = cars["heater_resistance"], cars["heater_lead"]
    at_heater = volts * resistance / (resistance + lead)
    power = heater_power(at_heater, resistance)
    rise = cars["heater_rise"]
    link, loss = 1.0 / (STRIP_SHARE * rise), 1.0 / ((1.0 - STRIP_SHARE) * rise)
    return two_bodies(time, ambient, ambient, power, STRIP_TIME * link, BODY_TIME * loss, link, loss)


def regulated(cars: Cars, bimetal: Any, vacuum: Any) -> Any:
    """Pressure the regulator sets, [Pa], bimetal at *bimetal* [K], *vacuum* [Pa] on its diaphragm. Hot."""
    return _drawn_down(cars, bimetal) - cars["load_step"] * _unpulled(vacuum * (1.0 - cars["load_leak"]))


def _drawn_down(cars: Cars, bimetal: Any) -> Any:
    """Pressure set with the load diaphragm drawn right down, [Pa]: the bimetal's line up to the warm stop."""
    line = cars["control_offset"] + cars["control_slope"] * (bimetal - FREEZING)
    return lesser(positive(line, 0.05e5), cars["warm_setting"], CORNER)


def _unpulled(reached: Any) -> Any:
    """Share of the load step that is lost with the vacuum *reached* [Pa] on the diaphragm."""
    low, high = LOAD_BAND
    return 1.0 - lesser(positive((reached - low) / (high - low), 0.02), 1.0, 0.02)


def control_pressure(cars: Cars, system: Any, set_to: Any) -> Any:
    """Control pressure at the distributor, [Pa], from the system's and the one the regulator sets. Hot."""
    return feed(cars).control(system, set_to)


@dataclass(frozen=True, slots=True)
class Feed(PerCar):
    """The control circuit between feed and return, whatever its regulator sets. Shape (cars,), shares.

    The feed orifice and the resistances at the regulator's inlet and in its return all go with the square of
    the flow, so the balance is closed: the pressure is made of the one set and the system's, by ``own`` and
    ``pushed``. A regulator that is wholly shut still leaks: with the feed clogged the pressure falls below
    the one set, to the share ``divided`` of the system's.
    """

    own: Any
    pushed: Any
    divided: Any

    def control(self, system: Any, set_to: Any) -> Any:
        """Control pressure, [Pa], from the *system*'s and the one the regulator sets. Hot."""
        through = np.minimum(self.own * set_to + self.pushed * system, system)
        return np.maximum(lesser(through, self.divided * system, 0.02e5), LEAST)


def feed(cars: Cars) -> Feed:
    """The control circuit of *cars* between feed and return. Hot."""
    passes, leak = cars["feed_orifice"] ** 2, cars["shut_leak"] ** 2
    own = 1.0 / (1.0 + passes * (cars["inlet_resistance"] + cars["control_return_resistance"]))
    return Feed(own, 1.0 - own, passes / (passes + leak))


@dataclass(frozen=True, slots=True)
class Circuit(PerCar):
    """The control circuit at one system pressure and one temperature, whatever the vacuum. Shape (cars,), SI.

    Attributes:
        step: Control pressure lost without vacuum; ``None`` on a kind without load diaphragm.
        kept: Share of the vacuum that a leaking diaphragm does not lose.
    """

    feed: Feed
    system: Any
    set_to: Any
    step: Any
    kept: Any

    def control(self, vacuum: Any) -> Any:
        """Control pressure at the distributor, [Pa], with *vacuum* [Pa] at the regulator. Hot."""
        if self.step is None:
            return self.feed.control(self.system, self.set_to)
        return self.feed.control(self.system, self.set_to - self.step * _unpulled(vacuum * self.kept))


def circuit(cars: Cars, system: Any, bimetal: Any) -> Circuit:
    """The control circuit of *cars* at *system* pressure [Pa], its bimetal at *bimetal* [K]. Hot."""
    step = cars["load_step"] if np.any(cars["load_step"]) else None
    return Circuit(feed(cars), system, _drawn_down(cars, bimetal), step, 1.0 - cars["load_leak"])
