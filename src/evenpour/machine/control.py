"""The control circuit: what the control-pressure regulator makes of its temperature, its heater and the load."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import VOLTS_WARM, Situation
from evenpour.machine.smooth import lesser, positive
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
    """Temperature of the bimetal, [K], after *time* [s] of current at *volts* [V] from cold at *ambient* [K]. Hot."""
    resistance, lead = cars["heater_resistance"], cars["heater_lead"]
    at_heater = volts * resistance / (resistance + lead)
    power = heater_power(at_heater, resistance)
    rise = cars["heater_rise"]
    link, loss = 1.0 / (STRIP_SHARE * rise), 1.0 / ((1.0 - STRIP_SHARE) * rise)
    return two_bodies(time, ambient, ambient, power, STRIP_TIME * link, BODY_TIME * loss, link, loss)


def regulated(cars: Cars, bimetal: Any, vacuum: Any) -> Any:
    """Pressure the regulator sets, [Pa], for a bimetal at *bimetal* [K] and *vacuum* [Pa] on its diaphragm. Hot."""
    line = cars["control_offset"] + cars["control_slope"] * (bimetal - FREEZING)
    set_to = lesser(positive(line, 0.05e5), cars["warm_setting"], CORNER)
    low, high = LOAD_BAND
    reached = vacuum * (1.0 - cars["load_leak"])
    share = lesser(positive((reached - low) / (high - low), 0.02), 1.0, 0.02)
    return set_to - cars["load_step"] * (1.0 - share)


def control_pressure(cars: Cars, system: Any, set_to: Any) -> Any:
    """Control pressure at the distributor, [Pa], from the system's and the one the regulator sets. Hot.

    The feed orifice and the resistances at the regulator's inlet and in its return all go with the square of
    the flow, so the balance is closed. A regulator that is wholly shut still leaks: with the feed clogged the
    pressure falls below the one set.
    """
    feed = cars["feed_orifice"]
    squared = feed * feed * (cars["inlet_resistance"] + cars["control_return_resistance"])
    through = (set_to + squared * system) / (1.0 + squared)
    leak = cars["shut_leak"]
    divided = system * feed * feed / (feed * feed + leak * leak)
    return np.maximum(lesser(np.minimum(through, system), divided, 0.02e5), LEAST)
