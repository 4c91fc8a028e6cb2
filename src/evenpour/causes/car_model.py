"""The machine as the inference asks it: faults and standard normal numbers in, all columns out.

Rows are cars. Each is drawn from the kind's spread by its numbers, set up as a healthy car, given its fault or
faults, and read. Rows go in blocks that fit the processor's cache, on two threads.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from evenpour.causes.problem import NONE, Faults
from evenpour.causes.suspects import Suspect
from evenpour.machine.checks import Predicted, predict
from evenpour.machine.faults import act_on
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Blueprint, Cars
from evenpour.machine.readout import Query, Readout
from evenpour.machine.set_up import set_up
from evenpour.machine.situation import Situation

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

BLOCK = 2000
THREADS = 2
#: What a real display or a real idle would show at most; keeps a car that cannot run from being infinitely far.
FARTHEST = 1e6


@dataclass(frozen=True)
class CarModel:
    """All columns of a diagnosis as a function of fault and car.

    Attributes:
        home: Where and on which fuel the car's screws were set.
        asked: What each column reads.
        free: Rows of the blueprint that the numbers z move, (d,).
        spread: Standard deviation of each, (d,); the kind's own where nothing else is said.
    """

    kind: Kind
    suspects: tuple[Suspect, ...]
    home: Situation
    asked: tuple[tuple[Predicted, Query], ...]
    free: Rows
    spread: Array
    _pool: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(THREADS), repr=False)

    def __call__(self, faults: Faults, z: Array) -> Array:
        """Values of all columns, (rows, columns)."""
        rows = len(faults)
        if rows <= BLOCK // 2:
            return self._block(faults, z)
        count = max(THREADS, -(-rows // BLOCK))
        cuts = np.linspace(0, rows, count + 1).astype(int)
        parts = [slice(int(a), int(b)) for a, b in zip(cuts[:-1], cuts[1:], strict=True)]
        done = self._pool.map(lambda part: self._block(_part(faults, part), z[part]), parts)
        return np.concatenate(list(done))

    def columns(self, which: Sequence[int]) -> CarModel:
        """The same model with some of its columns."""
        asked = tuple(self.asked[column] for column in which)
        return CarModel(self.kind, self.suspects, self.home, asked, self.free, self.spread, self._pool)

    def _block(self, faults: Faults, z: Array) -> Array:
        plan = self.kind.blueprint
        cars = drawn(plan, self.free, self.spread, z)
        screws = set_up(self.kind.design, self.kind.torque, self.kind.funnel, cars, self.home)
        spoil(plan, cars, self.suspects, faults)
        with np.errstate(over="ignore", under="ignore"):
            found = predict(Readout(self.kind, cars, screws), list(self.asked))
        return np.clip(np.nan_to_num(found, nan=FARTHEST), -FARTHEST, FARTHEST)


def _part(faults: Faults, part: slice) -> Faults:
    return Faults(
        faults.first[part], faults.first_severity[part], faults.second[part], faults.second_severity[part]
    )


def drawn(plan: Blueprint, free: Rows, spread: Array, z: Array) -> Cars:
    """Healthy cars from numbers for some of the rows: z has shape (cars, d)."""
    values = np.repeat(plan.centre[:, None], len(z), axis=1)
    moved = (z * spread).T
    relative = plan.relative[free]
    values[free[relative]] *= np.exp(moved[relative])
    values[free[~relative]] += moved[~relative]
    return Cars(plan.rows, values)


def spoil(plan: Blueprint, cars: Cars, suspects: Sequence[Suspect], faults: Faults) -> None:
    """Give each car its fault or faults, in place."""
    for which, severity in ((faults.first, faults.first_severity), (faults.second, faults.second_severity)):
        order = np.argsort(which, kind="stable")
        ends = np.flatnonzero(np.diff(which[order])) + 1
        for rows in np.split(order, ends):
            number = int(which[rows[0]])
            if number == NONE or suspects[number].cause is None:
                continue
            _spoil_alike(plan, cars, suspects[number], rows, severity[rows])


def _spoil_alike(plan: Blueprint, cars: Cars, suspect: Suspect, rows: Rows, severity: Array) -> None:
    assert suspect.cause is not None
    for form in range(len(suspect.cause.forms)):
        mine = severity < 0.0 if form else severity >= 0.0
        if not mine.any():
            continue
        some = rows[mine]
        values = cars.values[:, some]
        act_on(plan, values, suspect.cause, suspect.cylinder, np.abs(severity[mine]), form)
        cars.values[:, some] = values
