"""What the nodes' evidence would be without one check: fitted again where that matters.

A check that decides the case pulls nodes far; what they would be without it cannot be foreseen from where it
pulled them. So every cause is set into the middle car, and into the healthy one as all readings have it: that
shows where it would do well without the check. The healthy car is fitted without it, every cause is tried
from there or from where it is, at its likeliest severities, and all severities of those that then matter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from evenpour.causes.explanation import BELIEVED, Explanation, foreseen_at, not_fitted, odds_of, strays
from evenpour.causes.laplace import Modes, energy_of, local, settle
from evenpour.causes.moved import Moved
from evenpour.causes.predictive import left_out
from evenpour.causes.problem import Array, Columns, Flags, Grid, Indices, Predict
from evenpour.causes.seen import Noise, without
from evenpour.causes.side_by_side import side_by_side
from evenpour.causes.slopes import predicted
from evenpour.causes.unexplained import Doubt, doubts_of

#: A check is gentle, and foreseeing is enough, where no node moves further without it than this, [prior sd],
#: that lies less than so far behind the best with it or without it, [nat].
GENTLE = ((0.5, 7.0), (1.5, 30.0))
STILL = 0.3  # standard deviations; a node that moves less without a check is as foreseen
AGAIN, ROUNDS = 24, 3  # nodes followed to the end, and how often the best are looked for
ANEW = 0.5  # standard deviations a node moves before its slopes are taken anew
MISSED = 1.0  # nat by which a node does better without a check than foreseen, at least, to be looked for
MATTERS = 12.0  # nat behind the best, within which a cause is tried at all its severities
#: Nat by which a cause misses, wherever it was tried, what was foreseen of it, at most, for its other
#: severities to be as foreseen too.
SURE = 0.02


def without_checks(told: Explanation) -> list[Array]:
    """Log evidence of every node without one check, another not belonging counted in, (N,) for each of them.

    Args:
        told: The explanation with everything.
    """
    set_in, apart = _set_in(told), _another_apart(told)
    works = [partial(_without, told, g, set_in, apart[:, g]) for g in range(len(told.checks))]
    return side_by_side(told.severe.predict, works)


@dataclass(frozen=True, slots=True)
class _SetIn:
    """Every node in one car, in the middle of its severities: its numbers and what it foresees."""

    z: Array  # (N, d)
    f: Array  # (N, M)


def _set_in(told: Explanation) -> list[_SetIn]:
    """In the middle car, and in the healthy one as all readings have it."""
    modes = told.fitted.modes
    found = []
    for car in (np.zeros(told.severe.d), modes.z[0, : told.severe.d]):
        z = np.zeros_like(modes.z)
        z[:, : told.severe.d] = car
        found.append(_SetIn(z, predicted(told.severe.predict, np.arange(len(modes)), z)))
    return found


def _hidden(told: Explanation, rest: Noise, set_in: _SetIn, prior: Array, left: Array) -> Indices:
    """Nodes that would do better there without the check than is foreseen from where it pulled them."""
    modes = told.fitted.modes
    # log evidence is less energy and half the logarithm of a spread: the healthy car's, with the check, or as
    # it is foreseen without
    with_it, rest_of_it = (float(energy_of(one, modes.f[:1], modes.z[:1])[0]) for one in (told.noise, rest))
    spread = max(modes.log_evidence[0] + with_it, left[0] + rest_of_it)
    least = spread - energy_of(rest, set_in.f, set_in.z)
    return np.flatnonzero((least > left + MISSED) & (prior + least > (prior + left).max() - MATTERS))


def _without(told: Explanation, g: int, set_in: Sequence[_SetIn], apart: Array, predict: Predict) -> Array:
    """The same without check number *g*; *apart*: where another is what does not belong."""
    grid, modes = told.fitted.grid, told.fitted.modes
    rest = without(told.noise, told.seen.columns.check == told.checks[g])
    if not len(rest.columns):
        return np.zeros(len(grid))
    moving = told.severe.moving
    prior = grid.log_prior[grid.owner] + grid.log_weight
    whole = int(told.whole[g])
    own = [d for d in told.again if told.doubts[d].check == told.checks[g]]
    if whole in own:
        return np.asarray(np.logaddexp(told.again[whole].modes.log_evidence, apart))
    if own:
        # the one value that pulls is known to be odd: the others are foreseen from where nodes are without it
        return np.asarray(np.logaddexp(_without_the_others(told, g, own[0]), apart))
    its_own = [d for d, one in enumerate(told.doubts) if one.check == told.checks[g]]
    more = strays(np.minimum(np.delete(told.odd, [*its_own, *told.again], axis=1), BELIEVED))
    left = np.logaddexp(modes.log_evidence - told.foreseen.log_density[:, whole] + more, apart)
    hidden = [_hidden(told, rest, one, prior, left) for one in set_in]
    if not any(map(len, hidden)) and _is_gentle(told, whole, prior, left):
        return _held_down(left, modes.arrived, modes)
    now = Moved(modes)
    tried = np.zeros(len(grid), dtype=bool)
    for some in (grid.best_of_each(left), grid.best_of_each(modes.log_evidence)):
        tried[some] = True
    tried[np.argsort(-(prior + left), kind="stable")[:AGAIN]] = True
    far = _bends(told, whole, prior, left)
    tried &= far
    for one, some in zip(set_in, hidden, strict=True):
        tried[some] = True
        _where_better(told, rest, now, some, one.z[some], one.f[some], modes.J[:1])
    first = np.flatnonzero(tried)
    _moved(told, whole, rest, now, first, predict)
    its = now.settled(rest, predict, first, prior[first])
    found = np.where(modes.arrived, left, left.min())
    found[first] = np.logaddexp(its + more[first], apart[first])
    told_by_all = modes.arrived & _as_foreseen(grid, first, np.abs(found - left)[first])
    others = _siblings(grid, found + prior, tried | ~far | told_by_all)
    if len(others):
        _beside(told, rest, now, others, found, predict)
        its = now.settled(rest, predict, others, prior[others])
        found[others] = np.logaddexp(its + more[others], apart[others])
        tried[others] = True
    # a node that was never brought to its mode is foreseen badly; were it good, it would be among these
    found = _held_down(np.where(tried, found, left), tried | modes.arrived, modes)
    known, done = tried | modes.arrived, np.zeros(len(grid), dtype=bool)
    for _ in range(ROUNDS):  # with slopes of their own they sink, and others come to the top
        best = np.argsort(-(prior + found), kind="stable")[:AGAIN]
        best = best[tried[best] & ~done[best]]
        if not len(best):
            break
        final = settle(rest, predict, best, now.take(best), renew=ANEW, most=3, moving=moving, one_sided=True)
        belongs = final.log_evidence + strays(_odd(told, rest, final))
        found[best] = np.logaddexp(belongs, apart[best])
        done[best] = True
        found = _held_down(found, known, modes)
    return np.asarray(found)


def _held_down(evidence: Array, known: Flags, modes: Modes) -> Array:
    """The same, with what was not brought to its mode held where that may be."""
    if not known.any():
        return evidence
    behind = np.maximum(modes.log_evidence[known].max() - modes.log_evidence, 0.0)
    return np.asarray(np.where(known, evidence, not_fitted(evidence, float(evidence[known].max()), behind)))


def _is_gentle(told: Explanation, whole: int, prior: Array, left: Array) -> bool:
    """Whether leaving a check out moves nothing that matters so far that it bends."""
    shift, behind = told.foreseen.shift[:, whole], _behind(told, prior, left)
    return not any(np.any((shift > far) & (behind < near)) for far, near in GENTLE)


def _bends(told: Explanation, whole: int, prior: Array, left: Array) -> Flags:
    """Which nodes may not be as foreseen without a check: they move, and matter, or move far, or were never
    brought to their modes.
    """
    shift, (near, far) = told.foreseen.shift[:, whole], (GENTLE[0][1], GENTLE[-1][0])
    lies = (_behind(told, prior, left) < near) | (shift > far) | ~told.fitted.modes.arrived
    return np.asarray((shift > STILL) & lies)


def _behind(told: Explanation, prior: Array, left: Array) -> Array:
    """How far nodes lie behind the best, with a check or without it, the less of the two, (N,)."""
    with_it, without_it = prior + told.fitted.modes.log_evidence, prior + left
    return np.asarray(np.minimum(with_it.max() - with_it, without_it.max() - without_it))


def _moved(told: Explanation, whole: int, rest: Noise, now: Moved, nodes: Indices, predict: Predict) -> None:
    """Put these nodes where the healthy car sits without that check, where they fit better there."""
    healthy = np.zeros(1, dtype=np.int64)
    before = now.take(healthy)
    if told.foreseen.shift[0, whole] < STILL and (before.z == told.fitted.modes.z[:1]).all():
        return  # it stays where it is
    sound = settle(rest, predict, healthy, before, renew=ANEW, most=6, moving=told.severe.moving)
    if np.sum((sound.z - before.z) ** 2) > ANEW**2:
        z = now.z[nodes]
        z[:, : told.severe.d] = sound.z[:, : told.severe.d]
        _where_better(told, rest, now, nodes, z, predicted(predict, nodes, z), sound.J)


def _beside(
    told: Explanation, rest: Noise, now: Moved, nodes: Indices, found: Array, predict: Predict
) -> None:
    """Put these nodes where the best of their cause sits, where they fit better there."""
    best = now.take(told.fitted.grid.best_of_each(found)[told.fitted.grid.owner[nodes]])
    z = now.z[nodes]
    z[:, : told.severe.d] = best.z[:, : told.severe.d]
    _where_better(told, rest, now, nodes, z, predicted(predict, nodes, z), best.J)


def _where_better(
    told: Explanation, rest: Noise, now: Moved, nodes: Indices, z: Array, f: Array, J: Array
) -> None:
    """Put these nodes at *z*, where they foresee *f*, if they fit better there; *J* of all nodes, or of one
    that stands for all.
    """
    better = np.flatnonzero(energy_of(rest, f, z) < energy_of(rest, now.f[nodes], now.z[nodes]))
    slopes = J if len(J) == 1 else J[better]
    now.put(nodes[better], z[better], f[better], slopes[:, : told.severe.d])


def _siblings(grid: Grid, weight: Array, tried: Flags) -> Indices:
    """Nodes not tried yet of the causes that matter."""
    best = weight[grid.best_of_each(weight - grid.log_weight)]
    matter = np.flatnonzero(best > best.max() - MATTERS)
    return np.flatnonzero(np.isin(grid.owner, matter) & ~tried)


def _as_foreseen(grid: Grid, tried: Indices, missed: Array) -> Flags:
    """Which nodes are of causes that came out as foreseen wherever they were tried, (N,)."""
    worst = np.full(len(grid.log_prior), -np.inf)
    np.maximum.at(worst, grid.owner[tried], missed)
    return np.asarray((worst < SURE) & np.isfinite(worst))[grid.owner]


def _odd(told: Explanation, rest: Noise, modes: Modes) -> Array:
    """Log odds of every doubt of the rest but those that were fitted without, (n, .)."""
    # what is taken to belong is no doubt any more
    certain = set(np.flatnonzero(np.all(np.isneginf(told.odd), axis=0)))
    anew = [one for d, one in enumerate(told.doubts) if d in told.again or d in certain]
    columns = rest.columns
    doubts = [one for one in doubts_of(columns) if not any(_is_of(columns, one, two, told) for two in anew)]
    if not doubts:
        return np.full((len(modes), 1), -np.inf)
    return np.minimum(odds_of(doubts, foreseen_at(rest, modes, doubts)), BELIEVED)


def _is_of(columns: Columns, one: Doubt, two: Doubt, told: Explanation) -> bool:
    """Whether a doubt of the rest is the same as one of all readings."""
    whole = told.seen.columns
    return (
        one.check == two.check
        and one.whole == two.whole
        and (one.whole or columns.column[one.rows[0]] == whole.column[two.rows[0]])
    )


def _without_the_others(told: Explanation, g: int, odd: int) -> Array:
    """Log evidence of every node without check *g*, of which one value was fitted without, (N,)."""
    rest = without(told.noise, told.doubts[odd].gone(len(told.noise.columns)))
    modes = told.again[odd].modes
    rows = [np.flatnonzero(rest.columns.check == told.checks[g])]
    return np.asarray(
        modes.log_evidence - left_out(rest, local(rest, modes), modes.f, rows).log_density[:, 0]
    )


def _another_apart(told: Explanation) -> Array:
    """Log evidence of every node without each check and one doubt of those that were fitted without, (N, G).

    A check is foreseen there from where the nodes are without the other: where that one pulled them, it is
    foreseen far off, and would leave a node that does not fit better than it is.
    """
    columns = told.seen.columns
    found = np.full((len(told.fitted.grid), len(told.checks)), -np.inf)
    for d, fitted in told.again.items():
        doubt = told.doubts[d]
        others = np.flatnonzero(told.checks != doubt.check)
        if not len(others) or np.isneginf(told.odd[:, d]).all():
            continue  # nothing else was read, or it is taken to belong
        rest = without(told.noise, doubt.gone(len(columns)))
        sets = [np.flatnonzero(rest.columns.check == told.checks[g]) for g in others]
        foreseen = left_out(rest, local(rest, fitted.modes), fitted.modes.f, sets)
        its = doubt.log_flat + fitted.modes.log_evidence[:, None] - foreseen.log_density
        found[:, others] = np.logaddexp(found[:, others], its)
    return found
