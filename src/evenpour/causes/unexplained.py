"""What if a reading does not belong: the flat density it then has, and the slips it may have been.

"Check g does not belong" has a small prior, and what was read is then equally likely anywhere in its physical
range. Leaving g out costs its density as all the other readings foresee it, so one closed formula screens
every check at every node. A slip (unit, point, neighbour) is tried by reading the check as it may have been
meant; the state of the engine is not. What no slip mends is *unexplained*.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.problem import Columns, Indices, Slip

#: Prior probability that one check does not belong.
STRAY = 0.01
SEVERAL = 3  # words of one check, from which they may all have been misjudged in one way


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


def log_flat(columns: Columns, checks: Sequence[int], stray: float = STRAY) -> float:
    """Log prior that these checks do not belong, times the flat density of what they read.

    A word is misread as often as its own check says, and that is in its likelihood already: a second doubt
    would make plain sight of a drip worth less than it is. Only where one check gave several words, one a
    cylinder, may they be wrong together, as often as one of them.
    """
    return sum(_log_flat(columns, np.flatnonzero(columns.check == check), stray) for check in checks)


def _log_flat(columns: Columns, rows: Indices, stray: float) -> float:
    words = [choice for choice in (columns.choices[row] for row in rows) if choice is not None]
    flat = float(np.log(columns.flat[rows]).sum()) + math.fsum(math.log(one.count) for one in words)
    if len(words) < len(rows):
        return math.log(stray) - flat
    if len(words) < SEVERAL:
        return -math.inf  # that one word may be wrong is said by the word itself
    return math.log(max(one.misread for one in words)) - flat


def slipped(columns: Columns, slip: Slip) -> Variant:
    """The readings with a slip put right."""
    y, column = columns.y.copy(), columns.column.copy()
    y[slip.rows], column[slip.rows] = slip.y, slip.column
    right = replace(columns, y=y, column=column, slips=())
    return Variant(int(columns.check[slip.rows[0]]), slip.log_prior, right, slip.label)


def slips_of(columns: Columns, check: int) -> list[Variant]:
    """The readings with each slip put right that may have been made in this check."""
    return [slipped(columns, slip) for slip in columns.slips if columns.check[slip.rows[0]] == check]
