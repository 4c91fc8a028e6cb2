"""Where several causes at once begin to be fitted: wherever it fits best already."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenpour.causes.fitting import Fitted
from evenpour.causes.laplace import energy_of
from evenpour.causes.normal import normal_at, normal_below
from evenpour.causes.problem import Array, Indices
from evenpour.causes.seen import Noise
from evenpour.causes.severe import Severe, going_together
from evenpour.causes.tried import Tried

WITHIN = 0.9  # of a cell, in the middle of which a severity begins
#: Of a cell, where the severities of one cause at several cylinders may begin, too.
ELSEWHERE = (0.25, 0.6, 0.95)


def begun(severe: Severe, chosen: Sequence[Tried], noise: Noise, alone: Fitted) -> tuple[Array, Array, Array]:
    """Where every node begins, (N, d + K), the slopes that it borrows there, (N, d + K, M), and what it
    foresees, (N, M): on the car as one of them alone has it, that one as severe as it then is or in the
    middle of its cell, or on the middle car, where that fits best.
    """
    grid = severe.grid
    best = alone.grid.best_of_each(alone.modes.log_evidence)
    tried = []
    for place in (0, 1):
        own = np.array([best[one.which[place]] for one in chosen], dtype=np.int64)
        z, J = _begun_at(severe, chosen, alone, own)
        tried += [(z, J), (_as_severe(severe, chosen, alone, own, place, z), J)]
    z, J = tried[0]
    tried.append((np.where(np.arange(severe.size) < severe.d, 0.0, z), J))
    seen = [severe.predict(np.arange(len(grid)), z) for z, _ in tried]
    energy = [energy_of(noise, f, z) for (z, _), f in zip(tried, seen, strict=True)]
    least, rows = np.argmin(energy, axis=0), np.arange(len(grid))
    z, J = (np.stack(part)[least, rows] for part in zip(*tried, strict=True))
    f = np.stack(seen)[least, rows]
    _begun_elsewhere(severe, chosen, noise, alone, (z, J, f))
    return z, J, f


def _begun_elsewhere(
    severe: Severe, chosen: Sequence[Tried], noise: Noise, alone: Fitted, there: tuple[Array, Array, Array]
) -> None:
    """Put what begins at severities of its own where it fits better, in place: at others, all alike; on the
    healthy car, or on that of its last cause alone.

    Where a part stops altogether nothing leads there from where it only gives less.

    Args:
        there: Numbers, slopes and what is foreseen there.
    """
    z, J, f = there
    rows, d = np.flatnonzero([chosen[owner].start is not None for owner in severe.grid.owner]), severe.d
    last = np.array([chosen[owner].which[-1] for owner in severe.grid.owner[rows]], dtype=np.int64)
    other = alone.grid.best_of_each(alone.modes.log_evidence)[last]
    energy = energy_of(noise, f[rows], z[rows])
    for share in (None, *ELSEWHERE):
        for car in (None, np.zeros_like(other), other):
            its = z[rows].copy() if share is None else all_alike(severe, rows, z[rows], share)
            its[:, :d] = 0.0 if car is None else alone.modes.z[car, :d]
            seen = severe.predict(rows, its)
            anew = energy_of(noise, seen, its)
            better = anew < energy
            energy = np.where(better, anew, energy)
            z[rows[better]], f[rows[better]] = its[better], seen[better]
            J[rows[better], :d] = alone.modes.J[0 if car is None else car[better], :d]


def all_alike(severe: Severe, rows: Indices, z: Array, share: float) -> Array:
    """The same numbers, (n, .), with all severities that go together at so much of their cells."""
    if severe.grid.alike is None:
        return z
    own = severe.grid.alike[rows]
    numbers = _numbers(own, np.full(own.shape, share))
    return np.column_stack([z[:, : severe.d], np.where(own > 0.0, numbers, z[:, severe.d :])])


def _numbers(alike: Array, share: Array) -> Array:
    """The numbers of severities at so much of their cells, going together so, (n, K) each."""
    return going_together(normal_at(0.5 + WITHIN * (share - 0.5)), alike, back=True)


def _begun_at(severe: Severe, chosen: Sequence[Tried], alone: Fitted, places: Indices) -> tuple[Array, Array]:
    """The same from the places of single causes, one of each set."""
    grid, d = severe.grid, severe.d
    sound = np.zeros(len(chosen), dtype=np.int64)
    starts = np.where([one.start is None for one in chosen], places, sound)[grid.owner]
    z = np.zeros((len(grid), severe.size))
    z[:, :d] = alone.modes.z[starts, :d]
    for number, one in enumerate(chosen):
        if one.start is not None:
            rows, k = np.flatnonzero(grid.owner == number), len(one.start)
            low, high = grid.low[rows, :k], grid.high[rows, :k]
            share = (np.array(one.start) - low) / (high - low)
            alike = np.zeros_like(share) if grid.alike is None else grid.alike[rows, :k]
            z[rows, :d], z[rows, d : d + k] = 0.0, _numbers(alike, share)
    J = np.zeros((len(grid), severe.size, alone.modes.J.shape[2]))
    J[:, :d] = alone.modes.J[starts, :d]
    return z, J


def _as_severe(
    severe: Severe, chosen: Sequence[Tried], alone: Fitted, places: Indices, place: int, z: Array
) -> Array:
    """Those numbers with the cause of that place as severe as it is alone, or as its cell lets it be.

    Where the other does nothing, that is where both together sit.
    """
    grid, d = severe.grid, severe.d
    v = normal_below(alone.modes.z[places, d])
    at = alone.grid.low[places, 0] + (alone.grid.high[places, 0] - alone.grid.low[places, 0]) * v
    low, high = grid.low[:, place], grid.high[:, place]
    share = (at[grid.owner] - low) / np.where(high > low, high - low, 1.0)
    begun = z.copy()
    free = np.array([one.start is None for one in chosen])[grid.owner] & (high > low)
    begun[free, d + place] = normal_at(0.5 + np.clip(share[free] - 0.5, -0.5 * WITHIN, 0.5 * WITHIN))
    return begun


def slopes_of_severities(severe: Severe, nodes: Indices, z: Array, J: Array) -> None:
    for column in range(severe.d, severe.size):
        k = column - severe.d
        some = nodes[severe.grid.high[nodes, k] > severe.grid.low[nodes, k]]
        shift = np.zeros(severe.size)
        shift[column] = 0.5
        J[some, column] = severe.predict(some, z[some] + shift) - severe.predict(some, z[some] - shift)
