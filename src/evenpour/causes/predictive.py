"""What all other readings say of one: how far it misses, and how dense it is there.

With P the inverse of all readings' covariance, the readings g, given all the others, are normal about a miss
e_g = P_gg^-1 (P t)_g with covariance P_gg^-1, all in units of their own noise. P is never formed: with R the
noise and H the precision of the car's numbers, P = R^-1 - R^-1 J' H^-1 J R^-1, of which blocks are enough. A
choice enters by its score and information as everywhere, put right by what its exact log probability says at
the mode.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.laplace import Local
from evenpour.causes.linear import NODES
from evenpour.causes.normal import LOG_2PI
from evenpour.causes.problem import Array, Indices
from evenpour.causes.seen import Noise, gentle, over_noise
from evenpour.machine.blocks import in_blocks

LEAST = 1e-12  # of a reading's precision: what is left of it after all others is not told from rounding


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Sets of readings as all the others foresee them, at n nodes and for D sets."""

    log_density: Array  # (n, D) of what was read, in the space of the columns
    shift: Array  # (n, D) how far each node moves without the set, in prior standard deviations

    def put(self, nodes: Indices, other: LeftOut) -> None:
        """Write what is foreseen at these nodes."""
        self.log_density[nodes], self.shift[nodes] = other.log_density, other.shift


def left_out(noise: Noise, at: Local, f: Array, sets: Sequence[Indices]) -> LeftOut:
    """Foresee each set of rows from all the others.

    Args:
        noise: The readings.
        at: The readings linearised at the modes.
        f: All columns at the modes, (n, M).
        sets: Rows that go together: of one check, of one reading, of two checks.
    """
    column, count = noise.columns.column, len(f)
    own = over_noise(noise, np.eye(len(column)))
    lone = np.array([g for g, rows in enumerate(sets) if len(rows) == 1], dtype=np.int64)
    single = np.array([int(sets[g][0]) for g in lone], dtype=np.int64)
    log_density, shift = np.empty((count, len(sets))), np.empty((count, len(sets)))

    def work(part: slice) -> None:
        A = gentle(at.J[part][:, :, column] * at.factor[part, None, :])
        left = np.linalg.inv(at.H[part])
        goal = np.matmul(left, at.pull[part, :, None])[..., 0]
        v = over_noise(noise, at.r[part] + np.matmul((at.z[part] - goal)[:, None, :], A)[:, 0])
        U = over_noise(noise, A)
        # a row by itself is all that most sets hold: those go at once
        moves = np.matmul(left, U[:, :, single])
        within = np.diag(own)[single] - np.sum(U[:, :, single] * moves, axis=1)
        within = np.maximum(within, LEAST * np.diag(own)[single])
        e = v[:, single] / within
        log_density[part, lone] = -0.5 * (e * v[:, single] - np.log(within))
        shift[part, lone] = np.sqrt(np.sum(moves**2, axis=1)) * np.abs(e)
        for g, rows in enumerate(sets):
            if len(rows) == 1:
                continue
            some = U[:, :, rows]
            moves = np.matmul(left, some)
            within = own[np.ix_(rows, rows)] - np.matmul(some.transpose(0, 2, 1), moves)
            e = np.linalg.solve(within, v[:, rows, None])[..., 0]
            shift[part, g] = np.sqrt(np.sum(np.matmul(moves, e[..., None])[..., 0] ** 2, axis=1))
            log_density[part, g] = -0.5 * (np.sum(e * v[:, rows], axis=1) - np.linalg.slogdet(within)[1])

    in_blocks(work, count, NODES)
    for g, rows in enumerate(sets):
        log_density[:, g] += _put_right(noise, at, f, rows) - 0.5 * len(rows) * LOG_2PI
    return LeftOut(log_density, shift)


def pulls(noise: Noise, at: Local) -> tuple[Array, Array]:
    """P t and P itself at n nodes, (n, m) and (n, m, m), in units of the readings' noise."""
    column = noise.columns.column
    own = over_noise(noise, np.eye(len(column)))
    A = gentle(at.J[:, :, column] * at.factor[:, None, :])
    goal = at.goal()
    v = over_noise(noise, at.r + np.matmul((at.z - goal)[:, None, :], A)[:, 0])
    U = over_noise(noise, A)
    return v, own - np.matmul(U.transpose(0, 2, 1), np.linalg.solve(at.H, U))


def _put_right(noise: Noise, at: Local, f: Array, rows: Indices) -> Array:
    """Numbers: log of the scale. Choices: exact log probability at the mode over its normal stand-in."""
    lines = [row for row in rows if noise.columns.choices[row] is not None]
    scale = np.log(noise.per_sd[rows]).sum()  # 0 for choices
    if not lines:
        return np.full(len(f), scale)
    exact = noise.lines.log_chosen(f[:, noise.columns.column[noise.choice]])
    mine = exact[:, np.isin(noise.choice, lines)].sum(axis=1)
    stand_in = -0.5 * np.sum(at.r[:, lines] ** 2, axis=1) - 0.5 * len(lines) * LOG_2PI
    return np.asarray(mine - stand_in + scale)
