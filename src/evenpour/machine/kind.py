"""One kind of engine, ready to be computed with: blueprint, design point, funnel, torque and what they imply."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.machine.air_meter import Funnel, annulus, cone_lift, plate_drop
from evenpour.machine.design_point import (
    REFERENCE_PRESSURE_ABS,
    REFERENCE_TEMPERATURE,
    DesignPoint,
    design_point,
    middle,
)
from evenpour.machine.metering import metered
from evenpour.machine.nominal import centre
from evenpour.machine.parameters import Blueprint, Cars, Parameter, blueprint
from evenpour.machine.sheet import Sheet
from evenpour.machine.situation import WARM_BAY, Situation
from evenpour.machine.torque import Torque, torque_of
from evenpour.physics.air import dry_air_density
from evenpour.physics.blend import blend

IDLE_TIMING, FULL_TIMING = 5.0 / 360.0, 28.0 / 360.0  # turns; common practice, no source


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of engine. SI.

    Attributes:
        centre: The middle of every parameter, by id.
        idle_fuel, full_fuel: What all cylinders together take, [m³/s].
        control_flow: What the warm control circuit takes, [m³/s].
    """

    sheet: str
    design: DesignPoint
    blueprint: Blueprint
    funnel: Funnel
    torque: Torque
    centre: Mapping[str, float]
    devices: frozenset[str]
    oxygen_control: bool
    idle_fuel: float
    full_fuel: float
    control_flow: float
    clearance: float

    def usual_fuel(self, engine: str) -> float:
        """What a right engine takes in a state, [m³/s]: enough to know what is left of the supply."""
        if engine == "full_load":
            return self.full_fuel
        return {"off": 0.0, "road_steady": 5.0, "fast_idle": 3.0}.get(engine, 1.0) * self.idle_fuel


def kind_of(sheet: Sheet, parameters: Sequence[Parameter]) -> Kind:
    """The kind of engine a sheet describes.

    Args:
        parameters: Those of a car, as the data states them.
    Raises:
        FieldProblem: data and model do not name the same parameters.
    """
    design = design_point(sheet)
    found = centre(sheet, design)
    plan = blueprint(parameters, sheet.cylinders, found)
    middle_car = plan.cars(np.zeros((1, len(plan.free))))
    idle_timing = middle(sheet, "timing_static", _running_timing(sheet, 0.0, 20.0, IDLE_TIMING))
    full_timing = _running_timing(sheet, 30.0, 60.0, FULL_TIMING)
    air_fuel = blend(0.0).stoichiometric_afr * design.fuel_density
    system = middle(sheet, "system_pressure", 4.95e5)
    return Kind(
        sheet.id,
        design,
        plan,
        _funnel(design, middle_car, found["load_step"]),
        torque_of(design, idle_timing, full_timing),
        found,
        sheet.devices,
        "oxygen_control" in sheet.devices,
        design.idle_air / (design.mixture[0] * air_fuel),
        design.full_air / (design.mixture[2] * air_fuel),
        found["feed_orifice"] * math.sqrt(max(system - design.warm_pressure, 0.2e5)),
        middle(sheet, "valve_clearance", 0.15e-3),
    )


def _running_timing(sheet: Sheet, slow: float, fast: float, fallback: float) -> float:
    """The middle of the sheet's running timing at speeds between *slow* and *fast* [1/s], [turns]."""
    for limit in sheet.limits_for("timing_running"):
        match = limit.when.get("speed")
        if match is None or limit.low is None or limit.high is None:
            continue
        low, high = match.low, match.high
        if low is not None and high is not None and slow <= 0.5 * (low + high) <= fast:
            return 0.5 * (limit.low + limit.high)
    return fallback


def _funnel(design: DesignPoint, car: Cars, load_step: float) -> Funnel:
    """Shape the funnel so that the middle car, its idle screw right, has the mixture of its kind throughout."""
    warm = Situation(
        engine="idle_warm",
        fuel=0.0,
        ambient_temperature=REFERENCE_TEMPERATURE,
        fuel_density=design.fuel_density,
    )
    warm = replace(warm, ambient_temperature=REFERENCE_TEMPERATURE)
    density = dry_air_density(REFERENCE_PRESSURE_ABS, REFERENCE_TEMPERATURE + WARM_BAY)
    drag = 1.0 - float(car["lever_drag"][0] + car["plunger_drag"][0])
    half = math.sqrt(design.idle_air * design.full_air)
    flows = (design.idle_air, half, design.full_air)
    controls = (design.warm_pressure, design.warm_pressure, design.warm_pressure - load_step)
    start = -design.start * design.screw_pitch
    areas, lifts = [], []
    for air, control, mixture in zip(flows, controls, design.mixture, strict=True):
        need = air / (warm.blend.stoichiometric_afr * mixture) / float(warm.density)
        plunger = _solve_plunger(car, need, warm)
        areas.append(float(annulus(air, density, plate_drop(design, control) * drag)))
        lifts.append(design.lever_ratio * (plunger - start))
    shape = tuple(
        math.log(lift / float(cone_lift(design, area))) for area, lift in zip(areas, lifts, strict=True)
    )
    low, top = areas[0], areas[2]
    x = math.log(areas[1] / low) / math.log(top / low)
    # the parabola is written by its value at one half; the middle place lies a little beside it
    weight = 4.0 * x * (1.0 - x)
    ends = shape[0] * (1.0 - x) * (1.0 - 2.0 * x) + shape[2] * x * (2.0 * x - 1.0)
    return Funnel(low, top, (shape[0], (shape[1] - ends) / weight, shape[2]))


def _solve_plunger(car: Cars, need: float, situation: Situation) -> float:
    """Plunger lift at which the middle car's slits pass *need* [m³/s]."""
    z = 0.2e-3
    for _ in range(12):
        now = float(metered(car, np.array([z]), situation).sum())
        more = float(metered(car, np.array([z * 1.001]), situation).sum())
        z += (need - now) * 0.001 * z / (more - now)
    return z
