"""The probabilities of an explanation put right by draws: what Laplace's method misses in one cause more than
in another.

Every likely hypothesis gets the same few hundred draws. Only what they change against the middle of them all
is taken over, so that the scale of all else (pairs of causes, readings set aside) stays as it was. Where few
of the draws hit, they scatter more than Laplace's method errs: it stands, and that is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.evidence import SEED, by_laplace
from evenpour.causes.explanation import Explanation
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.problem import Array, Flags
from evenpour.causes.refine import FIRST, drawn_evidence, put_right
from evenpour.causes.together import Jointly, of_several_cylinders

#: Effective draws from which their own scatter, about 0.2 nat then, is no more than Laplace's method errs.
HITS = 30.0
#: Hypotheses above this probability are weighed, and at most so many.
LIKELY, MOST = 2e-3, 64
#: Sets of several cylinders that lie so little behind all else are weighed, [nat], and at most so many.
SETS_NEAR, SETS = 5.0, 12
#: Where draws find less than Laplace's method by more than this, [nat], hardly any hits: so much is then
#: taken off, as they tell no more than that it was far too high. Less may be the draws' own scatter.
TAKEN = 8.0


@dataclass(frozen=True, slots=True)
class Change:
    """What draws change.

    Attributes:
        by: Of the log weight of every hypothesis, (H,): nothing of the unlikely ones.
        poor: Those weighed of which too few draws hit to be believed, (H,).
    """

    by: Array
    poor: Flags


def changed_by_draws(told: Explanation, draws: int = FIRST) -> Change:
    """What draws change of the weight of every hypothesis."""
    grid, modes = told.fitted.grid, told.fitted.modes
    inside, outside = _inside_and_outside(told)
    whole = log_sum(np.logaddexp(inside, outside))
    order = np.argsort(-inside, kind="stable")[:MOST]
    likely = np.sort(order[inside[order] > whole + np.log(LIKELY)])
    change, poor = np.zeros(len(inside)), np.zeros(len(inside), dtype=bool)
    if len(likely) < 2:
        return Change(change, poor)
    nodes = np.arange(len(grid))
    base = by_laplace(grid, nodes, modes)
    right = put_right(base, told.noise, told.severe, nodes, modes, likely, draws=draws)
    found = (right.log_evidence - base.log_evidence)[likely]
    hit = right.effective[likely] >= HITS
    found -= np.median(found[hit] if hit.any() else found)
    change[likely] = np.where(hit, found, np.where(found < -TAKEN, -TAKEN, 0.0))
    poor[likely] = ~hit & (found >= -TAKEN)
    return Change(change, poor)


def taken_by_draws(told: Explanation, joint: Jointly, weight: Array, level: float) -> Array:
    """What draws take of the log weight of every set of one cause at several cylinders, (n,): 0 or below.

    A part that has stopped altogether feels no more how badly it is, and one short of that not at all: where
    the mode lies on the edge of either, Laplace's method counts as much beyond it as on this side. Six that
    open too high, three of them just enough and three just not, are as unlikely as that is.

    Args:
        weight: Log weight of every set, (n,). ``level``: that of all single causes together.
    """
    found = np.zeros(len(weight))
    some = of_several_cylinders(joint)
    if not len(some):
        return found
    some = some[np.argsort(-weight[some], kind="stable")[:SETS]]
    some = np.sort(some[weight[some] > max(level, float(weight.max())) - SETS_NEAR])
    if not len(some):
        return found
    grid, nodes = joint.severe.grid, np.arange(len(joint.severe.grid))
    base = by_laplace(grid, nodes, joint.modes).log_evidence[some]
    drawn, _, _ = drawn_evidence(told.noise, joint.severe, nodes, joint.modes, some, FIRST, SEED)
    found[some[drawn < base - TAKEN]] = -TAKEN
    return found


def changed(told: Explanation, change: Array) -> Array:
    """Log posterior with a change by draws taken over, (H,)."""
    if not change.any():
        return told.log_posterior
    # draws tell of hypotheses under which all readings belong; where one does not, nothing is put right
    inside, outside = _inside_and_outside(told)
    log = np.logaddexp(inside + change, outside)
    return np.asarray(log - log_sum(log))


def _inside_and_outside(told: Explanation) -> tuple[Array, Array]:
    """Log weight of every hypothesis with all readings belonging, and with one that does not, (H,) each."""
    grid = told.fitted.grid
    at = grid.log_weight + told.fitted.modes.log_evidence
    inside, outside = (
        grid.log_prior + log_sum_by(some, grid.owner, len(grid.log_prior))
        for some in (at, at + log_sum(told.odd, axis=1))
    )
    return inside, outside
