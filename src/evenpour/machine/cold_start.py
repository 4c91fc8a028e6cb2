"""Cold start: how long the thermo-time switch lets the valve spray, and what of the fuel burns at all."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.smooth import positive, step

OPENS = 308.15  # K, 35 degC: between the two limits of the usual sheet; common practice, no source
WIDTH = 1.5  # K, of one judgement
SURE = 3.5  # judgement widths, of a switch that is wholly open or closed
CLOSED_AT_MINUS_20 = 8.0  # s the switch stays closed at -20 degC; common practice, no source
# V at the battery under the starter, at which every other charge fires no more, and the width of that; from
# memory, not verified.
STARTS_WELL, STARTS_WIDTH = 8.8, 0.25
ALWAYS = 12.0  # s, longer than anyone cranks: a switch that never opens
CRANKED = 5.0  # s, in which a start decides itself; common practice, no source
# Spray of the cold-start valve for each volume of displacement, [1/s]: 0.2 ml/s a litre; common practice, no
# source.
SPRAY = 0.2e-3
# Share of the fuel from the ports that is vapour while cranking: at 20 degC, and the step in temperature
# that makes it e times as much. From memory, not verified; together with the mixture of a cold regulator
# they make an engine start by itself down to some 10 degC, and below with its cold-start valve, as common
# practice has it.
VAPOUR_AT_20, VAPOUR_STEP, VAPOUR_ENDS = 0.67, 28.0, 0.95  # -, K, -
# Of that, what pure ethanol lacks: it has no light end, and takes three times the heat. From memory.
ETHANOL_STAYS = 0.3
# What lets a cold-start valve make an engine catch alone: Pa at which it sprays half, s of spraying. Common
# practice, no source.
HALF_SPRAY, CATCHES = 0.4e5, 0.8
FINER = 5.0  # the valve's fine spray turns to vapour this much better; from memory, not verified


def turned_too_weakly(volts: Any) -> Any:
    """Share of charges that do not fire as the battery gives in under the starter: slow, and a weak spark.

    Hot.

    Args:
        volts: At the battery while the starter turns, [V].
    """
    return step((STARTS_WELL - volts) / STARTS_WIDTH)


def switch_margin(cars: Cars, temperature: Any) -> Any:
    """Order: open, closed; by its distance from the temperature at which it opens, in judgement widths.

    Hot.
    """
    follows = np.tanh((OPENS + cars["switch_shift"] - temperature) / (2.0 * WIDTH)) * SURE
    return follows - 2.0 * SURE * cars["switch_open"] + 2.0 * SURE * cars["switch_shorted"]


def closed_time(cars: Cars, temperature: Any) -> Any:
    """How long the valve has current while cranking, [s]: longer the colder, none where the switch is open.

    Hot.
    """
    share = positive((OPENS + cars["switch_shift"] - temperature) / 55.0, 0.02)
    follows = CLOSED_AT_MINUS_20 * share * (1.0 - cars["switch_open"])
    return follows + ALWAYS * (cars["switch_shorted"] + cars["cold_start_fed"])


def sprayed(cars: Cars, temperature: Any, ethanol: Any) -> Any:
    """What the cold-start valve adds while cranking, for each volume of displacement, [1/s]. Hot.

    Counted as fuel from the ports, of which only :func:`vapour_share` burns. A start decides itself over some
    seconds: a switch that opens early has the valve spray for part of them.
    """
    time = closed_time(cars, temperature)
    finer = VAPOUR_ENDS - positive(VAPOUR_ENDS - FINER * _vapour(cars, temperature, ethanol), 0.05)
    flow = SPRAY * cars["cold_start_flow"] * time / (time + CRANKED)
    return flow * finer / vapour_share(cars, temperature, ethanol)


def fires_alone(cars: Cars, temperature: Any, pressure: Any) -> Any:
    """Share of first charges that the cold-start valve fires where the injectors bring nothing: it opens
    at any *pressure* [Pa], so a cold engine with too little of it catches, and dies. Hot.
    """
    sprays = cars["cold_start_flow"] * pressure / (pressure + HALF_SPRAY)
    enough = 1.0 - np.exp(-sprays * closed_time(cars, temperature) / CATCHES)
    return enough * (1.0 - cars["staleness"]) * (1.0 - cars["fuel_water"])


def sprayed_on(cars: Cars) -> Any:
    """What a valve that has current all the time adds to a running engine, [1/s].

    For each volume of displacement. Hot.
    """
    return SPRAY * cars["cold_start_flow"] * cars["cold_start_fed"]


def vapour_share(cars: Cars, temperature: Any, ethanol: Any) -> Any:
    """Share of the ports' fuel that is vapour while cranking at *temperature* [K]: less of stale or wet fuel,
    and of one that holds much *ethanol*, by volume. Hot.
    """
    return VAPOUR_ENDS - positive(VAPOUR_ENDS - _vapour(cars, temperature, ethanol), 0.05)


def _vapour(cars: Cars, temperature: Any, ethanol: Any) -> Any:
    fresh = VAPOUR_AT_20 * np.exp((temperature - 293.15) / VAPOUR_STEP) * (1.0 - ETHANOL_STAYS * ethanol)
    return fresh * (1.0 - 0.85 * cars["staleness"]) * (1.0 - 0.5 * cars["fuel_water"])
