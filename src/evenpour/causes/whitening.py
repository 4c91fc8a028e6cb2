"""Readings whose noise is common, turned into as many with noise of their own.

Repeats of one thing and ports of one catch share part of their noise. A factor of its correlation turns each
such block into directions of unit noise that have nothing in common; several readings of one column fall
together in one direction, so that ten repeats cost no more than one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Block:
    """Readings that share noise. With b readings of c columns:

    Attributes:
        rows: The readings, (b,).
        column: The model's columns they read, each once, (c,).
        across: Slopes of the columns to those of the directions, from the right, (c, c).
        turn: Misfits in units of their noise to those of the directions, from the right, (b, c).
        inverse: Inverse of the block's correlation, (b, b).
    """

    rows: Indices
    column: Indices
    across: Array
    turn: Array
    inverse: Array


def blocks_of(
    number: Indices, column: Indices, correlation: Array, per_sd: Array
) -> tuple[tuple[Block, ...], Indices]:
    """The blocks, and the rows whose noise is their own.

    Args:
        number: Rows that are numbers; choices are left to themselves.
        column: The model's column of every row, (m,).
        correlation: Of the noise of all rows, (m, m).
        per_sd: One over the standard noise of every row, (m,).
    """
    part = _parts(correlation[np.ix_(number, number)] != 0.0)
    blocks: list[Block] = []
    alone: list[int] = []
    for one in np.unique(part):
        rows = number[part == one]
        if len(rows) == 1:
            alone.append(int(rows[0]))
        else:
            blocks.append(_block(rows, column[rows], correlation[np.ix_(rows, rows)], per_sd[rows]))
    return tuple(blocks), np.array(sorted(alone), dtype=np.int64)


def _parts(together: NDArray[np.bool_]) -> Indices:
    """What hangs together, directly or through others, under the lowest number of each part."""
    part = np.arange(len(together))
    while len(part):
        lowest = np.where(together, part, len(part)).min(axis=1)
        if np.array_equal(lowest, part):
            break
        part = lowest
    return part


def _block(rows: Indices, column: Indices, correlation: Array, per_sd: Array) -> Block:
    columns, place = np.unique(column, return_inverse=True)
    reads = np.zeros((len(rows), len(columns)))
    reads[np.arange(len(rows)), place] = per_sd
    root = np.linalg.cholesky(correlation)
    q, upper = np.linalg.qr(np.linalg.solve(root, reads))
    inverse = np.asarray(np.linalg.inv(correlation), dtype=np.float64)
    return Block(rows, columns, upper.T.copy(), np.linalg.solve(root.T, q), inverse)
