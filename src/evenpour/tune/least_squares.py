"""Parameters of a curve by least squares: damped Gauss-Newton steps (Levenberg and Marquardt).

Source: D. Marquardt, J. Soc. Indust. Appl. Math. 11 (1963) 431; the way the damping follows the gain is that
    of H. B. Nielsen's report on damping (1999). Both from memory, not verified; that the code is right is
    shown by the certified values of NIST's collection of nonlinear problems.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenpour.errors import OutOfRange

Array = NDArray[np.float64]
Residuals = Callable[[Array], Array]
"""Rows of parameters, (m, k), to rows of residuals, (m, n): curve less data, in one call."""

MOST_STEPS = 2000
STEP = float(np.finfo(np.float64).eps) ** (1.0 / 3.0)  # of central differences, relative
TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Fit:
    """The parameters whose curve lies nearest to the data.

    Attributes:
        values: The parameters, (k,).
        covariance: Residual variance times the inverse of J'J, (k, k); infinite where the data say nothing.
        residuals: Curve less data, (n,).
        dof: n - k.
    """

    values: Array
    covariance: Array
    residuals: Array
    dof: int

    @property
    def residual_sd(self) -> float:
        """Root of the sum of squares over the degrees of freedom."""
        return math.sqrt(float(self.residuals @ self.residuals) / self.dof)

    @property
    def u(self) -> Array:
        """Standard deviation of each parameter, (k,)."""
        return np.sqrt(np.diag(self.covariance))


def least_squares(residuals: Residuals, start: ArrayLike, *, steps: int = MOST_STEPS) -> Fit:
    """The parameters with the least sum of squared residuals, sought downhill from *start*.

    Args:
        residuals: See :data:`Residuals`. Not finite means: not there.
        start: First guess, (k,). Of several valleys, the one it lies in is found.
        steps: After so many it is near enough for whom it is a first guess.
    Raises:
        OutOfRange: no more data than parameters, or residuals at *start* that are not finite.
    Example:
        >>> time, data = np.arange(6.0), np.array([2.0, 1.21, 0.74, 0.45, 0.27, 0.165])
        >>> fit = least_squares(lambda p: p[:, :1] * np.exp(-p[:, 1:] * time) - data, [1.0, 1.0])
        >>> [round(float(value), 2) for value in fit.values]
        [2.0, 0.5]
    """
    values = np.array(start, dtype=np.float64)
    here = residuals(values[None, :])[0]
    if here.size <= values.size:
        raise OutOfRange(
            "points", here.size, "are too few for this curve", allowed=f"more than {values.size}"
        )
    if not np.all(np.isfinite(here)):
        raise OutOfRange("start", None, "gives a curve that is not finite")
    jacobian = slopes(residuals, values)
    scale = np.maximum(np.linalg.norm(jacobian, axis=0), TINY)
    damping, growth = 1e-3, 2.0
    for _ in range(steps):
        step = _step(jacobian, here, scale, damping)
        trial = values + step
        there = residuals(trial[None, :])[0]
        gain = float(here @ here - there @ there)  # nan where the curve is not there
        foreseen = float(-step @ (jacobian.T @ here) + damping * np.sum((scale * step) ** 2))
        small = bool(np.all(np.abs(step) <= 1e-12 * (np.abs(values) + 1e-12)))
        if gain > 0.0:
            values, here = trial, there
            jacobian = slopes(residuals, values)
            scale = np.maximum(scale, np.linalg.norm(jacobian, axis=0))
            damping *= max(1.0 / 3.0, 1.0 - (2.0 * gain / max(foreseen, TINY) - 1.0) ** 3)
            growth = 2.0
        elif small or damping > 1e16:
            break
        else:
            damping, growth = damping * growth, 2.0 * growth
        if small:
            break
    return Fit(values, _covariance(jacobian, here), here, here.size - values.size)


def slopes(residuals: Residuals, values: Array) -> Array:
    """Slope of every residual over every parameter, (n, k), by central differences in one call."""
    steps = STEP * np.maximum(np.abs(values), STEP)
    rows = np.concatenate([values + np.diag(steps), values - np.diag(steps)])
    moved = residuals(rows)
    apart: Array = (moved[: values.size] - moved[values.size :]) / (2.0 * steps[:, None])
    return apart.T


def _step(jacobian: Array, here: Array, scale: Array, damping: float) -> Array:
    """Of the damped problem, as a least-squares solve: the normal equations would lose half the digits."""
    wide = np.concatenate([jacobian / scale, math.sqrt(damping) * np.eye(scale.size)])
    right = np.concatenate([-here, np.zeros(scale.size)])
    solved: Array = np.linalg.lstsq(wide, right, rcond=None)[0] / scale
    return solved


def _covariance(jacobian: Array, here: Array) -> Array:
    """Residual variance times (J'J)^-1, by the triangle of J's QR, columns scaled alike."""
    scale = np.maximum(np.linalg.norm(jacobian, axis=0), TINY)
    triangle = np.linalg.qr(jacobian / scale, mode="r")
    n, k = jacobian.shape
    if np.min(np.abs(np.diag(triangle))) < 1e-14:
        return np.full((k, k), np.inf)
    inverse = np.linalg.inv(triangle) / scale[:, None]
    spread: Array = float(here @ here) / (n - k) * (inverse @ inverse.T)
    return spread
