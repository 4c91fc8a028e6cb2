"""The air-flow sensor: how far the air lifts the plate, against the control pressure on the plunger."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.design_point import AIR_DISCHARGE, DesignPoint
from evenpour.machine.parameters import Cars
from evenpour.machine.some import PerCar


def plate_drop(design: DesignPoint, control: Any) -> Any:
    """Pressure the air loses at the plate, [Pa]: what balances *control* [Pa] on the plunger. Hot.

    dp * plate area * its arm = control pressure * plunger area * its arm.
    """
    return control * (design.plunger_area / (design.lever_ratio * design.plate_area))


def annulus(air: Any, density: Any, drop: Any) -> Any:
    """Opening round the plate, [m²], that passes *air* [kg/s] at *drop* [Pa]. Hot."""
    return air / (AIR_DISCHARGE * np.sqrt(2.0 * density * drop))


def cone_lift(design: DesignPoint, area: Any) -> Any:
    """Lift of the plate in a plain cone, [m], whose annulus pi (D + g) g, g = h tan(alpha) is *area*. Hot."""
    d = design.plate_diameter
    gap = 0.5 * (np.sqrt(d * d + (4.0 / math.pi) * area) - d)
    return gap / design.funnel_tangent


def place(area: Any, idle: float, full: float) -> Any:
    """Where between the idle (0) and the full opening (1) an annulus lies, by its logarithm. Hot."""
    return np.clip(np.log(area / idle) / math.log(full / idle), -0.7, 1.15)


def lift(design: DesignPoint, funnel: Funnel, cars: Cars, air: Any, density: Any, control: Any) -> Any:
    """Lift of the plate over its rest, [m]; arguments as for `Meter.lift`. Hot."""
    return meter(design, funnel, cars).lift(air, density, control)


@dataclass(frozen=True, slots=True)
class Meter(PerCar):
    """Plates and funnels of many cars, whatever the air. Shape (cars,), SI.

    Attributes:
        force: Share of the plate's force that drag leaves.
        low, slope, bend: The funnel over a plain cone, in logarithm, as a parabola over the opening's place.
    """

    design: DesignPoint
    funnel: Funnel
    force: Any
    low: Any
    slope: Any
    bend: Any

    def lift(self, air: Any, density: Any, control: Any) -> Any:
        """Lift over the rest, [m], for *air* [kg/s] of *density* [kg/m³] under *control* [Pa]. Hot."""
        area = annulus(air, density, plate_drop(self.design, control) * self.force)
        x = place(area, self.funnel.idle_area, self.funnel.full_area)
        return cone_lift(self.design, area) * np.exp(self.low + x * (self.slope + x * self.bend))


def meter(design: DesignPoint, funnel: Funnel, cars: Cars) -> Meter:
    """The air meters of *cars*. Hot.

    Drag of lever and plunger makes the plate hang back where it comes from: readings are taken after a blip,
    so the plate comes down and stays a little high. The parabola goes through what the funnel has at its idle
    opening (0), in the middle (1/2) and at its full one (1).
    """
    force = 1.0 - cars["lever_drag"] - cars["plunger_drag"] - 0.05 * cars["plate_off_centre"]
    low = funnel.shape[0] + np.log(cars["funnel_idle"])
    half = funnel.shape[1] + np.log(cars["funnel_middle"])
    top = funnel.shape[2] + np.log(cars["funnel_top"])
    return Meter(design, funnel, force, low, 4.0 * half - 3.0 * low - top, 2.0 * (low + top) - 4.0 * half)


class Funnel:
    """How the funnel of the kind departs from a plain cone.

    A maker shapes the funnel so that the mixture comes out as he wants it at every flow; so does this: the
    lift over the cone's, in logarithm, is a parabola over the annulus's logarithm, through the three places
    at which the sheet says what the mixture should be.
    """

    __slots__ = ("full_area", "idle_area", "shape")

    def __init__(self, idle_area: float, full_area: float, shape: tuple[float, float, float]) -> None:
        self.idle_area, self.full_area, self.shape = idle_area, full_area, shape

    def angles(self, design: DesignPoint) -> tuple[float, float, float]:
        """Mean angle of the funnel from its narrowest edge to those three places, [rad]."""
        return tuple(  # type: ignore[return-value]
            math.atan(design.funnel_tangent * math.exp(-more)) for more in self.shape
        )
