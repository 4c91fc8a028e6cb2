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


def sharpened(told: Explanation, draws: int = FIRST) -> Array:
    """Log posterior of every hypothesis with the likely ones weighed by draws, (H,)."""
    grid, modes = told.fitted.grid, told.fitted.modes
    at = grid.log_weight + modes.log_evidence
    # draws tell of hypotheses under which all readings belong; where one does not, nothing is put right
    inside, outside = (
        grid.log_prior + log_sum_by(some, grid.owner, len(grid.log_prior))
        for some in (at, at + log_sum(told.odd, axis=1))
    )
    whole = log_sum(np.logaddexp(inside, outside))
    order = np.argsort(-inside, kind="stable")[:MOST]
    likely = np.sort(order[inside[order] > whole + np.log(LIKELY)])
    if len(likely) < 2:
        return told.log_posterior
    nodes = np.arange(len(grid))
    base = by_laplace(grid, nodes, modes)
    right = put_right(base, told.noise, told.severe, nodes, modes, likely, draws=draws)
    change = np.zeros(len(inside))
    change[likely] = (right.log_evidence - base.log_evidence)[likely]
    change[likely] -= np.median(change[likely])
    log = np.logaddexp(inside + change, outside)
    return np.asarray(log - log_sum(log))
