"""The probabilities of an explanation put right by draws: what Laplace's method misses in one cause more than
in another.

Every likely hypothesis gets the same few hundred draws. Only what they change against the middle of them all
is taken over, so that the scale of all else (pairs of causes, readings set aside) stays as it was.
"""

from __future__ import annotations

import numpy as np

from evenpour.causes.evidence import by_laplace
from evenpour.causes.explanation import Explanation
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.problem import Array
from evenpour.causes.refine import FIRST, put_right

#: Hypotheses above this probability are weighed, and at most so many.
LIKELY, MOST = 2e-3, 64


def changed_by_draws(told: Explanation, draws: int = FIRST) -> Array:
    """What draws change of the log weight of every hypothesis, (H,): nothing of the unlikely ones."""
    grid, modes = told.fitted.grid, told.fitted.modes
    inside, outside = _inside_and_outside(told)
    whole = log_sum(np.logaddexp(inside, outside))
    order = np.argsort(-inside, kind="stable")[:MOST]
    likely = np.sort(order[inside[order] > whole + np.log(LIKELY)])
    change = np.zeros(len(inside))
    if len(likely) < 2:
        return change
    nodes = np.arange(len(grid))
    base = by_laplace(grid, nodes, modes)
    right = put_right(base, told.noise, told.severe, nodes, modes, likely, draws=draws)
    change[likely] = (right.log_evidence - base.log_evidence)[likely]
    change[likely] -= np.median(change[likely])
    return change


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
