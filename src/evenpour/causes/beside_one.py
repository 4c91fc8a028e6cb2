"""What every cause does on a car that something is wrong with already.

Effects add on a car that is nearly sound. One that does not fire burns nothing, whatever leaks; a plunger
that hangs hides the screw. So the likeliest causes are each taken as true, on the car with which they fit
best, and every other is laid on that car with the model itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.explanation import Explanation
from evenpour.causes.problem import Array, Faults
from evenpour.causes.screening import Screen, screen_of
from evenpour.causes.seen import Noise

TAKEN = 4  # causes taken as true, the likeliest
NO_FIT = 1e-9  # of the likeliest node, below which one is dragged to what no car is: the middle car is better


@dataclass(frozen=True, slots=True)
class Laid:
    """Every node beside something that is wrong, on one car.

    Attributes:
        under: What is wrong beneath every node, one row.
        f: What every node foresees there, as of the middle car, the slopes being what they are here, (N, M).
        slopes: By the car's numbers, (d, M).
    """

    under: Faults
    f: Array
    slopes: Array

    def screen(self, noise: Noise, said: Array | None = None) -> Screen:
        """What every node does there to some of the readings; *said* as known of their words, (N, w)."""
        return screen_of(self.f, self.slopes, noise, said)

    def log_density(self, noise: Noise, said: Array | None = None) -> Array:
        """Of some readings under every node, up to what they all have in common, (N,)."""
        seen = self.screen(noise, said)
        miss = np.sum((seen.misfit - seen.effect) ** 2, axis=1)
        return np.asarray(seen.log_scale - 0.5 * miss + seen.said.sum(axis=1))


def on_the_likeliest(told: Explanation) -> dict[int, Laid]:
    """The cars of the likeliest causes, each by its node."""
    return {node: _on(told, node) for node in _likeliest_nodes(told)}


def laid_on(told: Explanation, under: Faults, car: Array, slopes: Array) -> Laid:
    """Every node laid on the car with these numbers, (d,), and those faults.

    Args:
        slopes: Of all columns by the car's numbers, as they are there, (d, M).
    """
    grid = told.fitted.grid
    which = np.column_stack([np.repeat(under.which, len(grid), axis=0), grid.faults.which])
    severity = np.column_stack([np.repeat(under.severity, len(grid), axis=0), grid.faults.severity])
    f = told.severe.model(Faults(which, severity), np.tile(told.severe.spread * car, (len(grid), 1)))
    return Laid(under, f - car @ slopes, slopes)


def _likeliest_nodes(told: Explanation) -> list[int]:
    """The best node of each of the likeliest causes, one cylinder of each."""
    grid, found = told.fitted.grid, dict[str, int]()
    for node in np.argsort(-told.node_weight, kind="stable"):
        suspect = told.suspects[grid.owner[node]]
        if suspect.cause is not None:
            found.setdefault(suspect.id, int(node))
        if len(found) == TAKEN:
            break
    return list(found.values())


def _on(told: Explanation, node: int) -> Laid:
    modes, d = told.fitted.modes, told.severe.d
    own = np.array([node])
    fits = told.node_weight[node] > NO_FIT * told.node_weight.max()
    car = modes.z[node, :d] * fits
    return laid_on(told, told.severe.faults(own, modes.z[own]), car, modes.J[node, :d])
