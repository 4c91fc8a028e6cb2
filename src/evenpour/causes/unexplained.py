"""What if a reading does not belong: the flat density it then has, and the slips it may have been.

"Check g does not belong" has a small prior, and what was read is then equally likely anywhere in its physical
range. Leaving g out costs its density as all the other readings foresee it, so one closed formula screens
every check at every node. A slip (unit, point, neighbour, state of the engine) is tried by reading the check
as it may have been meant. What no slip mends is *unexplained*.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.problem import Columns, Flags, Indices, Slip

#: Prior probability that one check does not belong.
STRAY = 0.01


@dataclass(frozen=True, slots=True)
class Variant:
    """The readings as they may have been meant: with a slip put right in one check."""

    check: int
    log_prior: float
    columns: Columns
    label: str


def checks_of(columns: Columns) -> Indices:
    """Ids of the checks that were read, rising."""
    return np.unique(columns.check)


def rows_of(columns: Columns, checks: Sequence[int]) -> Flags:
    """Which rows belong to these checks."""
    return np.isin(columns.check, np.asarray(checks))


def log_flat(columns: Columns, checks: Sequence[int], stray: float = STRAY) -> float:
    """Log prior that these checks do not belong, times the flat density of what they read."""
    total = len(checks) * math.log(stray)
    for row in np.flatnonzero(rows_of(columns, checks)):
        choice = columns.choices[row]
        total -= math.log(columns.flat[row]) if choice is None else math.log(choice.count)
    return total


def slipped(columns: Columns, slip: Slip) -> Variant:
    """The readings with a slip put right."""
    y, column = columns.y.copy(), columns.column.copy()
    y[slip.rows], column[slip.rows] = slip.y, slip.column
    right = replace(columns, y=y, column=column, slips=())
    return Variant(int(columns.check[slip.rows[0]]), slip.log_prior, right, slip.label)


def slips_of(columns: Columns, check: int) -> list[Variant]:
    """The readings with each slip put right that may have been made in this check."""
    return [slipped(columns, slip) for slip in columns.slips if columns.check[slip.rows[0]] == check]
