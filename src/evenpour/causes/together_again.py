"""Several causes at once fitted again without a check: what each check weighs for them."""

from __future__ import annotations

from functools import partial

import numpy as np

from evenpour.causes.explanation import BELIEVED, Explanation, foreseen_at, strays
from evenpour.causes.laplace import settle
from evenpour.causes.predictive import LeftOut
from evenpour.causes.problem import Array, Predict
from evenpour.causes.seen import without
from evenpour.causes.side_by_side import side_by_side
from evenpour.causes.together import Jointly

HOLDS = 4.6  # nat behind the best of all, within which a node is fitted again, with the check or without it
STILL = 0.1  # standard deviations; a node that moves less without a check is as foreseen
ANEW = 0.5  # standard deviations a node moves before its slopes are taken anew


def together_without_checks(told: Explanation, joint: Jointly) -> list[Array]:
    """Log evidence of every node of several causes without one check, another not belonging counted in, (N,)
    for each of them.
    """
    if not joint.sets:
        return [np.zeros(0) for _ in told.checks]
    foreseen = foreseen_at(told.noise, joint.modes, told.doubts)
    works = [partial(_without, told, joint, foreseen, g) for g in range(len(told.checks))]
    return side_by_side(joint.severe.predict, works)


def _without(told: Explanation, joint: Jointly, foreseen: LeftOut, g: int, predict: Predict) -> Array:
    grid, modes, whole = joint.severe.grid, joint.modes, int(told.whole[g])
    rest = without(told.noise, told.seen.columns.check == told.checks[g])
    if not len(rest.columns):
        return np.zeros(len(grid))
    own = [d for d, one in enumerate(told.doubts) if one.check == told.checks[g]]
    more = strays(np.minimum(np.delete(joint.odd, own, axis=1), BELIEVED))
    left = modes.log_evidence - foreseen.log_density[:, whole]
    prior = grid.log_prior[grid.owner] + grid.log_weight
    singles = told.fitted.grid
    alone = singles.log_prior[singles.owner] + singles.log_weight + told.fitted.modes.log_evidence
    with_it, without_it = prior + modes.log_evidence + strays(joint.odd), prior + left + more
    best = max(float((alone + strays(told.odd)).max()), float(with_it.max()))
    rest_of_it = alone - told.foreseen.log_density[:, whole]
    best_without = max(float(rest_of_it.max()), float(without_it.max()))
    holds = (with_it > best - HOLDS) | (without_it > best_without - HOLDS)
    some = np.flatnonzero(holds & (foreseen.shift[:, whole] > STILL))
    if len(some):
        its = settle(
            rest, predict, some, modes.take(some), renew=ANEW, most=5, moving=joint.severe.moving,
            one_sided=True,
        )  # fmt: skip
        left[some] = its.log_evidence
    return np.asarray(left + more)
