"""The auxiliary air valve: how far open for its temperature and the time its heater has had."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import step
from evenpour.machine.supply import battery
from evenpour.physics.electric import heater_power
from evenpour.physics.heat import first_order

HALF_OPEN = 293.15  # K, 20 degC; common practice, no source
NARROW = 11.0  # K, the width of the curve: about 1/50 open at 63 degC; common practice, no source
TIME = 220.0  # s; common practice, no source
WARM_BY = 25.0  # K, the valve over the outside on a warm engine; common practice, no source
WARM_TIME = 1200.0  # s, a warm engine has run this long


def opening(cars: Cars, temperature: Any) -> Any:
    """Share of the full opening, [-], with the valve at *temperature* [K]. Hot."""
    follows = step((HALF_OPEN + cars["auxiliary_shift"] - temperature) / NARROW)
    stuck = np.minimum(cars["auxiliary_stuck"], 1.0)
    return (1.0 - stuck) * follows + stuck * cars["auxiliary_stuck_at"]


def heated(cars: Cars, ambient: Any, volts: Any, time: Any) -> Any:
    """Temperature of its bimetal, [K], after *time* [s] of current at *volts* [V] on its heater. Hot."""
    power = heater_power(volts, cars["auxiliary_heater"])
    return first_order(time, ambient, ambient + cars["auxiliary_rise"] * power, TIME)


def auxiliary_share(cars: Cars, situation: Situation) -> Any:
    """How far open it is on a cranking or idling engine, [-]. Hot."""
    heater = cars["auxiliary_heater"]
    volts = battery(cars, situation) * heater / (heater + cars["auxiliary_lead"])
    if situation.warm:
        return opening(cars, heated(cars, situation.ambient_temperature + WARM_BY, volts, WARM_TIME))
    time = situation.ran if situation.engine == "idle_cold" else 0.0
    return opening(cars, heated(cars, situation.ambient_temperature, volts, time))
