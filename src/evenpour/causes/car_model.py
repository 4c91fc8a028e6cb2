"""The machine as the inference asks it: faults and standard normal numbers in, all columns out.

Rows are cars. Each is drawn from the kind's spread by its numbers, set up as a healthy car, given its fault
or faults, and read. Rows go in blocks, one after the other: the pieces of work are so small that two threads
spend on waiting for each other what they save.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from evenpour.causes.problem import NONE, Faults, Flags, Indices
from evenpour.causes.suspects import Suspect
from evenpour.machine.blocks import keep_memory
from evenpour.machine.checks import Predicted, predict
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Blueprint, Cars
from evenpour.machine.readout import Query, Readout, Solved
from evenpour.machine.set_up import SINCE, set_again, set_up
from evenpour.machine.situation import Situation

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

#: As compared, in SI or in logarithms: what lies beyond (a car that cannot run) is not infinitely far.
#: A thousand bar: far above every pressure that is read.
FARTHEST = 1e8
#: Rows that are worked out at once: of fewer Python's own time shows, of more the memory they take.
BLOCK = 4000


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
    _solved: list[tuple[Solved, ...]] = field(init=False, default_factory=list, compare=False, repr=False)

    def __call__(self, faults: Faults, z: Array) -> Array:
        """Values of all columns, (rows, columns)."""
        keep_memory()
        found = np.empty((len(faults), len(self.asked)))
        for start in range(0, len(faults), BLOCK):
            part = slice(start, start + BLOCK)
            found[part] = self._block(faults.take(part), z[part])
        return found

    @cached_property
    def acts(self) -> Acts:
        """What the suspects do to a car's parameters."""
        return acts_of(self.kind.blueprint, self.suspects)

    def columns_of(self, asked: Sequence[tuple[Predicted, Query]]) -> CarModel:
        """The same cars asked something else."""
        return replace(self, asked=tuple(asked))

    def varying(self, free: Rows) -> CarModel:
        """The same with these rows of the blueprint moved by z, by the kind's own spread."""
        return replace(self, free=free, spread=self.kind.blueprint.spread[free])

    def _block(self, faults: Faults, z: Array) -> Array:
        plan = self.kind.blueprint
        cars = plan.drawn(self.free, self.spread, z)
        # a step of the search may try a car that no screw sets up: it reads as far away as can be
        with np.errstate(all="ignore"):
            design, torque, funnel = self.kind.design, self.kind.torque, self.kind.funnel
            screws = set_up(design, torque, funnel, cars, self.home)
            rows, set_for = self.acts.set_for(faults)
            if rows.size:  # by somebody who had that fault before him and no other
                had = cars.some(rows)
                self.acts.spoil(had, set_for)
                screws.put(rows, set_again(design, torque, funnel, had, self.home, screws.some(rows)))
            self.acts.spoil(cars, faults)
            seen = Readout(self.kind, cars, screws)
            for wanted in self._solved[:1]:  # what an earlier block asked for
                seen.solve(wanted)
            found = predict(seen, list(self.asked))
            self._solved.append(seen.solved)
            del self._solved[1:]
        return np.clip(np.nan_to_num(found, nan=FARTHEST), -FARTHEST, FARTHEST)


def drawn(plan: Blueprint, free: Rows, spread: Array, z: Array) -> Cars:
    """Healthy cars from numbers for some of the rows: z has shape (cars, d)."""
    return plan.drawn(free, spread, z)


def spoil(plan: Blueprint, cars: Cars, suspects: Sequence[Suspect], faults: Faults) -> None:
    """Give each car its fault or faults, in place."""
    acts_of(plan, suspects).spoil(cars, faults)


@dataclass(frozen=True, slots=True)
class Acts:
    """What every suspect does to which row, one act after the other: shape (suspects, forms, acts).

    Attributes:
        row: In the cars' values; NONE where a suspect has no such form, or no more acts.
        factor: Whether the row is multiplied; else something is added.
        least, more: The amount at severity 0, and what severity 1 adds to it; logarithms for a factor.
        since: Of which suspects and forms mixture and idle were set again since, (suspects, forms).
    """

    row: Rows
    factor: Flags
    least: Array
    more: Array
    since: Flags

    def set_for(self, faults: Faults) -> tuple[Indices, Faults]:
        """Rows whose screws were set again since, and of the faults in them those that they were set for."""
        form = (faults.severity < 0.0).astype(np.intp)
        its = (faults.which != NONE) & self.since[faults.which, form]
        rows = np.flatnonzero(its.any(axis=1))
        return rows, Faults(np.where(its, faults.which, NONE)[rows], faults.severity[rows])

    def spoil(self, cars: Cars, faults: Faults) -> None:
        """Give each car its faults, in place; a severity below zero is one of the second form."""
        for which, severity in zip(faults.which.T, faults.severity.T, strict=True):
            self._spoil(cars, which, severity)

    def _spoil(self, cars: Cars, which: Indices, severity: Array) -> None:
        some = np.flatnonzero(which != NONE)
        suspect, form, amount = which[some], (severity[some] < 0.0).astype(np.intp), np.abs(severity[some])
        row, factor = self.row[suspect, form], self.factor[suspect, form]
        amount = self.least[suspect, form] + amount[:, None] * self.more[suspect, form]
        for acts, change in ((factor, np.multiply), (~factor, np.add)):
            car, act = np.nonzero(acts & (row != NONE))
            by = amount[car, act]
            change.at(cars.values, (row[car, act], some[car]), np.exp(by) if change is np.multiply else by)


def acts_of(plan: Blueprint, suspects: Sequence[Suspect]) -> Acts:
    """The acts of all *suspects* as one table."""
    listed = {
        (suspect, form): [
            (row, act)
            for act in acts
            for row in range(*plan.where(act.parameter, None if act.every else one.cylinder).indices(1 << 20))
        ]
        for suspect, one in enumerate(suspects)
        if one.cause is not None
        for form, acts in enumerate(one.cause.forms)
    }
    shape = (len(suspects), 2, max(map(len, listed.values()), default=0))
    found = Acts(
        np.full(shape, NONE),
        np.zeros(shape, np.bool_),
        np.zeros(shape),
        np.zeros(shape),
        np.zeros(shape[:2], np.bool_),
    )
    for (suspect, form), acts in listed.items():
        found.since[suspect, form] = any(act.parameter == SINCE for _, act in acts)
        for number, (row, act) in enumerate(acts):
            ends = np.log([act.least, act.gross]) if act.factor else np.array([act.least, act.gross])
            where = (suspect, form, number)
            found.row[where], found.factor[where] = row, act.factor
            found.least[where], found.more[where] = ends[0], ends[1] - ends[0]
    return found
