"""What is known of a car by its having run: something was read on the running engine.

Whatever was read then, the engine did run in that state. That speaks against a cause, or against its worst
forms, with which by the model it would not. It is no reading, so it moves how likely each severity is before
any; once, however much was read, since one wrong word of the state would spoil all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evenpour.causes.car_model import CarModel
from evenpour.causes.choice_line import ChoiceLine, lines_of
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Hypothesis, grid_of
from evenpour.causes.suspects import Suspect
from evenpour.machine.checks import ChoiceCheck
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Query
from evenpour.machine.runs import runs
from evenpour.machine.situation import Situation

MISTAKEN = 0.01  # that it did not run when it is said to have; common practice, no source
RAN = ChoiceCheck("runs", runs, (("stands",), ("runs",)), (0.0,), MISTAKEN, {})


def as_it_ran(
    kind: Kind,
    listed: Sequence[Suspect],
    guesses: Sequence[Hypothesis],
    home: Situation,
    states: Sequence[Situation],
) -> tuple[Hypothesis, ...]:
    """The same hypotheses, each severity as likely as it leaves the middle car running in all *states*.

    Args:
        guesses: Of the suspects, in their order.
        home: Where the car's screws were set.
    """
    if not states:
        return tuple(guesses)
    grid = grid_of(guesses)
    asked = tuple((RAN, Query(RAN.check, one)) for one in dict.fromkeys(states))
    none = np.zeros(0)
    model = CarModel(kind, tuple(listed), home, asked, np.zeros(0, dtype=np.intp), none)
    margin = model(grid.faults, np.zeros((len(grid), 0))).min(axis=1)
    line = lines_of([ChoiceLine(RAN.cuts, RAN.order.index(("runs",)), MISTAKEN)])
    log = grid.log_weight + line.log_chosen(margin[:, None])[:, 0]
    found = []
    for owner, one in enumerate(guesses):
        its = log[grid.owner == owner]
        total = float(log_sum(its))
        found.append(replace(one, log_prior=one.log_prior + total, weights=np.exp(its - total)))
    return tuple(found)
