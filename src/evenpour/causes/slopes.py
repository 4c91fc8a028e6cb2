"""The model called in blocks, and its slopes by central differences."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from evenpour.causes.problem import Array, Indices, Predict

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


def slopes(predict: Predict, node: Indices, z: Array) -> Array:
    """Slopes of all columns at these nodes, (n, d, M); 2 d rows of the model each."""
    d = z.shape[1]
    shift = STEP * np.concatenate([np.eye(d), -np.eye(d)])
    size = max(1, BLOCK // len(shift))
    cuts = np.arange(size, len(node), size)

    def one(part: tuple[Indices, Array]) -> Array:
        nodes, at = part
        rows = (at[:, None, :] + shift).reshape(-1, d)
        both = predict(np.repeat(nodes, len(shift)), rows).reshape(len(nodes), 2, d, -1)
        return np.asarray((both[:, 0] - both[:, 1]) / (2.0 * STEP))

    parts = list(zip(np.split(node, cuts), np.split(z, cuts), strict=True))
    if len(parts) == 1:
        return one(parts[0])
    with ThreadPoolExecutor(THREADS) as pool:
        return np.concatenate(list(pool.map(one, parts)))
