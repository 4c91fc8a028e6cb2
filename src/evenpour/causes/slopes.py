"""The model's slopes by central differences."""

from __future__ import annotations

import numpy as np

from evenpour.causes.problem import Array, Indices, Moving, Predict

#: Half the distance over which a slope is taken, in prior standard deviations: wide enough to smooth over the
#: bends that a choked or closed path makes.
STEP = 0.05


def predicted(predict: Predict, node: Indices, z: Array) -> Array:
    """All columns at these nodes and nuisances, (R, M)."""
    return predict(node, z)


def slopes(predict: Predict, node: Indices, z: Array, moving: Moving | None = None) -> Array:
    """Slopes of all columns at these nodes, (n, d, M): two rows of the model for each number that moves."""
    which, number = np.nonzero(np.ones(z.shape, dtype=bool) if moving is None else moving(node))
    shift = np.zeros((len(which), z.shape[1]))
    shift[np.arange(len(which)), number] = STEP
    at, nodes = z[which], node[which]
    ends = predicted(predict, np.concatenate([nodes, nodes]), np.concatenate([at + shift, at - shift]))
    found = np.zeros((len(node), z.shape[1], ends.shape[1]))
    found[which, number] = (ends[: len(which)] - ends[len(which) :]) / (2.0 * STEP)
    return found
