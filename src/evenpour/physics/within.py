"""How the formulas here refuse what they have no meaning for, and hand back what they were given."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenpour.errors import OutOfRange


def within(
    name: str, value: ArrayLike, low: float, high: float, unit: str, hint: str = ""
) -> NDArray[np.float64]:
    """*value* as an array, once all of it is known to lie from *low* to *high*.

    Args:
        name: Name of the argument, as the error says it.
        value: A number or an array of them.
        low: Smallest value allowed.
        high: Largest value allowed; infinity where there is none.
        unit: Unit of all three; may be empty.
        hint: What the person may have got wrong; may be empty.
    Raises:
        OutOfRange: with the first value that lies outside; nan and infinity do.
    """
    array = np.asarray(value, dtype=np.float64)
    inside = (array >= low) & (array <= high) & np.isfinite(array)
    if not np.all(inside):
        worst = array if array.ndim == 0 else array[~inside].flat[0]
        least = f"{'−' if low < 0.0 else ''}{abs(low):g}"  # a hyphen beside "to" reads as another range
        top = f"{least} to {high:g} {unit}" if np.isfinite(high) else f"{least} {unit} and more"
        raise OutOfRange(
            name, float(worst), "is outside the formula's range", allowed=top.strip(), remedy=hint
        )
    return array


def plain(array: Any) -> Any:
    """A float for a single number, else the array."""
    return float(array) if np.ndim(array) == 0 else array
