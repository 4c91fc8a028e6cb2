"""The readings linearised at nodes that move, with what does not change from step to step worked out once.

While a node keeps its slopes, all that its numbers say of the car's precision stays as it is; only choices,
whose information hangs on where the node stands, are added anew at every step.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    """Nodes linearised one step after the other, each in the numbers that it responds to.

    A number without a slope anywhere stays at its prior, and the precision needs no row for it: of a kind's
    numbers most nodes respond to three quarters.

    Args:
        noise: The readings.
        count, numbers: Nodes, n, and numbers of the car, d.
    """

    def __init__(self, noise: Noise, count: int, numbers: int) -> None:
        self._noise = noise
        self._word = noise.columns.column[noise.choice]
        # which numbers a node responds to come first, filled up with others to one width, w
        self._place = np.zeros((count, 0), dtype=np.int64)
        self._H = np.empty((count, 0, 0))
        self._fresh = np.zeros(count, dtype=bool)
        self._steep = np.zeros(count, dtype=bool)  # steeper than can be borne: see `gentle`

    def forget(self, nodes: Indices) -> None:
        """The slopes of these nodes have changed."""
        self._fresh[nodes] = False

    def at(self, rows: Indices, z: Array, f: Array, J: Array) -> Toward:
        """The linearised problem at these nodes.

        Args:
            rows: Which nodes, rising.
            z, f, J: Of all nodes.
        """
        while len(stale := rows[~self._fresh[rows]]):
            self._renew(stale, J)
        noise, place = self._noise, self._place[rows]
        r, factor = residuals(noise, f[rows])
        white = white_misfit(noise, r)
        first, count = len(noise.alone), len(noise.choice)
        numbers = np.concatenate([white[:, :first], white[:, first + count :]], axis=1)
        words, factor = white[:, first : first + count], factor[:, noise.choice]
        across = across_numbers(noise, np.eye(J.shape[2])[None])[0]  # from the right of slopes
        by_column, steep = numbers @ across.T, self._steep[rows]
        near = np.take_along_axis(z[rows], place, axis=1)
        H, pull = self._H[rows], np.empty(near.shape)

        def work(part: slice) -> None:
            slopes, here = J[rows[part, None], place[part]], near[part]
            pull[part] = _times(slopes, by_column[part]) + _times(H[part], here) - here
            for at in np.flatnonzero(steep[part]):
                A = white_numbers(noise, slopes[at : at + 1])[0]
                pull[part.start + at] = A @ (numbers[part.start + at] + here[at] @ A)
            if count:
                A = gentle(slopes[:, :, self._word] * factor[part, None, :])
                pull[part] += _times(A, words[part] + np.matmul(here[:, None, :], A)[:, 0])
                H[part] += np.matmul(A, A.transpose(0, 2, 1))

        in_blocks(work, len(rows), NODES)
        return Toward(z[rows], place, near, H, pull)

    def _renew(self, rows: Indices, J: Array) -> None:
        """Work out anew what the slopes of these nodes say."""
        responds = np.empty((len(rows), J.shape[1]), dtype=bool)

        def look(part: slice) -> None:
            responds[part] = np.any(J[rows[part]], axis=2)

        in_blocks(look, len(rows), NODES)
        width = int(responds.sum(axis=1).max())
        if width > self._place.shape[1]:  # what was narrower is worked out anew when it is asked for
            self._place = np.zeros((len(self._fresh), width), dtype=np.int64)
            self._H = np.empty((len(self._fresh), width, width))
            self._fresh[:] = False
        width = self._place.shape[1]
        place = np.argsort(~responds, axis=1, kind="stable")[:, :width]

        def work(part: slice) -> None:
            A = white_numbers(self._noise, J[rows[part, None], place[part]])
            self._H[rows[part]] = np.matmul(A, A.transpose(0, 2, 1))
            self._steep[rows[part]] = np.abs(A).max(axis=(1, 2), initial=0.0) >= STEEPEST

        in_blocks(work, len(rows), NODES)
        own = np.arange(width)
        self._H[rows[:, None], own, own] += 1.0
        self._place[rows] = place
        self._fresh[rows] = True


@dataclass(frozen=True, slots=True)
class Toward:
    """The linearised problem at n nodes, in the w numbers that each responds to.

    Attributes:
        z: All numbers, (n, d). ``place``: which of them are meant, (n, w); ``near``: those, (n, w).
        H: Precision: the prior's and what the readings add, (n, w, w).
        pull: H times where the problem has its mode, (n, w).
    """

    z: Array
    place: Indices
    near: Array
    H: Array
    pull: Array

    def step(self) -> tuple[Array, Array]:
        """How far it is to the mode, (n, d), and what energy that promises to save, (n,)."""
        goal = np.linalg.solve(self.H, self.pull[..., None])[..., 0]
        step, short = -self.z, goal - self.near
        np.put_along_axis(step, self.place, short, axis=1)
        others = np.sum(self.z**2, axis=1) - np.sum(self.near**2, axis=1)
        return step, 0.5 * (np.sum(short * _times(self.H, short), axis=1) + others)


def _times(A: Array, x: Array) -> Array:
    return np.asarray(np.matmul(A, x[..., None])[..., 0])
