"""Nodes whose severity is free within its cell.

A precise reading fixes a gross fault's severity far more finely than any grid of severities, so at a grid's
middle the car itself would have to bend to make up the rest. Each node therefore keeps its severity as one
more number, standard normal, that runs through its cell: s = low + (high - low) Phi(v). A uniform prior in
the cell stays exactly that, the two-peaked direction stays on the grid, and within a cell all is smooth.
Where several are wrong alike, their numbers go together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.normal import normal_below
from evenpour.causes.problem import NONE, Array, Faults, Flags, Grid, Indices, Model


@dataclass(frozen=True, slots=True)
class Severe:
    """A model asked at the nodes of a grid. ``d``: numbers of the car; a row of z has one more for each of
    the K severities of a node.

    ``spread`` widens the car's own spread: real cars are odder than the data says. ``felt``: which of the
    car's numbers each hypothesis lets the readings feel, (H, d); all where nothing is said.
    """

    model: Model
    grid: Grid
    d: int
    spread: float = 1.0
    felt: Flags | None = None

    @property
    def size(self) -> int:
        """Length of a row of z."""
        return self.d + int(self.grid.low.shape[1])

    def predict(self, node: Indices, z: Array) -> Array:
        """All columns at nodes (R,) and numbers (R, d + K)."""
        return self.model(self.faults(node, z), self.spread * z[:, : self.d])

    def moving(self, node: Indices) -> Flags:
        """Which numbers change what these nodes foresee, (R, d + K)."""
        grid = self.grid
        own = np.ones((len(node), self.d), dtype=bool)
        if self.felt is not None:
            which = grid.faults.which[node]
            own = (self.felt[which] & (which != NONE)[..., None]).any(axis=1)
        return np.column_stack([own, (grid.high > grid.low)[node]])

    def faults(self, node: Indices, z: Array) -> Faults:
        """What is wrong at these nodes and numbers."""
        grid = self.grid
        alike = None if grid.alike is None else grid.alike[node]
        v = z[:, self.d :]
        if alike is not None:
            v = going_together(v, alike)
        return Faults(grid.faults.which[node], _inside(grid.low[node], grid.high[node], v))


def going_together(v: Array, alike: Array, *, back: bool = False) -> Array:
    """Independent standard normal numbers (R, K) made to go together; or *back*.

    It is the symmetric root of the correlation matrix: what is equally alike stays so, in whatever order.

    Args:
        alike: Correlation of those of a row that go together, 0 of the others, which stay as they are,
            (R, K).
    """
    there, by = alike > 0.0, alike.max(axis=1, keepdims=True)
    count = np.maximum(there.sum(axis=1, keepdims=True), 1)
    apart, common = np.sqrt(1.0 - by), np.sqrt(1.0 + (count - 1) * by)
    if back:
        apart, common = 1.0 / apart, 1.0 / common
    mean = np.where(there, v, 0.0).sum(axis=1, keepdims=True) / count
    return np.where(there, apart * v + (common - apart) * mean, v)


def _inside(low: Array, high: Array, v: Array) -> Array:
    wide = high - low
    return np.asarray(low + wide * normal_below(v)) if wide.any() else low
