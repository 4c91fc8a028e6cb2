"""The air-flow sensor: how far the air lifts the plate, against the control pressure on the plunger."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.design_point import AIR_DISCHARGE, DesignPoint
from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Engine
from evenpour.machine.smooth import step
from evenpour.machine.some import PerCar

# Where the funnel's part-load zone and its full-load zone begin, between the idle opening (0) and the full
# one (1) in logarithm, and over what they run into each other: part load to about a third of the full air, so
# that full load from some 3,000 rpm on is in its own zone. From memory, not verified.
PART_FROM, PART_WIDTH = 0.18, 0.05
FULL_FROM, FULL_WIDTH = 0.67, 0.028
# of the plate's force, what a plate that touches its funnel all along loses; common practice, no source
RUBBING = 0.05
#: States to which the throttle is opened from an idle.
OPENED: tuple[Engine, ...] = ("fast_idle", "road_steady", "full_load")


def plate_drop(design: DesignPoint, control: Any) -> Any:
    """Pressure the air loses at the plate, [Pa]: what balances *control* [Pa] on the plunger. Hot.

    dp * plate area * its arm = control pressure * plunger area * its arm.
    """
    return control * (design.plunger_area / (design.lever_ratio * design.plate_area))


def annulus(air: Any, density: Any, drop: Any) -> Any:
    """Opening round the plate, [m²], that passes *air* [kg/s] at *drop* [Pa]. Hot."""
    return air / (AIR_DISCHARGE * np.sqrt(2.0 * density * drop))


def zones(area: Any, idle: float, full: float) -> tuple[Any, Any]:
    """How far an annulus has left the idle zone and reached the full-load zone, [-]; else part load. Hot.

    By its logarithm between the idle opening and the full one. A funnel has three zones of different
    steepness, run into each other by what the plate's edge averages.
    """
    x = np.log(area / idle) / math.log(full / idle)
    return step((x - PART_FROM) / PART_WIDTH), step((x - FULL_FROM) / FULL_WIDTH)


def with_drag(cars: Cars, engine: Engine) -> Any:
    """The plate's force with drag, over that without, [-]. Hot.

    Drag of lever and plunger holds the plate back where it comes from. An idle is read after a blip: the
    plate comes down and stays a little high, which is rich. To a fast idle, a road load or full load the
    throttle is opened: the plate comes up and stays a little low, which is lean. Common practice, no source.
    """
    drag = cars["lever_drag"] + cars["plunger_drag"] + RUBBING * cars["plate_off_centre"]
    return 1.0 + drag if engine in OPENED else 1.0 - drag


@dataclass(frozen=True, slots=True)
class Meter(PerCar):
    """Plates and funnels of many cars, whatever the air. Shape (cars,), SI.

    The air is taken as dry: at 30 degC and 80 % humidity it is 1.6 % lighter, which enriches by 0.8 %.

    Attributes:
        force: The plate's force with drag, over that without.
        low, part, full: Lift beyond the edge over the opening, in logarithm of 1/m: of the idle zone, and
            what the part-load zone has more, and the full-load zone beyond that.
    """

    design: DesignPoint
    funnel: Funnel
    force: Any
    low: Any
    part: Any
    full: Any

    def lift(self, air: Any, density: Any, control: Any) -> Any:
        """Lift over the rest, [m], for *air* [kg/s] of *density* [kg/m³] under *control* [Pa]. Hot."""
        area = annulus(air, density, plate_drop(self.design, control) * self.force)
        left_idle, at_full = zones(area, self.funnel.idle_area, self.funnel.full_area)
        return self.funnel.before + area * np.exp(self.low + left_idle * self.part + at_full * self.full)


def meter(design: DesignPoint, funnel: Funnel, cars: Cars, engine: Engine) -> Meter:
    """The air meters of *cars* in a state of the engine. Hot."""
    low = funnel.shape[0] + np.log(cars["funnel_idle"])
    half = funnel.shape[1] + np.log(cars["funnel_middle"])
    high = funnel.shape[2] + np.log(cars["funnel_top"])
    return Meter(design, funnel, with_drag(cars, engine), low, half - low, high - half)


@dataclass(frozen=True, slots=True)
class Funnel:
    """The funnel of a kind of engine. SI.

    A maker shapes it so that the mixture comes out as he wants it at every flow; so does this. Past the
    narrowest edge the lift goes with the opening, which a plain cone's does not quite, since its opening
    widens; in the idle, part-load and full-load zone each in its own proportion, so that at the three places
    at which the sheet says what the mixture should be, it is.

    Attributes:
        before: Lift at which the plate leaves the narrowest edge, [m].
        shape: Lift beyond that over the opening, in logarithm of 1/m, in the three zones.
    """

    before: float
    idle_area: float
    full_area: float
    shape: tuple[float, float, float]

    def angles(self, design: DesignPoint) -> tuple[float, float, float]:
        """Mean angle from the plate's rest to the idle, a middle and the full opening, [rad]."""
        areas = np.array([self.idle_area, math.sqrt(self.idle_area * self.full_area), self.full_area])
        left_idle, at_full = zones(areas, self.idle_area, self.full_area)
        low, half, high = self.shape
        lifts = self.before + areas * np.exp(low + left_idle * (half - low) + at_full * (high - half))
        d = design.plate_diameter
        gaps = 0.5 * (np.sqrt(d * d + (4.0 / math.pi) * areas) - d)  # of the annulus pi (d + g) g
        low, half, high = (float(angle) for angle in np.arctan(gaps / lifts))
        return low, half, high


def funnel_through(before: float, areas: Sequence[float], lifts: Sequence[float]) -> Funnel:
    """The funnel with these lifts at an idle, a part-load and the full opening.

    Args:
        areas: Openings round the plate, [m²], rising.
        lifts: Over the plate's rest, [m]; above *before*.
    """
    left_idle, at_full = zones(np.array(areas), areas[0], areas[2])
    weights = np.array([1.0 - left_idle, left_idle - at_full, at_full]).T
    over = [math.log((lift - before) / area) for lift, area in zip(lifts, areas, strict=True)]
    low, half, high = np.linalg.solve(weights, np.array(over))
    return Funnel(before, areas[0], areas[2], (float(low), float(half), float(high)))
