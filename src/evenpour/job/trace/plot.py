"""A recording thinned out for a chart: the lowest and the highest of each short stretch; no peak is lost."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenpour.job.trace.answers import PlotPoint

Array = NDArray[np.float64]

STRETCHES = 250


def thinned(x: Array, y: Array) -> list[PlotPoint]:
    """At most twice :data:`STRETCHES` points, in order; what was not read is left out."""
    there = np.isfinite(y)
    x, y = x[there], y[there]
    if x.size <= 2 * STRETCHES:
        kept = np.arange(x.size)
    else:
        edges = np.linspace(x[0], x[-1], STRETCHES + 1)[:-1]
        first = np.unique(np.minimum(np.searchsorted(x, edges), x.size - 1))
        ends = np.append(first[1:], x.size)
        low = [int(a + np.argmin(y[a:b])) for a, b in zip(first, ends, strict=True)]
        high = [int(a + np.argmax(y[a:b])) for a, b in zip(first, ends, strict=True)]
        kept = np.unique([*low, *high])
    return [PlotPoint(x=_digits(x[one]), y=_digits(y[one])) for one in kept]


def _digits(value: float) -> float:
    return float(f"{value:.6g}")
