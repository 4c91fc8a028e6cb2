"""One kind of engine, ready to be computed with: blueprint, design point, funnel, torque, and so on."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.machine.air_meter import Funnel, annulus, funnel_through, plate_drop, with_drag
from evenpour.machine.design_point import (
    REFERENCE_ETHANOL,
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
from evenpour.machine.situation import WARM_BAY, Engine, Situation
from evenpour.machine.torque import Torque, torque_of
from evenpour.physics.air import dry_air_density
from evenpour.physics.blend import blend

# The funnel's middle decides the mixture at part load, which no screw sets: how far sound engines of a kind
# scatter there, the band of its sheet says. The data's spread is that of one who allows NARROW_BAND either
# way; past WIDEST of that, a sheet says only that nobody measured. From memory, not verified.
PART_LOAD, NARROW_BAND, WIDEST = "funnel_middle", 0.025, 3.0
IDLE_TIMING, FULL_TIMING = 5.0 / 360.0, 28.0 / 360.0  # turns; common practice, no source


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """One kind of engine. SI. Equal to itself alone, so that what is worked out from it can be kept.

    Attributes:
        centre: The middle of every parameter, by id.
        idle_fuel, full_fuel: What all cylinders together take, [m³/s].
        control_flow: What the warm control circuit takes, [m³/s].
        clearance, exhaust_clearance: Of the valves, right ones, cold, [m].
        evenness: Largest spread of an even catch, by opening, as a fraction; openings without a limit left
            out.
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
    exhaust_clearance: float
    evenness: Mapping[str, float]


def kind_of(sheet: Sheet, parameters: Sequence[Parameter]) -> Kind:
    """The kind of engine a sheet describes.

    Args:
        parameters: Those of a car, as the data states them.
    Raises:
        FieldProblem: data and model do not name the same parameters.
    """
    design = design_point(sheet)
    found = centre(sheet, design)
    plan = blueprint([_as_its_maker_allows(one, sheet) for one in parameters], sheet.cylinders, found)
    middle_car = plan.cars(np.zeros((1, len(plan.free))))
    idle_timing = middle(sheet, "timing_static", _running_timing(sheet, 0.0, 20.0, IDLE_TIMING))
    full_timing = _running_timing(sheet, 30.0, 60.0, FULL_TIMING)
    air_fuel = blend(REFERENCE_ETHANOL).stoichiometric_afr * design.fuel_density
    system = middle(sheet, "system_pressure", 4.95e5)
    clearance = middle(sheet, "valve_clearance", 0.15e-3)
    return Kind(
        sheet.id,
        design,
        plan,
        _funnel(design, middle_car, found["load_step"]),
        torque_of(design, idle_timing, full_timing),
        found,
        sheet.devices,
        design.oxygen_control,
        design.idle_air / (design.mixture[0] * air_fuel),
        design.full_air / (design.mixture[2] * air_fuel),
        found["feed_orifice"] * math.sqrt(max(system - design.warm_pressure, 0.2e5)),
        clearance,
        middle(sheet, "valve_clearance", clearance, among={"where": "exhaust_valve"}),
        sheet.evenness_limits(),
    )


def _as_its_maker_allows(one: Parameter, sheet: Sheet) -> Parameter:
    """A parameter, its spread as wide as the sheet's own limit lets it be, where that says it."""
    if one.id != PART_LOAD:
        return one
    for limit in sheet.limits_for("exhaust_lambda"):
        state = limit.when.get("state")
        if state is None or "fast_idle" not in state.choices or limit.low is None or limit.high is None:
            continue
        allowed = (limit.high - limit.low) / (limit.high + limit.low)
        return replace(one, spread=one.spread * min(max(allowed / NARROW_BAND, 1.0), WIDEST))
    return one


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
    """Shape the funnel so that the middle car, its idle right, has the mixture of its kind throughout."""
    warm = Situation(
        "idle_warm", REFERENCE_TEMPERATURE, fuel=REFERENCE_ETHANOL, fuel_density=design.petrol_density
    )
    density = dry_air_density(REFERENCE_PRESSURE_ABS, REFERENCE_TEMPERATURE + WARM_BAY)
    half = math.sqrt(design.idle_air * design.full_air)
    flows = (design.idle_air, half, design.full_air)
    controls = (design.warm_pressure, design.warm_pressure, design.warm_pressure - load_step)
    start = -design.start * design.screw_pitch
    areas, lifts = [], []
    states: tuple[Engine, ...] = ("idle_warm", "road_steady", "full_load")
    for air, control, mixture, state in zip(flows, controls, design.mixture, states, strict=True):
        need = air / (warm.blend.stoichiometric_afr * mixture) / float(warm.density)
        plunger = _solve_plunger(car, need, warm)
        force = plate_drop(design, control) * float(with_drag(car, state)[0])
        areas.append(float(annulus(air, density, force)))
        lifts.append(design.lever_ratio * (plunger - start))
    return funnel_through(-design.lever_ratio * start, areas, lifts)


def _solve_plunger(car: Cars, need: float, situation: Situation) -> float:
    """Plunger lift at which the middle car's slits pass *need* [m³/s]."""
    z = 0.2e-3
    for _ in range(12):
        now = float(metered(car, np.array([z]), situation).sum())
        more = float(metered(car, np.array([z * 1.001]), situation).sum())
        z += (need - now) * 0.001 * z / (more - now)
    return z
