"""The control circuit: what its pressure regulator makes of temperature, heater and load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser, positive
from evenpour.machine.some import PerCar
from evenpour.machine.supply import battery
from evenpour.physics.electric import heater_power
from evenpour.physics.heat import two_bodies

FREEZING = 273.15
LEAST = 0.01e5  # Pa, so that a dead circuit still leaves the plate its own weight to lift
CORNER = 0.03e5  # Pa, over which the warm stop takes over from the bimetal
# However cold the bimetal, its spring gives no less: below freezing the curve bends. From memory, not
# verified.
FLOOR, FLOOR_CORNER = 0.42e5, 0.06e5  # Pa
SHUT_CORNER = 0.02e5  # Pa, over which the leak of a wholly shut regulator takes over
# The heated strip and the body it sits in; common practice, no source.
STRIP_SHARE = 0.6  # of the rise, the strip over its body
STRIP_TIME, BODY_TIME = 90.0, 600.0  # s
RUNNING_TIME = 1200.0  # s, a warm engine has run this long
FULL_VACUUM = 0.5e5  # Pa, a hand pump's, or an idling engine's
LEAD_TAKES = 0.5  # V, between battery and the heater's plug, engine running; common practice, no source
LOAD_BAND = (0.10e5, 0.30e5)  # Pa of vacuum between which the load diaphragm changes over; from memory


def bimetal_temperature(cars: Cars, situation: Situation) -> Any:
    """Temperature of the regulator's bimetal, [K]. Hot."""
    ambient = situation.regulator_temperature
    if ambient is None:
        ambient = situation.ambient_temperature
        if situation.warm:
            ambient = ambient + cars["engine_warmth"]
        elif situation.engine == "off":  # one that starts cold has stood, and is as cold as the air
            ambient = ambient + cars["body_warmth"]
    volts, time = situation.heater_voltage, situation.heater_time
    if situation.heater_fed:
        return warmed(cars, ambient, volts, time)
    if situation.warm:
        volts, time = battery(cars, situation) - LEAD_TAKES, RUNNING_TIME
    elif situation.engine == "idle_cold":
        volts, time = battery(cars, situation) - LEAD_TAKES, situation.ran
    return warmed(cars, ambient, fed_with(cars, volts), time)


def fed_with(cars: Cars, volts: Any) -> Any:
    """What is left at the heater's plug of *volts* [V] at its feed, [V]. Hot."""
    resistance = cars["heater_resistance"]
    return volts * resistance / (resistance + cars["heater_lead"])


def warmed(cars: Cars, ambient: Any, volts: Any, time: Any) -> Any:
    """Temperature of the bimetal, [K], *time* [s] after *volts* [V] came on at the heater, cold at *ambient*
    [K]. Hot.
    """
    power = heater_power(volts, cars["heater_resistance"])
    rise = cars["heater_rise"]
    link, loss = 1.0 / (STRIP_SHARE * rise), 1.0 / ((1.0 - STRIP_SHARE) * rise)
    return two_bodies(time, ambient, ambient, power, STRIP_TIME * link, BODY_TIME * loss, link, loss)


def regulated(cars: Cars, bimetal: Any, vacuum: Any) -> Any:
    """Pressure the regulator sets, [Pa], bimetal at *bimetal* [K], *vacuum* [Pa] on its diaphragm. Hot."""
    return circuit(cars, bimetal).set_to(vacuum)


def _stopped(line: Any, warm: Any) -> Any:
    """The bimetal's *line*, from its spring's end up to the *warm* stop, [Pa]."""
    return FLOOR + positive(lesser(line, warm, CORNER) - FLOOR, FLOOR_CORNER)


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
        return np.maximum(lesser(through, self.divided * system, SHUT_CORNER), LEAST)

    def answer(self, system: Any, set_to: Any) -> tuple[Any, Any]:
        """Control pressure, [Pa], and how fast it rises with the *system*'s. Hot."""
        through, divided = self.own * set_to + self.pushed * system, self.divided * system
        rises = np.where(through < system, self.pushed, 1.0)
        apart = np.minimum(through, system) - divided
        root = np.sqrt(apart * apart + SHUT_CORNER * SHUT_CORNER)
        side = 0.5 * (1.0 + apart / root)
        control = divided + 0.5 * (apart - root)
        return np.maximum(control, LEAST), (control > LEAST) * (side * self.divided + (1.0 - side) * rises)


def feed(cars: Cars) -> Feed:
    """The control circuit of *cars* between feed and return. Hot."""
    passes, leak = cars["feed_orifice"] ** 2, cars["shut_leak"] ** 2
    own = 1.0 / (1.0 + passes * (cars["inlet_resistance"] + cars["control_return_resistance"]))
    return Feed(own, 1.0 - own, passes / (passes + leak))


@dataclass(frozen=True, slots=True)
class Circuit(PerCar):
    """The control circuit at one temperature, whatever the system pressure and the vacuum. Shape (cars,), SI.

    The bimetal decides while it is cold. Without vacuum the load diaphragm lowers the warm stop by a step.

    Attributes:
        always: What is set; ``None`` where it depends on the vacuum.
        line, warm: Pressure by the bimetal alone, and the warm stop with vacuum.
        step: What the warm stop loses without vacuum. ``kept``: share of the vacuum a leaking diaphragm
            keeps.
    """

    feed: Feed
    always: Any
    line: Any
    warm: Any
    step: Any
    kept: Any

    def set_to(self, vacuum: Any) -> Any:
        """Pressure the regulator sets, [Pa], with *vacuum* [Pa] on its diaphragm. Hot."""
        if self.always is not None:
            return self.always
        return _stopped(self.line, self.warm - self.step * _unpulled(vacuum * self.kept))


def circuit(cars: Cars, bimetal: Any) -> Circuit:
    """The control circuit of *cars*, its bimetal at *bimetal* [K]. Hot."""
    line, warm = cars["control_offset"] + cars["control_slope"] * (bimetal - FREEZING), cars["warm_setting"]
    always = None if np.any(cars["load_step"]) else _stopped(line, warm)
    return Circuit(feed(cars), always, line, warm, cars["load_step"], 1.0 - cars["load_leak"])
