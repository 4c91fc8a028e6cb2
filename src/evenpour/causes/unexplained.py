"""What if a reading does not belong: a whole check, or one value alone of a check that has several.

That it does not belong has a small prior, and what was read is then equally likely anywhere in its physical
range. Leaving it out costs its density as all the other readings foresee it, so one closed formula screens
every doubt at every node. What was plainly written wrongly is a matter of its own
(:mod:`evenpour.causes.slips`); what no slip mends is *unexplained*.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.problem import Array, Columns, Flags, Indices

#: Prior probability that one check does not belong, and that of a check of several values some one does not,
#: where its own is not said: about as often as a word is taken down that has nothing to do with what was
#: there. Common practice, no source.
STRAY = 0.005
SEVERAL = 3  # values of one check, from which one may be odd beside the others, or all words wrong in one way


@dataclass(frozen=True, slots=True, eq=False)  # each is itself alone, however alike another is
class Doubt:
    """Something that may not belong.

    Attributes:
        check: Id of the check.
        rows: Which rows of the columns, (k,).
        log_flat: Log prior that these do not belong, times the flat density of what they read.
        whole: Whether it is all that the check gave.
    """

    check: int
    rows: Indices
    log_flat: float
    whole: bool

    def gone(self, count: int) -> Flags:
        """Which of so many rows these are, (count,)."""
        found = np.zeros(count, dtype=np.bool_)
        found[self.rows] = True
        return found

    def among(self, kept: Indices) -> Doubt:
        """The same, its rows counted among all of which *kept* were left, (m,)."""
        return replace(self, rows=kept[self.rows])


def checks_of(columns: Columns) -> Indices:
    """Ids of the checks that were read, rising."""
    return np.unique(columns.check)


def doubts_of(columns: Columns) -> tuple[Doubt, ...]:
    """All that may not belong: of each check, rising, the whole, and then each of its values.

    A word is misread as often as its own check says, and that is in its likelihood already: a second doubt
    would make plain sight of a drip worth less than it is. Only where one check gave several words, one a
    cylinder, and all say the same may they be wrong together, as often as one of them: who tells cylinders
    apart has seen something.
    """
    sets = [np.flatnonzero(columns.check == check) for check in checks_of(columns)]
    return tuple(one for rows in sets for one in _of_check(columns, rows))


def rows_but(aside: Sequence[Doubt], count: int) -> Flags:
    """Which of so many rows are not set aside, (count,)."""
    read = np.ones(count, dtype=np.bool_)
    for one in aside:
        read[one.rows] = False
    return read


def by_check(doubts: Sequence[Doubt], checks: Indices, probability: Array) -> Array:
    """Probability that each check or a value of it does not belong, (G,), from that of each doubt, (D,)."""
    found = np.zeros(len(checks))
    np.add.at(found, np.searchsorted(checks, [one.check for one in doubts]), probability)
    return np.minimum(found, 1.0)


def _of_check(columns: Columns, rows: Indices) -> Iterator[Doubt]:
    check = int(columns.check[rows[0]])
    words = [choice for choice in (columns.choices[row] for row in rows) if choice is not None]
    flat = float(np.log(columns.flat[rows]).sum()) + math.fsum(math.log(one.count) for one in words)
    usual = STRAY if columns.stray is None else float(columns.stray[rows].max())
    if len(words) < len(rows):
        stray = math.log(usual)
    elif len(words) < SEVERAL or len({one.observed for one in words}) > 1:
        stray = -math.inf  # that one word may be wrong is said by the word itself
    else:
        stray = math.log(max(one.misread for one in words))
    yield Doubt(check, rows, stray - flat, whole=True)
    if not words and len(rows) >= SEVERAL:
        for row in rows:
            log = math.log(usual / len(rows)) - math.log(columns.flat[row])
            yield Doubt(check, np.array([row]), log, whole=False)
