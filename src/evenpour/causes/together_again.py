"""Several causes at once fitted again without a check: what each check weighs for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from evenpour.causes.explanation import BELIEVED, Explanation, foreseen_at, not_fitted, odds_of, strays
from evenpour.causes.laplace import Modes, settle
from evenpour.causes.predictive import LeftOut
from evenpour.causes.problem import Array, Indices, Predict
from evenpour.causes.seen import Noise, without
from evenpour.causes.side_by_side import side_by_side
from evenpour.causes.together import Jointly, settled_on

HOLDS = 4.6  # nat behind the best of all, within which a node is fitted again, with the check or without it
STILL = 0.1  # standard deviations; a node that moves less without a check is as foreseen
ANEW = 0.1  # standard deviations a node moves before its slopes are taken anew, as with all readings


def together_without_checks(told: Explanation, joint: Jointly, alone: Sequence[Array]) -> list[Array]:
    """Log evidence of every node of several causes without one check, another not belonging counted in, (N,)
    for each of them.

    Args:
        alone: The same of the single causes.
    """
    if not joint.sets:
        return [np.zeros(0) for _ in told.checks]
    foreseen = foreseen_at(told.noise, joint.modes, told.doubts)
    works = [partial(_without, told, joint, foreseen, g, alone[g]) for g in range(len(told.checks))]
    return side_by_side(joint.severe.predict, works)


def _without(
    told: Explanation, joint: Jointly, foreseen: LeftOut, g: int, alone: Array, predict: Predict
) -> Array:
    grid, modes, whole = joint.severe.grid, joint.modes, int(told.whole[g])
    kept = np.flatnonzero(told.seen.columns.check != told.checks[g])
    rest = without(told.noise, told.seen.columns.check == told.checks[g])
    if not len(rest.columns):
        return np.zeros(len(grid))
    others = [d for d, one in enumerate(told.doubts) if one.check != told.checks[g]]
    more = strays(np.minimum(joint.odd[:, others], BELIEVED))
    left = modes.log_evidence - foreseen.log_density[:, whole]
    prior, singles = grid.log_prior[grid.owner] + grid.log_weight, told.fitted.grid
    of_singles = singles.log_prior[singles.owner] + singles.log_weight
    with_it = prior + modes.log_evidence + strays(joint.odd)
    behind = max(float((of_singles + told.fitted.modes.log_evidence).max()), float(with_it.max())) - with_it
    best = float((of_singles + alone).max())
    known = modes.arrived.copy()
    best = max(best, float((prior + left + more)[known].max(initial=-np.inf)))
    holds = (behind < HOLDS) | (prior + left + more > best - HOLDS)
    some = np.flatnonzero(holds & ((foreseen.shift[:, whole] > STILL) | ~known))
    if len(some):
        its = settle(
            rest, predict, some, modes.take(some), renew=ANEW, most=5, moving=joint.severe.moving,
            one_sided=True,
        )  # fmt: skip
        left[some], known[some] = its.log_evidence, True
        more[some] = strays(_odd(told, rest, its, others, kept))
    hidden = [n for n, one in enumerate(joint.tried) if int(told.checks[g]) in one.hidden_by]
    if hidden:
        # pulled far by the check, they are no good to begin from
        rows = np.flatnonzero(np.isin(grid.owner, hidden))
        its = settled_on(told, [joint.tried[n] for n in hidden], rest, alone)
        log = its.log_evidence + strays(_odd(told, rest, its, others, kept))
        better = its.arrived & (~known[rows] | (log > (left + more)[rows]))
        left[rows[better]], more[rows[better]], known[rows[better]] = log[better], 0.0, True
    best = max(float((of_singles + alone).max()), float((prior + left + more)[known].max(initial=-np.inf)))
    held = not_fitted(prior + left + more, best, np.maximum(behind, 0.0)) - prior
    return np.asarray(np.where(known, left + more, held))


def _odd(told: Explanation, rest: Noise, modes: Modes, others: Sequence[int], kept: Indices) -> Array:
    """Log odds at some nodes of the doubts that are not about the check that is left out, (n, .)."""
    doubts = [replace(told.doubts[d], rows=np.searchsorted(kept, told.doubts[d].rows)) for d in others]
    odd = np.minimum(odds_of(doubts, foreseen_at(rest, modes, doubts)), BELIEVED)
    odd[:, np.isneginf(told.odd[:, others]).all(axis=0)] = -np.inf  # what is taken to belong does so here
    return odd
