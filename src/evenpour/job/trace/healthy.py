"""What a healthy engine of the sheet's kind shows over a drive, by the model: what richer and leaner are
counted from, and how far healthy engines lie apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenpour.job.causes.facts import plain_home
from evenpour.job.engine_model import kind_of_sheet
from evenpour.job.trace.bench import Bench
from evenpour.machine.design_point import GAS_CONSTANT, MANIFOLD_WARMER
from evenpour.machine.mixture_curve import mixture_curve, usual_flows
from evenpour.machine.set_up import manifold_volume_flow, set_up
from evenpour.machine.situation import Situation
from evenpour.tune.running_trace import Shape, plain_shapes

Array = NDArray[np.float64]

CARS, SEED = 200, 11  # healthy engines drawn; the same ones every time
STEP = 1.0 / 32.0  # turn
NINE_IN_TEN = 1.645  # standard deviations to either side


@dataclass(frozen=True, slots=True)
class Healthy:
    """Lambda over air flow of healthy engines, the oxygen sensor unplugged where there is one.

    Attributes:
        air_flow: [kg/s], (points,), increasing.
        middle: Of the engine in the middle, (points,).
        apart: How much richer each of many healthy ones is than that, as a share, (engines, points).
        by_screw: How much richer a turn of the screw makes the one in the middle, as a share, (points,).
    """

    air_flow: Array
    middle: Array
    apart: Array
    by_screw: Array

    def expected(self, air_flow: Array) -> Array:
        """Lambda of the engine in the middle at flows; beyond either end as at that end."""
        return self._at(air_flow, self.middle)

    def shapes(self, air_flow: Array, vacuum_ratio: Array | None) -> tuple[Shape, ...]:
        """The shapes over stretches, the screw's as this engine's funnel has it; see ``plain_shapes``."""
        everywhere, screw, leak = plain_shapes(air_flow, vacuum_ratio)
        fades = self._at(air_flow, self.by_screw)
        return everywhere, replace(screw, values=fades / fades[np.argmin(air_flow)]), leak

    def spread(self, air_flow: Array, shapes: Sequence[Shape]) -> Array:
        """How far nine in ten healthy engines lie to either side in each of *shapes*, as a share.

        Args:
            air_flow: Of the stretches that the shapes belong to.
            shapes: Few enough, and unlike enough, to be told apart over these flows.
        """
        columns = np.stack([shape.values for shape in shapes], axis=1)
        rows = np.stack([self._at(air_flow, one) for one in self.apart])
        found = np.linalg.lstsq(columns, rows.T, rcond=None)[0]
        return np.asarray(NINE_IN_TEN * np.std(found, axis=1))

    def _at(self, air_flow: Array, values: Array) -> Array:
        return np.interp(np.log(air_flow), np.log(self.air_flow), values)


def surroundings(bench: Bench) -> Situation:
    """Height, air and fuel as they were typed, or as the job states them for all its readings."""
    stated: dict[str, float | str] = {}
    for name in ("altitude", "ambient_temperature", "fuel"):
        found = bench.condition(name)
        if found is not None:
            stated[name] = found.choice if found.choice is not None else float(found.value or 0.0)
    return plain_home(stated, bench.job)


def healthy_over_flow(bench: Bench) -> Healthy:
    """The healthy engines of the bench's sheet, their idle set right where the car stands."""
    kind, home = kind_of_sheet(bench.sheet), surroundings(bench)
    free = len(kind.blueprint.free)
    draws = np.random.default_rng(SEED).standard_normal((CARS, free))
    cars = kind.blueprint.cars(np.concatenate([np.zeros((2, free)), draws]))
    screws = set_up(kind.design, kind.torque, kind.funnel, cars, home)
    cars.values[cars.rows["mixture_screw"], 1] += STEP
    air_flow = usual_flows(kind, home)
    middle, turned, *others = mixture_curve(kind, cars, screws, home, air_flow)
    return Healthy(air_flow, middle, middle / np.array(others) - 1.0, (middle / turned - 1.0) / STEP)


def drawn_air(bench: Bench, speed: Array, manifold: Array) -> Array:
    """The air that an engine of the sheet's size draws, [kg/s].

    Args:
        speed: [1/s].
        manifold: Pressure in the manifold, absolute, [Pa].
    """
    kind, home = kind_of_sheet(bench.sheet), surroundings(bench)
    charge = manifold / (GAS_CONSTANT * (home.ambient_temperature + MANIFOLD_WARMER))
    return np.asarray(manifold_volume_flow(kind.design, speed) * charge, dtype=np.float64)
