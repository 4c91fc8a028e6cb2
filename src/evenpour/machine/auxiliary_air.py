"""The auxiliary air valve: how far open for its temperature and the time its heater has had."""

from __future__ import annotations

from typing import Any

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import VOLTS_WARM, Situation
from evenpour.machine.smooth import step
from evenpour.physics.electric import heater_power
from evenpour.physics.heat import first_order

HALF_OPEN = 293.15  # K, 20 degC; common practice, no source
NARROW = 11.0  # K, the width of the curve: about 1/50 open at 63 degC; common practice, no source
RISE = 21.0  # K/W at the bimetal; common practice, no source
TIME = 130.0  # s; common practice, no source
COLD_IDLE_TIME = 20.0  # s after the start at which a cold idle is read


def opening(cars: Cars, temperature: Any) -> Any:
    """Share of the full opening, [-], with the valve at *temperature* [K]. Hot."""
    follows = step((HALF_OPEN + cars["auxiliary_shift"] - temperature) / NARROW)
    stuck = cars["auxiliary_stuck"]
    return (1.0 - stuck) * follows + stuck * cars["auxiliary_stuck_at"]


def heated(cars: Cars, ambient: Any, volts: Any, time: Any) -> Any:
    """Temperature of its bimetal, [K], after *time* [s] of current at *volts* [V]. Hot."""
    power = heater_power(volts, cars["auxiliary_heater"])
    return first_order(time, ambient, ambient + RISE * power, TIME)


def auxiliary_share(cars: Cars, situation: Situation) -> Any:
    """How far open it is on an idling engine, [-]. Hot."""
    if situation.warm:
        return opening(cars, heated(cars, situation.ambient_temperature + 25.0, VOLTS_WARM, 1200.0))
    return opening(cars, heated(cars, situation.ambient_temperature, VOLTS_WARM, COLD_IDLE_TIME))
