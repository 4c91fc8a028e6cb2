"""The probabilities of an explanation put right by draws: what Laplace's method misses in one cause more than
in another.

Every likely hypothesis gets the same few hundred draws. Only what they change against the middle of them all
is taken over, so that the scale of all else (pairs of causes, readings set aside) stays as it was.
"""

from __future__ import annotations

import numpy as np

from evenpour.causes.evidence import by_laplace
from evenpour.causes.explanation import Explanation
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Array
from evenpour.causes.refine import FIRST, put_right

#: Hypotheses above this probability are weighed, and at most so many.
LIKELY, MOST = 2e-3, 64


def sharpened(told: Explanation, draws: int = FIRST) -> Array:
    """Log posterior of every hypothesis with the likely ones weighed by draws, (H,)."""
    order = np.argsort(-told.probability, kind="stable")[:MOST]
    likely = np.sort(order[told.probability[order] > LIKELY])
    if len(likely) < 2:
        return told.log_posterior
    nodes = np.arange(len(told.fitted.grid))
    base = by_laplace(told.fitted.grid, nodes, told.fitted.modes)
    right = put_right(base, told.noise, told.severe, nodes, told.fitted.modes, likely, draws=draws)
    change = np.zeros(len(told.log_posterior))
    change[likely] = (right.log_evidence - base.log_evidence)[likely]
    change[likely] -= np.median(change[likely])
    log = told.log_posterior + change
    return np.asarray(log - log_sum(log))
