"""Steady stretches of a drive: where nothing changed for some seconds, so that a reading means something."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import OutOfRange

Array = NDArray[np.float64]

# Common practice, no source: exhaust takes about a second to the sensor, and a wideband sensor some tenths.
BLOCK = 1.0  # s, averaged at first
# At the beginning of a stretch, not counted: transport, sensor, and the change itself.
SETTLES = 2.0  # s
SHORTEST = 4.0  # s, that are counted
LONGEST = 60.0  # s; a longer one is several
CHANGES = 0.03  # share, from one block to the next, that is no longer steady
DRIFTS = 0.06  # share, from its beginning, at which a stretch has become another
SENSOR_REACHES = (0.68, 1.45)  # lambda; beyond it a wideband sensor shows its end, and overrun has no mixture
BELIEVED = 0.8  # share of a block's samples within that reach


@dataclass(frozen=True, slots=True)
class Stretches:
    """Steady stretches, in order of time; arrays of one length.

    Attributes:
        start, end: [s].
        signals: Means of the signals that were steady, (signals, stretches).
        value: Mean lambda.
        u: Standard uncertainty of that mean, from how its seconds differ; it does not hold the sensor's own
        error.
        left_out: Share of all samples in which lambda lay beyond the sensor's reach.
    """

    start: Array
    end: Array
    signals: Array
    value: Array
    u: Array
    left_out: float


def steady_stretches(time: Array, value: Array, signals: Sequence[Array]) -> Stretches:
    """Find where every one of *signals* stood still, and what lambda was there.

    Args:
        time: [s], increasing, (n,); millions will do.
        value: Lambda, (n,); nan where nothing was read.
        signals: At least one, such as air flow, speed, manifold pressure, (n,) each; positive; nan as above.
    Raises:
        OutOfRange: nothing was steady for long enough.
    """
    block = max(BLOCK, 2.0 * float(np.median(np.diff(time[:100_000]))))
    place = ((time - time[0]) / block).astype(np.intp)
    first = np.flatnonzero(np.diff(place, prepend=-1))
    count = np.diff(first, append=time.size)
    reach = (value > SENSOR_REACHES[0]) & (value < SENSOR_REACHES[1])
    mean, believed = _block_means(np.where(reach, value, np.nan), first)
    steady = [_block_means(signal, first)[0] for signal in signals]
    start_of = place[first] * block
    runs = _runs(np.array(steady), believed >= BELIEVED * count, start_of, block)
    skip, least = int(np.ceil(SETTLES / block)), max(3, int(np.ceil(SHORTEST / block)))
    runs = [(a + skip, b) for a, b in runs if b - a >= skip + least]
    if not runs:
        raise OutOfRange(
            "steady stretches",
            0,
            "were found: nothing stood still for long enough",
            allowed=f"{SETTLES + SHORTEST:g} s without a change of {100 * CHANGES:g} % within a second",
            remedy="Hold a few speeds and loads for ten seconds each, and log again",
        )
    return Stretches(
        start=time[0] + np.array([start_of[a] for a, _ in runs]),
        end=time[0] + np.array([start_of[b - 1] + block for _, b in runs]),
        signals=np.array([[float(np.mean(one[a:b])) for a, b in runs] for one in steady]),
        value=np.array([float(np.mean(mean[a:b])) for a, b in runs]),
        u=_u_of_means(mean, runs),
        left_out=float(1.0 - np.count_nonzero(reach) / value.size),
    )


def _block_means(values: Array, first: NDArray[np.intp]) -> tuple[Array, Array]:
    """Mean of each block over what was read, and of how many samples."""
    if np.isfinite(np.sum(values)):  # nothing is missing: no need to count
        many = np.diff(first, append=values.size).astype(np.float64)
        return np.add.reduceat(values, first) / many, many
    there = np.isfinite(values)
    many = np.add.reduceat(there.astype(np.float64), first)
    total = np.add.reduceat(np.where(there, values, 0.0), first)
    return np.where(many > 0.0, total / np.maximum(many, 1.0), np.nan), many


def _runs(steady: Array, usable: NDArray[np.bool_], start: Array, block: float) -> list[tuple[int, int]]:
    """First block and the one after the last of each run in which nothing changed."""
    with np.errstate(divide="ignore", invalid="ignore"):
        change = np.max(np.abs(np.diff(steady, axis=1)) / np.abs(steady[:, :-1]), axis=0)
    follows = np.append(False, (change < CHANGES) & (np.diff(start) < 1.5 * block))  # false for nan
    found, begun, longest = [], 0, int(LONGEST / block)
    for one in range(1, steady.shape[1] + 1):
        ends = one == steady.shape[1] or not (follows[one] and usable[one] and one - begun < longest)
        if not ends:
            origin = steady[:, begun]
            ends = bool(np.any(np.abs(steady[:, one] - origin) > DRIFTS * np.abs(origin)))
        if ends:
            if usable[begun]:
                found.append((begun, one))
            begun = one
    return found


def _u_of_means(mean: Array, runs: Sequence[tuple[int, int]]) -> Array:
    """Of each stretch's mean: from how the seconds of all stretches scatter, for one alone would tell little,
    and with half of them taken as independent.
    """
    squares = sum(float(np.sum((mean[a:b] - np.mean(mean[a:b])) ** 2)) for a, b in runs)
    seconds = np.array([b - a for a, b in runs], dtype=np.float64)
    scatter = np.sqrt(squares / max(1.0, float(np.sum(seconds - 1.0))))
    return np.asarray(scatter / np.sqrt(np.maximum(1.0, 0.5 * seconds)))
