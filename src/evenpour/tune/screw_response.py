"""What an idle shows over its mixture screw: the kind's own curve, and how far cars of the kind lie from it.

Lift is counted in turns of a usual screw, from where the idle is right: whatever a screw's thread, its car's
idle goes along the same curve. So two numbers make the curve a car's own: where the screw stands on it, and
how far along it one turn of this screw goes, over a usual one's (its gain).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.machine.exhaust import exhaust
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Query, Readout
from evenpour.machine.reads_bench import screw_onset
from evenpour.machine.running import run
from evenpour.machine.set_up import set_up
from evenpour.machine.situation import Situation

Array = NDArray[np.float64]

LEANEST, RICHEST, POINTS = -0.9, 1.2, 141  # turns of a usual screw from right, and how many points between
CARS, SEED = 240, 7  # drawn to see how far cars of a kind differ


@dataclass(frozen=True, slots=True)
class Response:
    """What the idle reads over the lift, in one situation.

    Attributes:
        lift: Turns of a usual screw, richer than where the idle is right, shape (points,), rising.
        shown: By check, what it reads there, SI, shape (points,): CO rises, lambda and duty fall.
    """

    lift: Array
    shown: Mapping[str, Array]

    def at(self, check: str, lift: Any) -> Any:
        """What *check* reads at *lift*; beyond the ends as at the ends."""
        return np.interp(lift, self.lift, self.shown[check])

    def where(self, check: str, value: float) -> float:
        """The lift at which *check* reads *value*; an end of the curve where it reads that nowhere."""
        values = self.shown[check]
        rising = check == "exhaust_co"
        order = values if rising else values[::-1]
        lifts = self.lift if rising else self.lift[::-1]
        steady = np.maximum.accumulate(order)  # an engine that dies at the lean end shows one value
        return float(np.interp(value, steady, lifts))


@dataclass(frozen=True, slots=True)
class Spread:
    """How the onset of cars of one kind lies to their right idle, in lift, [turns of a usual screw].

    Attributes:
        onset: By what the lines end in, "lines" or "injectors": how far the onset lies richer than right.
        u_onset: One standard deviation of that between cars.
        u_gain: Of the logarithm of the gain, from all but the screw's own thread.
    """

    onset: Mapping[str, float]
    u_onset: float
    u_gain: float


def responses(kind: Kind, home: Situation, situations: Sequence[Situation]) -> tuple[Response, ...]:
    """The kind's curve in each of *situations*: one car of the kind, its idle set right at *home*.

    Args:
        home: The place and the fuel for which an idle is called right.
        situations: Of warm idles; the state of the oxygen sensor does not count.
    """
    lift = np.linspace(LEANEST, RICHEST, POINTS)
    cars = kind.blueprint.cars(np.zeros((POINTS, len(kind.blueprint.free))))
    screws = set_up(kind.design, kind.torque, kind.funnel, cars, home)
    cars.values[cars.rows["mixture_screw"]] += lift
    seen = Readout(kind, cars, screws)
    return tuple(Response(lift, _shown(seen, one)) for one in situations)


def _shown(seen: Readout, situation: Situation) -> dict[str, Array]:
    """Gas without the sensor's correction, and the duty with it."""
    gas = seen.gas(replace(situation, engine="idle_warm", sensor="off"))
    shown = {"exhaust_co": np.asarray(gas.co), "exhaust_lambda": np.asarray(gas.mixture)}
    if seen.kind.oxygen_control:
        state = seen.running(replace(situation, engine="idle_warm", sensor="connected"))
        shown["lambda_duty"] = np.asarray(state.duty)
    return shown


def spread_of(kind: Kind, home: Situation) -> Spread:
    """How far cars of *kind* differ, from cars drawn from its model; the same cars every time."""
    plan = kind.blueprint
    cars = plan.cars(np.random.default_rng(SEED).standard_normal((CARS, len(plan.free))))
    screws = set_up(kind.design, kind.torque, kind.funnel, cars, home)
    gain = cars["screw_pitch"] / kind.centre["screw_pitch"]
    onset = {}
    for through in ("lines", "injectors"):
        bench = replace(home, engine="off", lines=through == "lines")
        onset[through] = gain * screw_onset(Readout(kind, cars, screws), Query("onset", bench))
    step = 0.1 / gain
    moved = cars.copy()
    moved.values[moved.rows["mixture_screw"]] += step
    warm = replace(home, engine="idle_warm", sensor="off")
    before, after = (exhaust(some, run(kind, some, screws, warm), warm).mixture for some in (cars, moved))
    steep = np.log(after / before)
    return Spread(
        {through: float(np.mean(lift)) for through, lift in onset.items()},
        float(np.std(onset["lines"])),
        float(np.std(np.log(steep / np.mean(steep)))),
    )
