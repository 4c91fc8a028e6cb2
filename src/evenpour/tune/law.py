"""What a law is made of: a curve, and the unknowns that a trace is to tell."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Unknown:
    """A parameter of a law: anywhere from *low* to *high* equally likely, or in proportion if *log*."""

    name: str
    low: float
    high: float
    log: bool = False

    def value(self, share: Array) -> Array:
        """From 0 to 1 along the range."""
        if self.log:
            return np.asarray(self.low * (self.high / self.low) ** share)
        return np.asarray(self.low + (self.high - self.low) * share)

    def share(self, value: float) -> float:
        """How far along the range a value lies."""
        if self.log:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class Law:
    """One way the trace could run.

    Attributes:
        curve: Parameters (m, k) and times (n,) to values (m, n); k as in *unknowns*.
        starts: First guesses, each (k,).
    """

    name: str
    unknowns: tuple[Unknown, ...]
    curve: Callable[[Array, Array], Array]
    starts: tuple[Sequence[float], ...]
