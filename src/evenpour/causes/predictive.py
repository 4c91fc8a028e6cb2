"""What all other readings say of one: how far it misses, and how dense it is there.

With P = B^-1 the readings g, given all the others, are normal about a miss e_g = P_gg^-1 (P t)_g with
covariance P_gg^-1, all in units of their own noise. A choice enters by its score and information as
everywhere, put right by what its exact log probability says at the mode.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.laplace import Local
from evenpour.causes.normal import LOG_2PI
from evenpour.causes.problem import Array, Indices
from evenpour.causes.seen import Noise


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Sets of readings as all the others foresee them, at n nodes and for G sets."""

    log_density: Array  # (n, G) of what was read, in the space of the columns
    miss: tuple[Array, ...]  # (n, rows) of each set, in units of the noise
    width: tuple[Array, ...]  # (n, rows) standard deviation foreseen, in units of the noise


def left_out(noise: Noise, at: Local, f: Array, sets: Sequence[Indices]) -> LeftOut:
    """Foresee each set of rows from all the others.

    Args:
        noise: The readings.
        at: The readings linearised at the modes.
        f: All columns at the modes, (n, M).
        sets: Rows that go together: of one check, of one reading, of two checks.
    """
    P = np.linalg.inv(at.B)
    v = np.einsum("nij,nj->ni", P, at.t)
    log_density = np.empty((len(f), len(sets)))
    misses, widths = [], []
    for g, rows in enumerate(sets):
        within = P[:, rows[:, None], rows]
        V = np.linalg.inv(within)
        e = np.einsum("nij,nj->ni", V, v[:, rows])
        misses.append(e)
        widths.append(np.sqrt(np.einsum("nii->ni", V)))
        foreseen = -0.5 * (np.einsum("ni,ni->n", e, v[:, rows]) - np.linalg.slogdet(within)[1])
        log_density[:, g] = foreseen - 0.5 * len(rows) * LOG_2PI + _put_right(noise, at, f, rows)
    return LeftOut(log_density, tuple(misses), tuple(widths))


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
