"""A trace as some sixty points: what a fit needs of a thousand or a million samples.

Averages over short stretches, so that noise falls and the curve stays. A gauge that shows coarse steps is
another matter: while the curve crawls through one step the average is off by as much as half of it. So where
the noise is too small to blur the steps, single samples are kept as what each says: between here and there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import OutOfRange

Array = NDArray[np.float64]

MOST_POINTS = 60
FEWEST_POINTS = 6
MOST_LEVELS = 400  # with more different values than this a step is too fine to matter
MOST_STEPPED = 120  # a gauge of coarse steps says less with each
WITHIN = 4  # samples of a point at which a curve is looked at
STRETCHES = 8  # in which a trace is smooth enough for a cubic
BLURS = 0.45  # noise of so many steps makes averages straight: the wave left is 1 % of the step


@dataclass(frozen=True, slots=True)
class Points:
    """A trace reduced; arrays of one length, in order of time.

    Attributes:
        time: Where each point lies.
        within: Times of some of its samples, (n, 4): a curve is averaged over them like the samples were.
        value: What was read there; an average unless *stepped*.
        share: Samples behind it, over the most behind any; 0 to 1.
        low, high: Where *stepped*, between which the value with its noise lay.
        step: The gauge's step; 0 where it is too fine to be seen.
        stepped: Whether the steps are coarser than the noise.
        begin, end: Times of the first sample and of the last.
        samples: How many there were.
    """

    time: Array
    within: Array
    value: Array
    share: Array
    low: Array
    high: Array
    step: float
    stepped: bool
    begin: float
    end: float
    samples: int


def points_of(time: Array, value: Array, still: float = 0.0) -> Points:
    """A trace as points.

    Args:
        time: Increasing, (n,); without nan.
        value: Same shape; nan where nothing was read.
        still: The gauge's step where it showed one and the same value throughout, and so tells of none.
    Raises:
        OutOfRange: fewer than six samples that can be read.
    """
    there = np.isfinite(value)
    time, value = time[there], value[there]
    if value.size < FEWEST_POINTS:
        raise OutOfRange(
            "samples", value.size, "are too few for a fit", allowed=f"{FEWEST_POINTS} and more, unlike a gap"
        )
    begin, end = float(time[0]), float(time[-1])
    step = step_of_gauge(value) if np.ptp(value) else still
    if step == 0.0 or noise_of(time, value, step) > BLURS * step:
        first = _firsts(time, value, MOST_POINTS)
        count = np.diff(first, append=value.size).astype(np.float64)
        at, mean = np.add.reduceat(time, first) / count, np.add.reduceat(value, first) / count
        places = first[:, None] + (np.outer(count, np.arange(WITHIN) + 0.5) / WITHIN).astype(np.intp)
        return Points(
            at, time[places], mean, count / count.max(), mean, mean, step, False, begin, end, value.size
        )
    one = _firsts(time, value, MOST_STEPPED)
    at, low, high = time[one], value[one] - 0.5 * step, value[one] + 0.5 * step
    alone = np.repeat(at[:, None], WITHIN, axis=1)
    return Points(at, alone, value[one], np.ones(at.size), low, high, step, True, begin, end, value.size)


def step_of_gauge(value: Array) -> float:
    """The smallest step the values are made of; 0 where there is none, or one too fine to matter."""
    levels = np.unique(value if value.size <= 200_000 else value[:: value.size // 100_000])
    if not 2 <= levels.size <= MOST_LEVELS:
        return 0.0
    apart = np.diff(levels)
    apart = apart[apart > 1e-6 * (levels[-1] - levels[0])]  # 0.1 + 0.2 is no level beside 0.3
    step = float(apart.min())
    whole = np.abs(apart / step - np.round(apart / step)) < 0.1
    return float(np.median(apart[apart < 1.5 * step])) if np.mean(whole) > 0.9 else 0.0


def noise_of(time: Array, value: Array, step: float) -> float:
    """Scatter of single samples about a smooth curve (cubics over a few stretches), without what rounding to
    *step* adds to it.
    """
    first = _firsts(time, value, max(1, min(STRETCHES, value.size // 12)))
    squares, free = 0.0, 0
    for start, end in zip(first, np.append(first[1:], value.size), strict=True):
        many = int(end - start)
        if many > 6:
            middle, half = 0.5 * (time[start] + time[end - 1]), 0.5 * (time[end - 1] - time[start])
            place = (time[start:end] - middle) / half
            powers = np.stack([np.ones(many), place, place**2, place**3], axis=1)
            rest = np.linalg.lstsq(powers, value[start:end], rcond=None)[1]
            squares += float(rest[0]) if rest.size else 0.0
            free += many - 4
    return math.sqrt(max(0.0, squares / max(free, 1) - step**2 / 12.0))


def _firsts(time: Array, value: Array, most: int) -> NDArray[np.intp]:
    """The first sample of each point: half of the points by time, half by how much happens in it."""
    if time.size <= most:
        return np.arange(time.size)
    even = np.linspace(time[0], time[-1], MOST_POINTS + 1)
    first = _starts(time, even)
    count = np.diff(first, append=time.size)
    moved = np.interp(even, np.add.reduceat(time, first) / count, np.add.reduceat(value, first) / count)
    happens = np.abs(np.diff(moved))
    grows = np.cumsum(1.0 / MOST_POINTS + happens / max(float(np.sum(happens)), 1e-300))
    return _starts(time, np.interp(np.linspace(0.0, grows[-1], most + 1), np.append(0.0, grows), even))


def _starts(time: Array, edges: Array) -> NDArray[np.intp]:
    """The first sample of each stretch that holds any."""
    return np.unique(np.minimum(np.searchsorted(time, edges[:-1]), time.size - 1))
