"""The readings linearised at nodes that move, with what does not change from step to step worked out once.

While a node keeps its slopes, all that its numbers say of the car's precision stays as it is; only choices,
whose information hangs on where the node stands, are added anew at every step.
"""

from __future__ import annotations

import numpy as np

from evenpour.causes.problem import Array, Indices
from evenpour.causes.seen import (
    STEEPEST,
    Noise,
    across_numbers,
    gentle,
    residuals,
    white_misfit,
    white_numbers,
)
from evenpour.machine.blocks import in_blocks

#: Nodes linearised in one go: their slopes stay in the processor's cache.
NODES = 64


class Linear:
    """Nodes linearised one step after the other.

    Args:
        noise: The readings.
        count, numbers: Nodes, n, and numbers of the car, d.
    """

    def __init__(self, noise: Noise, count: int, numbers: int) -> None:
        self._noise = noise
        self._word = noise.columns.column[noise.choice]
        self._H = np.empty((count, numbers, numbers))
        self._fresh = np.zeros(count, dtype=bool)
        self._steep = np.zeros(count, dtype=bool)  # steeper than can be borne: see `gentle`

    def forget(self, nodes: Indices) -> None:
        """The slopes of these nodes have changed."""
        self._fresh[nodes] = False

    def at(self, rows: Indices, z: Array, f: Array, J: Array) -> tuple[Array, Array]:
        """Precision and pull of these nodes, (n, d, d) and (n, d): see `local`.

        Args:
            rows: Which nodes, rising.
            z, f, J: Of all nodes.
        """
        self._renew(rows[~self._fresh[rows]], J)
        noise = self._noise
        r, factor = residuals(noise, f[rows])
        white = white_misfit(noise, r)
        first, count = len(noise.alone), len(noise.choice)
        numbers = np.concatenate([white[:, :first], white[:, first + count :]], axis=1)
        words, factor = white[:, first : first + count], factor[:, noise.choice]
        across = across_numbers(noise, np.eye(J.shape[2])[None])[0]  # from the right of slopes
        by_column, steep = numbers @ across.T, self._steep[rows]
        H, pull = np.empty((len(rows), *self._H.shape[1:])), np.empty((len(rows), z.shape[1]))

        def work(part: slice) -> None:
            some = part if len(rows) == len(self._fresh) else rows[part]
            slopes, here = J[some], z[some]
            H[part] = self._H[some]
            pull[part] = _times(slopes, by_column[part]) + _times(H[part], here) - here
            for at in np.flatnonzero(steep[part]):
                A = white_numbers(noise, slopes[at : at + 1])[0]
                pull[part.start + at] = A @ (numbers[part.start + at] + here[at] @ A)
            if count:
                A = gentle(slopes[:, :, self._word] * factor[part, None, :])
                pull[part] += _times(A, words[part] + np.matmul(here[:, None, :], A)[:, 0])
                H[part] += np.matmul(A, A.transpose(0, 2, 1))

        in_blocks(work, len(rows), NODES)
        return H, pull

    def _renew(self, rows: Indices, J: Array) -> None:
        own = np.arange(J.shape[1])

        def work(part: slice) -> None:
            A = white_numbers(self._noise, J[rows[part]])
            self._H[rows[part]] = np.matmul(A, A.transpose(0, 2, 1))
            self._steep[rows[part]] = np.abs(A).max(axis=(1, 2), initial=0.0) >= STEEPEST

        in_blocks(work, len(rows), NODES)
        self._H[rows[:, None], own, own] += 1.0
        self._fresh[rows] = True


def _times(A: Array, x: Array) -> Array:
    return np.asarray(np.matmul(A, x[..., None])[..., 0])
