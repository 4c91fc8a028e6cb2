"""Corners rounded off: what runs out, closes or takes over does so without a kink.

Hot: no validation, NumPy in and out. The widths are those of real parts, whose stops are springs and whose
seats are not flat; they also keep every derivative of the model finite.
"""

from __future__ import annotations

from typing import Any

import numpy as np


def positive(x: Any, width: Any) -> Any:
    """*x* where it is well above zero, next to nothing where it is well below; *width*/2 at zero."""
    return 0.5 * (x + np.sqrt(x * x + width * width))


def lesser(a: Any, b: Any, width: Any) -> Any:
    """The lesser of *a* and *b*; lower than either by *width*/2 where they are equal."""
    apart = a - b
    return 0.5 * (a + b - np.sqrt(apart * apart + width * width))


def step(x: Any) -> Any:
    """A share that goes from 0 far below zero to 1 far above, 1/2 at zero: the logistic curve."""
    return 0.5 * (1.0 + np.tanh(0.5 * x))
