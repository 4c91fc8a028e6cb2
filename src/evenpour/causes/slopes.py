"""The model called in blocks, and its slopes by central differences."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from evenpour.causes.problem import Array, Indices, Moving, Predict

#: Rows in one call of the model: arrays of a block stay in the processor's cache.
BLOCK = 4000
#: Half the distance over which a slope is taken, in prior standard deviations: wide enough to smooth over the
#: bends that a choked or closed path makes.
STEP = 0.05
THREADS = 2


def predicted(predict: Predict, node: Indices, z: Array) -> Array:
    """All columns at these nodes and nuisances, (R, M)."""
    if len(node) <= BLOCK:
        return predict(node, z)
    cuts = np.arange(BLOCK, len(node), BLOCK)
    parts = list(zip(np.split(node, cuts), np.split(z, cuts), strict=True))
    with ThreadPoolExecutor(THREADS) as pool:
        return np.concatenate(list(pool.map(lambda part: predict(*part), parts)))


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
