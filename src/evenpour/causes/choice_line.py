"""Choices along a margin: how likely each is, what one says of the margin, and how much.

The model gives a margin m; its cut points divide the line into the check's choices. People see the margin
with a blur and now and then misread altogether:

.. math:: P(c \\mid m) = (1-e)\\,[\\Phi((b_{c+1}-m)/w) - \\Phi((b_c-m)/w)] + e/n

Without e one misread plug decides the case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenpour.causes.normal import normal_below, normal_density

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ChoiceLine:
    """A choice that was made, or may be made.

    Args:
        cuts: Cut points between the choices, rising, (n - 1,), in units of the margin.
        observed: Which was chosen, from 0 at the low end; None before it is read.
        misread: e, the probability of an answer that has nothing to do with the margin.
        blur: w, standard deviation with which the margin is seen.
    """

    cuts: tuple[float, ...]
    observed: int | None = None
    misread: float = 0.03
    blur: float = 1.0

    @property
    def count(self) -> int:
        """Number of choices."""
        return len(self.cuts) + 1

    def blurred(self, factor: float) -> ChoiceLine:
        """The same line seen with a wider blur."""
        return replace(self, blur=self.blur * factor)


@dataclass(frozen=True, slots=True)
class Lines:
    """Several lines as arrays, c of them, filled up to the longest with choices that cannot be."""

    low: Array  # (c, n) lower edges, -inf first
    high: Array
    floor: Array  # (c, n) e / n, 0 for what cannot be
    belief: Array  # (c,) 1 - e
    blur: Array  # (c,)
    observed: NDArray[np.int64]  # (c,); 0 where nothing was chosen yet

    def probabilities(self, margin: Array, variance: Array | float = 0.0) -> Array:
        """Of every choice, (..., c, n), for margins (..., c) known to a variance (..., c)."""
        width = np.sqrt(self.blur**2 + variance)[..., None]
        below = normal_below((self.high - margin[..., None]) / width)
        return np.asarray(self.belief[:, None] * _between(below) + self.floor)

    def log_chosen(self, margin: Array, variance: Array | float = 0.0) -> Array:
        """Log probability of what was chosen, (..., c)."""
        width, own = np.sqrt(self.blur**2 + variance), (np.arange(len(self.observed)), self.observed)
        below = normal_below((self.high[own] - margin) / width)
        above = normal_below((self.low[own] - margin) / width)
        return np.asarray(np.log(self.belief * (below - above) + self.floor[own]))

    def misread(self, margin: Array) -> Array:
        """Probability that what was chosen has nothing to do with the margin, (..., c)."""
        own = self.floor[np.arange(len(self.observed)), self.observed]
        return np.asarray(own / _chosen(self.probabilities(margin), self.observed))

    def score_and_information(self, margin: Array) -> tuple[Array, Array]:
        """Slope of the log probability of what was chosen, and its expected square, (..., c) each."""
        scaled = self.blur[:, None]
        slopes = -_between(normal_density((self.high - margin[..., None]) / scaled))
        slopes *= (self.belief / self.blur)[:, None]
        chances = self.probabilities(margin)
        parts = slopes**2 / np.maximum(chances, 1e-300)
        return _chosen(slopes / np.maximum(chances, 1e-300), self.observed), np.asarray(parts.sum(axis=-1))


def lines_of(choices: Sequence[ChoiceLine]) -> Lines:
    """These lines as arrays."""
    most = max((line.count for line in choices), default=1)
    shape = (len(choices), most)
    low, high, floor = np.full(shape, np.inf), np.full(shape, np.inf), np.zeros(shape)
    for row, line in enumerate(choices):
        edges = np.array([-np.inf, *line.cuts, np.inf])
        low[row, : line.count], high[row, : line.count] = edges[:-1], edges[1:]
        floor[row, : line.count] = line.misread / line.count
    return Lines(
        low=low,
        high=high,
        floor=floor,
        belief=np.array([1.0 - line.misread for line in choices]),
        blur=np.array([line.blur for line in choices]),
        observed=np.array([line.observed or 0 for line in choices], dtype=np.int64),
    )


def _between(at_high: Array) -> Array:
    """What lies between the edges of each choice, (..., n), of what is below the upper ones: each is the next
    one's lower, and below the first lies nothing.
    """
    found = at_high.copy()
    found[..., 1:] -= at_high[..., :-1]
    return found


def _chosen(table: Array, observed: NDArray[np.int64]) -> Array:
    return np.asarray(table[..., np.arange(len(observed)), observed])
