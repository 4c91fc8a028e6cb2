"""A reading on a rule: the limit as a stretch of it, the reading as a stroke, its doubt as a line across.

Places only; what is inside and how sure that is has been worked out long before.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpour.job.answers import JudgedReading

LENGTH = 1000.0  # the drawing's own units, from end to end
AIR = 0.18  # of the whole, left free at each end
NARROWEST = 6.0  # of a stretch or a line that would otherwise not be seen


@dataclass(frozen=True, slots=True)
class Ruler:
    """Places along the drawing; ``low`` and ``high`` None where the limit is open to that side.

    ``band_from`` and ``band_length`` are the stretch that is allowed, ``at`` the reading, ``doubt_from`` and
    ``doubt_to`` the ends of what is printed behind ±.
    """

    low: float | None
    high: float | None
    band_from: float
    band_length: float
    at: float
    doubt_from: float
    doubt_to: float


def ruler_of(row: JudgedReading) -> Ruler | None:
    """The rule for a reading with a figure and a limit; None where there is nothing to draw."""
    limit, value = row.limit, row.value
    if limit is None or not isinstance(value, float) or not math.isfinite(value):
        return None
    if limit.low is None and limit.high is None:
        return None
    doubt = row.doubt or 0.0
    ends = [end for end in (limit.low, limit.high, value - doubt, value + doubt) if end is not None]
    low, high = min(ends), max(ends)
    span = (high - low) or abs(high) or 1.0
    start = low - AIR / (1.0 - 2.0 * AIR) * span
    whole = span / (1.0 - 2.0 * AIR)

    def place(at: float) -> float:
        return round(LENGTH * (at - start) / whole, 1)

    left = 0.0 if limit.low is None else place(limit.low)
    right = LENGTH if limit.high is None else place(limit.high)
    across = max(place(value + doubt) - place(value - doubt), NARROWEST)
    return Ruler(
        low=None if limit.low is None else left,
        high=None if limit.high is None else right,
        band_from=left,
        band_length=round(max(right - left, NARROWEST), 1),
        at=place(value),
        doubt_from=round(place(value) - across / 2.0, 1),
        doubt_to=round(place(value) + across / 2.0, 1),
    )
