"""From plunger lift to fuel: metering slits, pressure valves that run out of travel, injectors."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from evenpour.machine.design_point import SLIT_ROUNDING
from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import positive
from evenpour.machine.some import PerCar
from evenpour.machine.tank import tank
from evenpour.physics.blend import blend_viscosity
from evenpour.physics.orifice import SLIT_CONTRACTION, SLIT_CREEP

EDGE_CORNER = 1.2e-6  # m, over which an edge comes free: rounding and wetting; from memory, not verified
OPENING_CORNER = 0.015e5  # Pa, over which an injector's needle lifts
LEFT_CORNER = 0.003e5  # Pa, over which a path begins to pass
CREEPING = 200.0  # Pa, below which a path's flow goes with the pressure rather than with its root
TRAVEL_CORNER = 0.02  # of the flow, over which a differential-pressure valve runs out of travel
VALVE_PASSES = 2.3e-6 / np.sqrt(0.15e5)  # m³/(s sqrt Pa), wholly open valve; from memory, not verified


@dataclass(frozen=True, slots=True)
class Slits(PerCar):
    """The metering slits of many cars on one fuel, at any height of the plunger. Shape (cylinders, cars), SI.

    Attributes:
        edge: Where each begins. ``fast``: velocity through a slit so tall that friction is nothing.
        creep: Width of the layer at the edges in which friction eats the drop.
    """

    edge: Any
    width: Any
    fast: Any
    creep: Any

    def metered(self, lift: Any) -> Any:
        """What each slit passes at the drop its valve holds, [m³/s]. Hot.

        Area times velocity times :func:`evenpour.physics.orifice.slit_discharge` at the hydraulic diameter
        of what is free, multiplied out: one root and one division for each slit.

        Args:
            lift: Plunger over the height at which a right slit begins, [m], shape (cars,).
        """
        free = positive(lift - self.edge, EDGE_CORNER)
        area = self.width * free
        drag = self.creep * (self.width + free)
        square = area * area
        return self.fast * square / (np.sqrt(drag * drag + square) + drag)

    def under(self, drop_factor: Any) -> Slits:
        """The same slits with the pressure over them changed: the frequency valve's doing. Hot."""
        faster = np.sqrt(drop_factor)
        return replace(self, fast=self.fast * faster, creep=self.creep / faster)


def slits(cars: Cars, situation: Situation, drop_factor: Any = 1.0) -> Slits:
    """The slits of *cars*. Hot.

    Args:
        drop_factor: On the pressure over the slit: the frequency valve's doing.
    """
    fuel = tank(cars, situation)
    jet = np.sqrt((2.0 / fuel.density) * np.maximum(cars["pressure_drop"] * drop_factor, 1.0))
    viscosity = blend_viscosity(fuel.blend, situation.ambient_temperature)
    creep = (0.25 * SLIT_CONTRACTION / SLIT_CREEP) * viscosity / jet
    return Slits(cars["slit_edge"], cars["slit_width"], (SLIT_ROUNDING * SLIT_CONTRACTION) * jet, creep)


@dataclass(frozen=True, slots=True)
class Paths(PerCar):
    """What lies behind the slits, whatever the system pressure. Shape (cylinders, cars), SI.

    Attributes:
        passes: Flow for the root of what is left over, the valve wide open.
        drop: What the slit keeps. ``opening``: what the injector keeps; nothing for a bare line.
    """

    passes: Any
    drop: Any
    opening: Any
    leak: Any

    def most(self, system: Any) -> Any:
        """The most each path passes at *system* pressure [Pa], its valve wide open, [m³/s]. Hot."""
        head = system if self.opening is None else positive(system - self.opening, OPENING_CORNER)
        left = positive(head - self.drop, LEFT_CORNER)
        return self.passes * left / np.sqrt(left + CREEPING)

    def limited(self, wanted: Any, most: Any) -> Any:
        """The lesser of what comes, metered or leaked, and the *most* that passes, [m³/s]. Hot."""
        comes = wanted + self.leak
        both = comes + most
        twice = (4.0 - TRAVEL_CORNER**2) * comes * most
        # (both - sqrt(both² - twice)) / 2, written so that nothing cancels where one is far the lesser
        return 0.5 * twice / (both + np.sqrt(both * both - twice))

    def answer(self, wanted: Any, system: Any) -> tuple[Any, Any]:
        """What leaves each path at *system* pressure, [m³/s], and how fast that rises with it. Hot.

        The slopes of `most` and `limited`, multiplied; that of `positive` is y / (2 y - x).
        """
        head, rises = system, 1.0
        if self.opening is not None:
            over = system - self.opening
            head = positive(over, OPENING_CORNER)
            rises = head / (2.0 * head - over)
        over = head - self.drop
        left = positive(over, LEFT_CORNER)
        most = self.passes * left / np.sqrt(left + CREEPING)
        rises = (
            rises
            * left
            / (2.0 * left - over)
            * most
            * (0.5 / left + 0.5 * CREEPING / (left * (left + CREEPING)))
        )
        comes = wanted + self.leak
        half = 0.5 * (4.0 - TRAVEL_CORNER**2) * comes
        both = comes + most
        root = np.sqrt(both * both - 2.0 * half * most)
        return half * most / (both + root), 0.5 * (1.0 - (both - half) / root) * rises

    def under(self, drop_factor: Any) -> Paths:
        """The same paths behind slits that keep another share of the pressure. Hot."""
        return replace(self, drop=self.drop * drop_factor)


def paths(cars: Cars, situation: Situation, drop_factor: Any = 1.0, *, bare: bool = False) -> Paths:
    """What lies behind the slits of *cars*: lines, and injectors unless the lines are *bare*. Hot.

    A differential-pressure valve holds the drop over its slit while it can. With the resistances behind it,
    the most a path passes with its valve wide open is closed: every loss goes with the square of the flow.
    """
    line = _at(cars["line_restriction"], situation.line_at)
    resistance = 1.0 / (line * line) + 1.0 / VALVE_PASSES**2
    opening = None
    if not bare:
        injector = _at(cars["injector_restriction"], situation.injector_at)
        resistance = resistance + 1.0 / (injector * injector)
        opening = _at(cars["injector_opening"], situation.injector_at)
    return Paths(1.0 / np.sqrt(resistance), cars["pressure_drop"] * drop_factor, opening, cars["port_leak"])


def metered(cars: Cars, lift: Any, situation: Situation, drop_factor: Any = 1.0) -> Any:
    """What each slit passes at the drop its valve holds, [m³/s], shape (cylinders, cars). Hot."""
    return slits(cars, situation, drop_factor).metered(lift)


def fuel(
    cars: Cars, lift: Any, system: Any, situation: Situation, drop_factor: Any = 1.0, *, bare: bool = False
) -> Any:
    """Fuel that leaves each line or injector, [m³/s], shape (cylinders, cars). Hot.

    Args:
        system: System pressure, [Pa].
        bare: The lines end open, with nothing to push against; else in injectors.
    """
    behind = paths(cars, situation, drop_factor, bare=bare)
    return behind.limited(slits(cars, situation, drop_factor).metered(lift), behind.most(system))


def _at(values: Any, where: tuple[int, ...]) -> Any:
    return values[list(where)] if where else values
