"""Two causes screened on the car that one of them makes.

Effects add on a car that is nearly sound. One that does not fire burns nothing, whatever leaks; a plunger
that hangs hides the screw. So the likeliest causes are each taken as true, on the car with which they fit
best, and every other is laid on that car with the model itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.explanation import Explanation
from evenpour.causes.problem import Array, Faults
from evenpour.causes.screening import FAR, root_of, words_of
from evenpour.causes.seen import Noise

TAKEN = 4  # causes taken as true, the likeliest
NO_FIT = 1e-9  # of the likeliest node, below which one is dragged to what no car is: the middle car is better


@dataclass(frozen=True, slots=True)
class OnOne:
    """Every node beside one cause, on the car with which that fits best.

    Attributes:
        which: The cause's hypothesis.
        f: What every node foresees there, as of the middle car, the slopes being what they are here, (N, M).
        slopes: By the car's numbers, (d, M).
    """

    which: int
    f: Array
    slopes: Array

    def log_density(self, noise: Noise) -> Array:
        """Of some readings under every node, up to what they all have in common, (N,)."""
        column, scale = noise.columns.column[noise.number], noise.per_sd[noise.number]
        root = root_of(self.slopes, noise)
        misfit = np.clip((noise.columns.y[noise.number] - self.f[:, column]) * scale, -FAR, FAR)
        white = np.linalg.solve(root, misfit.T)
        found = -0.5 * np.sum(white**2, axis=0) - np.log(np.diag(root)).sum()
        return np.asarray(found + words_of(self.f, self.slopes, noise).sum(axis=1))


def on_the_likeliest(told: Explanation) -> list[OnOne]:
    """The cars of the likeliest causes."""
    return [_on(told, node) for node in _likeliest_nodes(told)]


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


def _on(told: Explanation, node: int) -> OnOne:
    grid, modes, d = told.fitted.grid, told.fitted.modes, told.severe.d
    own = np.array([node])
    one = told.severe.faults(own, modes.z[own])
    which = np.column_stack([np.repeat(one.which, len(grid), axis=0), grid.faults.which])
    severity = np.column_stack([np.repeat(one.severity, len(grid), axis=0), grid.faults.severity])
    fits = told.node_weight[node] > NO_FIT * told.node_weight.max()
    car, slopes = modes.z[node, :d] * fits, modes.J[node, :d]
    f = told.severe.model(Faults(which, severity), np.tile(told.severe.spread * car, (len(grid), 1)))
    return OnOne(int(grid.owner[node]), f - car @ slopes, slopes)
