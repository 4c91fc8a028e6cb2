"""Lambda over air flow, from idle to full load, without the balance that an engine finds for itself.

At a given flow through the plate everything up to the mixture is settled: lift, control pressure, fuel. Only
what leaks in past the plate depends on the manifold's pressure, for which a plausible one is taken.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.machine.air_meter import meter
from evenpour.machine.balance import Demand, balance
from evenpour.machine.cold_start import sprayed_on
from evenpour.machine.control import bimetal_temperature, control_pressure, regulated
from evenpour.machine.design_point import (
    GAS_CONSTANT,
    IDLE_MANIFOLD,
    MANIFOLD_WARMER,
    REFERENCE_PRESSURE_ABS,
    WIDE_OPEN,
)
from evenpour.machine.engine import MIXTURE_ENDS
from evenpour.machine.kind import Kind
from evenpour.machine.metering import paths, slits
from evenpour.machine.oxygen_control import drop_factor
from evenpour.machine.parameters import Cars
from evenpour.machine.set_up import SetUp, manifold_volume_flow
from evenpour.machine.situation import Engine, Situation
from evenpour.machine.smooth import lesser
from evenpour.machine.tank import tank
from evenpour.physics.air import dry_air_density
from evenpour.physics.orifice import gas_flow

POINTS = 40
IDLE: Engine = "idle_warm"
DRIVEN = (
    2.0  # of the air at idle, from which the throttle was opened to get there; common practice, no source
)
ROUNDS = 3  # between what the supply brings and what is asked of it
SLOWEST = 0.6  # of the air at idle, where the curve begins; common practice, no source
RISES = (
    0.55  # exponent of the manifold's pressure over air flow as a car is driven; common practice, no source
)


def usual_flows(kind: Kind, home: Situation) -> NDArray[np.float64]:
    """Flows through the plate from under idle to full load, even in their logarithm, [kg/s], (points,)."""
    return np.geomspace(SLOWEST * kind.design.idle_air, most_air(kind, home), POINTS)


def most_air(kind: Kind, situation: Situation) -> float:
    """All the air that the engine can draw, throttle wide at its rated speed, [kg/s]."""
    gas = GAS_CONSTANT * (situation.ambient_temperature + MANIFOLD_WARMER)
    volume = manifold_volume_flow(kind.design, kind.design.rated_speed)
    return float(volume * WIDE_OPEN * situation.outside / gas)


def driven_manifold(kind: Kind, plate_air: Any, outside: Any) -> Any:
    """A plausible manifold pressure, absolute, [Pa], on a warm engine that draws *plate_air* [kg/s]. Hot.

    The air drawn says how much must be in the manifold; thin air outside only ends it sooner.
    """
    design = kind.design
    share = np.clip((plate_air - design.idle_air) / (design.full_air - design.idle_air), 0.0, 1.0)
    rising = IDLE_MANIFOLD + (WIDE_OPEN - IDLE_MANIFOLD) * share**RISES
    return np.minimum(REFERENCE_PRESSURE_ABS * rising, WIDE_OPEN * outside)


def mixture_curve(
    kind: Kind, cars: Cars, screws: SetUp, situation: Situation, plate_air: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Lambda of a warm engine at flows through the plate, the oxygen sensor unplugged where there is one.

    Args:
        situation: One place and one fuel for all cars; its engine's state and its sensor do not count.
        plate_air: Flows, [kg/s], shape (points,).
    Returns:
        Lambda, all air over all fuel, shape (cars, points).
    """
    warm = replace(situation, engine="road_steady", sensor="off", opening=None, lines=False)
    points = len(plate_air)
    many = Cars(cars.rows, np.repeat(cars.values, points, axis=1))
    air = np.tile(plate_air, len(cars))
    manifold = driven_manifold(kind, air, warm.outside)
    vacuum = warm.outside - manifold if warm.vacuum is None else warm.vacuum
    air_density = dry_air_density(warm.outside, warm.intake)
    factor = drop_factor(many, many["held_duty"]) if kind.oxygen_control else 1.0
    # where drag holds the plate: an idle is come down to, the road is driven up to
    down, up = (meter(kind.design, kind.funnel, many, state) for state in (IDLE, warm.engine))
    opened = np.clip(np.log(air / kind.design.idle_air) / math.log(DRIVEN), 0.0, 1.0)
    start = np.repeat(screws.screw, points) + many["screw_pitch"] * (many["mixture_screw"] + warm.screw)

    supply, set_to = balance(many, warm), regulated(many, bimetal_temperature(many, warm), vacuum)
    fed, behind = slits(many, warm, factor), paths(many, warm, factor)
    system, poured = many["system_setting"], np.zeros(1)
    for _ in range(ROUNDS):
        control = control_pressure(many, system, set_to)
        height = (1.0 - opened) * down.lift(air, air_density, control)
        height = lesser(height + opened * up.lift(air, air_density, control), kind.design.lift_max, 1e-4)
        plunger = (height - many["plate_height"]) / kind.design.lever_ratio + start
        level = supply.pressure(set_to, Demand(fed.metered(plunger), behind))
        system, poured = level.pressure, level.poured
    fuel = tank(many, warm)
    burnt = (poured.sum(axis=0) + _from_elsewhere(kind, many, warm, system)) * fuel.density
    leaks = many["common_leak"] + many["runner_leak"].sum(axis=0)
    drawn = air + gas_flow(leaks, warm.outside, manifold, warm.intake)
    mixture = drawn / (fuel.blend.stoichiometric_afr * np.maximum(burnt, 1e-12))
    return np.asarray(np.minimum(mixture, MIXTURE_ENDS).reshape(len(cars), points))


def _from_elsewhere(kind: Kind, cars: Cars, situation: Situation, system: Any) -> Any:
    """Fuel that no injector gives, [m³/s]: by the cold-start valve, from the oil, by the purge."""
    leaked = cars["cold_start_leak"] * np.sqrt(system) + sprayed_on(cars) * kind.design.displacement
    oil = cars["crankcase_fuel"] if situation.breather else 0.0
    return leaked + (oil + cars["purge_fuel"]) * kind.idle_fuel
