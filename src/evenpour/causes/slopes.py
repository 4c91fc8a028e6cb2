"""The model's slopes by differences."""

from __future__ import annotations

import numpy as np

from evenpour.causes.problem import Array, Indices, Moving, Predict

#: Half the distance over which a slope is taken, in prior standard deviations: wide enough to smooth over the
#: bends that a choked or closed path makes.
STEP = 0.05


def predicted(predict: Predict, node: Indices, z: Array) -> Array:
    """All columns at these nodes and nuisances, (R, M)."""
    return predict(node, z)


def slopes(
    predict: Predict, node: Indices, z: Array, moving: Moving | None = None, f: Array | None = None
) -> Array:
    """Slopes of all columns at these nodes, (n, d, M): two rows of the model for each number that moves.

    Args:
        f: The columns there, (n, M), where slopes half a `STEP` away will do: one row for each number then.
    """
    which, number = np.nonzero(np.ones(z.shape, dtype=bool) if moving is None else moving(node))
    ahead, nodes = z[which], node[which]
    ahead[np.arange(len(which)), number] += STEP
    if f is None:
        back = z[which]
        back[np.arange(len(which)), number] -= STEP
        ends = predicted(predict, np.concatenate([nodes, nodes]), np.concatenate([ahead, back]))
        rise = (ends[: len(which)] - ends[len(which) :]) / (2.0 * STEP)
    else:
        rise = (predicted(predict, nodes, ahead) - f[which]) / STEP
    found = np.zeros((len(node), z.shape[1], rise.shape[1]))
    found[which, number] = rise
    return found
