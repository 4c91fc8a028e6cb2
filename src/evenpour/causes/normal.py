"""The normal distribution on arrays, and sums of what is known by its logarithm."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LOG_2PI = math.log(2.0 * math.pi)
ROOT_2PI = math.sqrt(2.0 * math.pi)


def normal_below(x: Array) -> Array:
    """Standard normal distribution function, hot: any array, infinities too."""
    from scipy.special import ndtr  # slow to load; a table of our own is no faster

    return np.asarray(ndtr(x))


def normal_at(share: Array) -> Array:
    """Where this share of a standard normal lies below, hot."""
    from scipy.special import ndtri  # slow to load

    return np.asarray(ndtri(share))


def normal_density(x: Array) -> Array:
    """Standard normal density, hot: any array, 0 at infinities."""
    return np.asarray(np.exp(-0.5 * np.square(x)) / ROOT_2PI)


def log_sum(values: Array, axis: int = -1) -> Array:
    """Log of the sum of what is given by its log; -inf for nothing at all."""
    top = np.max(values, axis=axis, keepdims=True, initial=-np.inf)
    held = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        total = np.log(np.exp(values - held).sum(axis=axis, keepdims=True)) + held
    return np.asarray(np.squeeze(total, axis=axis))


def log_sum_by(values: Array, owner: NDArray[np.int64], count: int) -> Array:
    """Log of the sum over each owner, (..., N) to (..., count); -inf for an owner of nothing."""
    top = np.full((count, *values.shape[:-1]), -np.inf)
    np.maximum.at(top, owner, np.moveaxis(values, -1, 0))
    held = np.where(np.isfinite(top), top, 0.0)
    total = np.zeros_like(top)
    np.add.at(total, owner, np.exp(np.moveaxis(values, -1, 0) - held[owner]))
    with np.errstate(divide="ignore"):
        return np.asarray(np.moveaxis(np.log(total) + held, 0, -1))
