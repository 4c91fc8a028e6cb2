"""How likely points are about a curve, when it is not known how their scatter hangs together.

Sensor noise comes in slow waves as well as in single jumps, and sixty neighbours that stray together tell
less than sixty that stray each for itself. So several kinds of scatter are tried, from none that hangs
together to waves as long as a quarter of the trace, and weighed by how well they fit; the size of the scatter
is integrated out. With a gauge of coarse steps a point says only between which two values the curve lay.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from evenpour.tune.points import Points

Array = NDArray[np.float64]

WAVES = {1.0: 0.17, 2.0: 0.12, 4.0: 0.08, 8.0: 0.05, 15.0: 0.025}
"""Length of the waves in spacings of the points, and how likely beforehand; the rest has no waves at all."""
LONGEST_WAVE = 0.25  # of the trace
ROWS = 64  # times the square of the number of points stays below what is spread over threads
JUMPY = (0.0, 0.5)  # share of the variance that does not hang together
# Of the samples of a stepped gauge so many count: neighbours repeat each other. Chosen on invented traces.
INDEPENDENT = 0.6
LEAST = 1e-300  # of a sum of squares: data without any scatter are made up, and no reason to fail
_ROOT_2 = math.sqrt(2.0)


class Scatter:
    """Kinds of scatter for some points, each with the matrix that makes residuals independent.

    Args:
        time: Of the points, (n,), increasing.
        share: Of the samples behind each, over the most behind any.
    Attributes:
        kinds: (wave [s], jumpy share); the first does not hang together at all.
    """

    def __init__(self, time: Array, share: Array) -> None:
        n = time.size
        spacing = (time[-1] - time[0]) / (n - 1)
        longest = LONGEST_WAVE * (n - 1)
        waves = {wave * spacing: p for wave, p in WAVES.items() if wave <= longest}
        self.kinds = [(0.0, 1.0), *((wave, jumpy) for wave in waves for jumpy in JUMPY)]
        beforehand = [1.0 - sum(waves.values()), *(p / len(JUMPY) for p in waves.values() for _ in JUMPY)]
        self.log_prior = np.log(beforehand)
        apart = np.abs(time[:, None] - time)
        single = np.diag(1.0 / share)
        spread = [
            single if wave == 0.0 else (1.0 - jumpy) * np.exp(-apart / wave) + jumpy * single
            for wave, jumpy in self.kinds
        ]
        root = np.linalg.cholesky(np.array(spread))
        self.whiten: Array = np.linalg.inv(root)
        self.log_size: Array = np.sum(np.log(np.diagonal(root, axis1=1, axis2=2)), axis=1)
        self.n = n

    def by_kind(self, residuals: Array, kinds: NDArray[np.intp]) -> Array:
        """Log density of each row of residuals (m, n) under each of *kinds*, (m, kinds); the size of the
        scatter integrated out with the prior 1/size.
        """
        found = np.empty((residuals.shape[0], kinds.size))
        for column, kind in enumerate(kinds):
            squares = np.maximum(self._squares(residuals, kind), LEAST)
            found[:, column] = self.log_prior[kind] - self.log_size[kind] - 0.5 * self.n * np.log(squares)
        return found

    def _squares(self, residuals: Array, kind: np.intp) -> Array:
        """Sums of squares once they are independent, a few rows at a time: a larger product is spread over
        threads, which costs more than it saves here, and much more where the cores are busy.
        """
        found = np.empty(residuals.shape[0])
        for start in range(0, residuals.shape[0], ROWS):
            white = residuals[start : start + ROWS] @ self.whiten[kind].T
            found[start : start + ROWS] = np.einsum("ij,ij->i", white, white)
        return found


def between_edges(points: Points, curve: Array, noise: Array) -> Array:
    """Log probability, (m,), that a gauge of coarse steps shows the steps it showed.

    Args:
        curve: True values at the points, (m, n).
        noise: Standard deviation of the noise before the gauge rounds it, (m,).
    """
    there = _between(points.low - curve, points.high - curve, noise[:, None])
    return np.asarray(INDEPENDENT * np.sum(there, axis=1), dtype=np.float64)


def _between(low: Array, high: Array, sd: Array) -> Array:
    """Log of the normal probability between *low* and *high*, by the tail where it is far off."""
    swap = low + high < 0.0  # beyond the upper end: look at it from the other side
    a, b = np.where(swap, -high, low) / sd, np.where(swap, -low, high) / sd
    near = 0.5 * (_erfc(a / _ROOT_2) - _erfc(b / _ROOT_2))
    far = -0.5 * a**2 - np.log(np.maximum(a, 1.0)) - 0.5 * math.log(2.0 * math.pi)
    return np.where(near > 1e-280, np.log(np.maximum(near, 1e-290)), far)


def _erfc(x: Array) -> Array:
    """Complementary error function, relative error below 1.2e-7.

    Source: the rational Chebyshev fit of Numerical Recipes, second edition, 6.2; from memory, tested against
    the standard library.
    """
    z = np.abs(x)
    t = 1.0 / (1.0 + 0.5 * z)
    series = (-1.26551223, 1.00002368, 0.37409196, 0.09678418, -0.18628806, 0.27886807, -1.13520398,
              1.48851587, -0.82215223, 0.17087277)  # fmt: skip
    power = np.zeros_like(t)
    for factor in reversed(series):
        power = power * t + factor
    tail = t * np.exp(-z * z + power)
    return np.where(x >= 0.0, tail, 2.0 - tail)
