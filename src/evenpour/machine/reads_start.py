"""How the engine starts, cold and hot. Margins of choices in judgement widths."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from evenpour.machine.cold_start import SPRAY, closed_time, fires_alone, turned_too_weakly
from evenpour.machine.readout import Query, Readout
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser, positive, step
from evenpour.machine.supply import battery
from evenpour.machine.tank import tank
from evenpour.physics.heat import soak_temperature
from evenpour.physics.vapour import LEAST_REID, MOST_REID, true_vapour_pressure_abs, typical_reid_pressure

# Common practice, no source.
RIGHT = 2.6  # judgement widths of a start that goes right
WARM_START = 333.15  # K, fuel and intake of a warm engine
NOT_FIRING = 7.0  # widths lost where no charge fires while cranking
STALLING, STILL_RUNS = (
    4.5,
    0.55,
)  # widths lost where it does not go on running; of the idle speed, what is enough
ROUGH, ROUGH_WIDTH = 2.2, 0.12  # widths lost by the worst cylinder's missing; share of charges
# Share of all charges with whose missing half of all cold engines die, a width of that, and widths lost. One
# cylinder of four that fails is a quarter of them, and such an engine runs, roughly; where every cylinder
# misses, what misses wets its plug, and soon the next one misses too.
DIES_AT, DIES_WIDTH, DIES = 0.38, 0.03, 2.7
MOST_AFTER, AFTER_CORNER = 4.9, 0.3  # widths lost by all that goes wrong once it has fired: then it has died
BUBBLE = 0.25e5  # Pa, one judgement width of margin against boiling
BOILING = 1.0  # widths lost for each bubble's width
FLOOD = 4e-6  # m³ of fuel in the intake that makes a hot start long
FLOODING = 1.8  # widths lost for e times as much
HOTTEST = 358.15  # K, of a rail
HOT_CRANKING = 8.0  # s on the starter in which a valve that should not spray floods the engine


def start_outcome(seen: Readout, query: Query) -> Any:
    """Order: no fire, fires and dies, runs rough, hunts, runs.

    By the charge while cranking and the idle after it.
    """
    situation = query.situation
    warm = situation.engine == "idle_warm"
    air = WARM_START if warm else situation.ambient_temperature
    cranking = replace(situation, engine="cranking", ambient_temperature=air)
    if warm:  # and so is its regulator, whatever that had when it was cold
        cranking = replace(cranking, regulator_temperature=None)
    crank = seen.running(cranking)
    idle = seen.running(situation)
    fires = (1.0 - crank.missed).mean(axis=0)
    if not warm:  # what lets a cold one catch floods a warm one
        fires = fires + positive(_by_spray(seen, cranking, crank.system) - fires, 0.01)
    speed = np.where(idle.converged, idle.speed, 0.0) / (STILL_RUNS * seen.kind.design.idle_speed)
    stalls = positive(1.0 - speed, 0.05)
    rough = ROUGH * np.tanh(positive(idle.missed.max(axis=0) - 0.05, 0.01) / ROUGH_WIDTH)
    dies = 0.0 if warm else DIES * step((idle.missed.mean(axis=0) - DIES_AT) / DIES_WIDTH)
    after = lesser(STALLING * stalls + rough + dies, MOST_AFTER, AFTER_CORNER)
    return RIGHT - NOT_FIRING * (1.0 - fires) - after


def _by_spray(seen: Readout, cranking: Situation, pressure: Any) -> Any:
    """Share of charges that the cold-start valve alone fires at a system *pressure* [Pa], spark and starter
    as they are.
    """
    fails = np.minimum(seen.cars["misfire"] + turned_too_weakly(battery(seen.cars, cranking)), 1.0)
    return fires_alone(seen.cars, cranking.ambient_temperature, pressure) * (1.0 - fails).mean(axis=0)


def hot_restart(seen: Readout, query: Query) -> Any:
    """Order: no start, long crank, starts.

    By the held pressure against boiling, and by fuel that leaked in.
    """
    situation, cars, soak = query.situation, seen.cars, query.number("soak", 1200.0)
    left, seeped = seen.held(situation, soak, query.word("blocked", "none"))
    reid = (
        typical_reid_pressure(query.word("fuel_grade", "between"), tank(cars, situation).ethanol)
        * cars["volatility"]
    )
    hot = np.minimum(soak_temperature(soak, situation.ambient_temperature), HOTTEST)
    boils = true_vapour_pressure_abs(np.clip(reid, LEAST_REID, MOST_REID), hot)
    short = positive(1.0 - (left + situation.outside - boils) / BUBBLE, 0.2)
    sprays = HOT_CRANKING * np.tanh(closed_time(cars, hot) / HOT_CRANKING) * cars["cold_start_flow"]
    flooded = (seeped + SPRAY * seen.kind.design.displacement * sprays) / FLOOD
    return RIGHT - BOILING * short - FLOODING * np.log1p(flooded)
