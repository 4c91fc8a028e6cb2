"""From plunger lift to fuel: metering slits, differential-pressure valves that run out of travel, injectors."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.design_point import SLIT_ROUNDING
from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import positive
from evenpour.physics.blend import blend_viscosity
from evenpour.physics.orifice import hydraulic_diameter, slit_discharge

EDGE_CORNER = 1.2e-6  # m, over which an edge comes free: rounding and wetting; from memory, not verified
OPENING_CORNER = 0.015e5  # Pa, over which an injector's needle lifts
TRAVEL_CORNER = 0.02  # of the flow, over which a differential-pressure valve runs out of travel
VALVE_PASSES = 2.3e-6 / np.sqrt(0.15e5)  # m³/(s sqrt Pa), wholly open valve; from memory, not verified


def metered(cars: Cars, lift: Any, situation: Situation, drop_factor: Any = 1.0) -> Any:
    """What each slit passes at the drop its valve holds, [m³/s], shape (cylinders, cars). Hot.

    Args:
        lift: Plunger over the height at which a right slit begins, [m], shape (cars,).
        drop_factor: On the pressure over the slit: the frequency valve's doing.
    """
    free = positive(lift - cars["slit_edge"], EDGE_CORNER)
    width = cars["slit_width"]
    jet = np.sqrt((2.0 / situation.density) * np.maximum(cars["pressure_drop"] * drop_factor, 1.0))
    viscosity = blend_viscosity(situation.blend, situation.ambient_temperature)
    discharge = slit_discharge(jet * hydraulic_diameter(width, free) / viscosity)
    return (SLIT_ROUNDING * discharge) * width * free * jet


def fuel(
    cars: Cars, lift: Any, system: Any, situation: Situation, drop_factor: Any = 1.0, *, bare: bool = False
) -> Any:
    """Fuel that leaves each line or injector, [m³/s], by port: shape (cylinders, cars). Hot.

    A differential-pressure valve holds the drop over its slit while it can. With the resistances behind it,
    the most a path passes with its valve wide open is closed: every loss goes with the square of the flow.

    Args:
        system: System pressure, [Pa].
        bare: The lines end open, with nothing to push against; else in injectors.
    """
    wanted = metered(cars, lift, situation, drop_factor)
    line = _at(cars["line_restriction"], situation.line_at)
    resistance = 1.0 / (line * line) + 1.0 / VALVE_PASSES**2
    head = system
    if not bare:
        injector = _at(cars["injector_restriction"], situation.injector_at)
        resistance = resistance + 1.0 / (injector * injector)
        head = positive(system - _at(cars["injector_opening"], situation.injector_at), OPENING_CORNER)
    left = np.maximum(head - cars["pressure_drop"] * drop_factor, 1.0)
    most = np.sqrt(left / resistance)
    apart = wanted - most
    passed = 0.5 * (wanted + most - np.sqrt(apart * apart + TRAVEL_CORNER**2 * wanted * most))
    return passed + cars["port_leak"]


def _at(values: Any, where: tuple[int, ...]) -> Any:
    return values[list(where)] if where else values
