"""What is known of a car by its having run: something was read on the running engine. In the same way, what
was read of the pressure that stays tells that the pump had built one up.

Whatever was read then, the engine did run in that state. That speaks against a cause, or against its worst
forms, with which by the model it would not. It is no reading, so it moves how likely each severity is before
any; once, however much was read, since one wrong word of the state would spoil all. Of what was worked on
since it tells nothing: that may have come, or changed, with the work.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.car_model import CarModel
from evenpour.causes.choice_line import ChoiceLine, lines_of
from evenpour.causes.explanation import Explanation
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import NONE, Array, Faults, Grid, Hypothesis, Indices, alone, grid_of
from evenpour.causes.suspects import Suspect
from evenpour.causes.together import Jointly
from evenpour.machine.checks import ChoiceCheck
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Query
from evenpour.machine.runs import presses, runs
from evenpour.machine.situation import Situation

#: Of a cell of severities, how many places are looked at, and up to what of its log probability it is alike.
PLACES, ALIKE = 16, 0.05
MISTAKEN = 0.01  # that it did not run when it is said to have; common practice, no source
RAN = ChoiceCheck("runs", runs, (("stands",), ("runs",)), (0.0,), MISTAKEN, {})
PRESSED = ChoiceCheck("presses", presses, (("lies",), ("presses",)), (0.0,), MISTAKEN, {})
SO = 1  # place of what was so, in the order of either


@dataclass(frozen=True, slots=True)
class Ran:
    """A state in which the engine ran, or with the engine off one in which its pump brought pressure.

    Attributes:
        changed: The suspects, by number, that work since can have brought about or changed.
    """

    situation: Situation
    changed: frozenset[int] = frozenset()


def as_it_ran(
    kind: Kind,
    listed: Sequence[Suspect],
    guesses: Sequence[Hypothesis],
    home: Situation,
    states: Sequence[Ran],
) -> tuple[Hypothesis, ...]:
    """The same hypotheses, each cell of severities as likely as it leaves the middle car running in all
    *states* that tell of it: one that would stop it in its middle may hold others that do not.

    Args:
        guesses: Of the suspects, in their order.
        home: Where the car's screws were set.
        states: Of a running engine, or with the engine off one in which the pump built up pressure.
    """
    if not states:
        return tuple(guesses)
    grid = grid_of(guesses)
    log = grid.log_weight + _log_ran_in_cells(_asked(kind, listed, home), states, grid)
    found = []
    for owner, one in enumerate(guesses):
        its = log[grid.owner == owner]
        total = float(log_sum(its))
        found.append(replace(one, log_prior=one.log_prior + total, weights=np.exp(its - total)))
    return tuple(found)


def together_as_it_ran(told: Explanation, joint: Jointly, states: Sequence[Ran]) -> Jointly:
    """The same sets of causes, each as likely as all of it together leaves the middle car running, over what
    each cause of it alone does: that was counted with that cause.
    """
    if not states or not joint.sets:
        return joint
    grid = joint.severe.grid
    best = grid.best_of_each(joint.modes.log_evidence)
    faults = joint.severe.faults(best, joint.modes.z[best])
    model = _asked(told.kind, told.suspects, told.home)
    more = _log_ran(model, states, faults)
    for which, severity in zip(faults.which.T, faults.severity.T, strict=True):
        more = more - np.where(which == NONE, 0.0, _log_ran(model, states, alone(which, severity)))
    return replace(
        joint,
        tried=tuple(
            replace(one, log_prior=one.log_prior + by)
            for one, by in zip(joint.tried, more.tolist(), strict=True)
        ),
        sets=tuple(
            replace(one, log_weight=one.log_weight + by)
            for one, by in zip(joint.sets, more.tolist(), strict=True)
        ),
        severe=replace(joint.severe, grid=replace(grid, log_prior=grid.log_prior + more)),
    )


def _asked(kind: Kind, listed: Sequence[Suspect], home: Situation) -> CarModel:
    """The middle car, not asked anything yet."""
    return CarModel(kind, tuple(listed), home, (), np.zeros(0, dtype=np.intp), np.zeros(0))


def _question(state: Situation) -> tuple[ChoiceCheck, Query]:
    """Whether it runs in a state, or with the engine off whether its pump brings pressure."""
    check = RAN if state.running else PRESSED
    return check, Query(check.check, state)


def _log_ran_in_cells(model: CarModel, states: Sequence[Ran], grid: Grid) -> Array:
    """The same over each whole cell of severities, looked at closely where it is not all alike, (N,)."""
    ends = np.linspace(0.0, 1.0, 3)
    found = _log_ran_at(model, states, grid, np.arange(len(grid)), ends)
    mixed = np.flatnonzero(np.ptp(found, axis=0) > ALIKE)
    log: Array = found[1]
    finely = _log_ran_at(model, states, grid, mixed, (np.arange(PLACES) + 0.5) / PLACES)
    log[mixed] = log_sum(finely, axis=0) - np.log(PLACES)
    return log


def _log_ran_at(model: CarModel, states: Sequence[Ran], grid: Grid, nodes: Indices, shares: Array) -> Array:
    """The same at places within the cells of these nodes, at so much of each, (shares, n)."""
    low, high = grid.low[nodes], grid.high[nodes]
    severity = low + shares[:, None, None] * (high - low)
    faults = Faults(np.tile(grid.faults.which[nodes], (len(shares), 1)), severity.reshape(-1, 1))
    return np.asarray(_log_ran(model, states, faults).reshape(len(shares), len(nodes)))


def _log_ran(model: CarModel, states: Sequence[Ran], faults: Faults) -> Array:
    """Log probability that the middle car with these faults ran in all states, or brought pressure, each with
    those of them that it had then as it has them now, (n,).
    """
    margin = np.full(len(faults), np.inf)
    for changed in dict.fromkeys(one.changed for one in states):
        known = ~np.isin(faults.which, list(changed))
        then = Faults(np.where(known, faults.which, NONE), faults.severity)
        asked = [_question(one.situation) for one in states if one.changed == changed]
        its = model.columns_of(asked)(then, np.zeros((len(faults), 0)))
        margin = np.minimum(margin, its.min(axis=1))
    line = lines_of([ChoiceLine(RAN.cuts, SO, MISTAKEN)])
    return line.log_chosen(margin[:, None])[:, 0]
