"""The first answer after a new reading: the last explanation carried on by one step of the nodes that matter.

What was worked out before stays; the model is asked only for the new reading, everywhere, and then for all
readings at the few nodes that hold the weight. What is under a ten-thousandth is weighed roughly. The full
explanation follows behind.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evenpour.causes.car_model import CarModel
from evenpour.causes.choice_line import lines_of
from evenpour.causes.explanation import WIDER_NOISE, Explanation, odds_of_not_belonging, strays
from evenpour.causes.felt import unfelt
from evenpour.causes.laplace import Modes, local, settle
from evenpour.causes.normal import LOG_2PI, log_sum, log_sum_by
from evenpour.causes.observed import Observation, key_of, seen
from evenpour.causes.predictive import left_out
from evenpour.causes.problem import NONE, Array, Columns, Hypothesis, Indices, grid_of, named
from evenpour.causes.seen import Noise, noise_of
from evenpour.causes.severe import Severe
from evenpour.causes.slopes import slopes
from evenpour.causes.unexplained import checks_of, log_flat

MOST_NEW = 12  # values; with more the last explanation is no good start
STEPS = 2
LIVE, MOST_LIVE = 9.0, 96  # nat behind the best, and nodes, that are carried on with care


def first_answer(
    before: Explanation,
    hypotheses: Sequence[Hypothesis],
    observations: Sequence[Observation],
    *,
    noise: float = WIDER_NOISE,
) -> Array | None:
    """Log posterior of every hypothesis once a reading or a few have been added, (H,).

    Args:
        before: What was said of all readings but these.
        hypotheses: As then; how likely each was may have changed.
        observations: All readings, the old ones as they were.
        noise: Factor on the readings' noise, as then.
    Returns:
        None where the last explanation cannot be carried on: a reading was changed or taken away, or too
        many came, or it explained nothing yet.
    """
    fresh = _fresh(before, observations)
    if (
        fresh is None
        or not before.seen.asked
        or [named(one) for one in hypotheses] != list(before.severe.grid.name)
    ):
        return None
    columns = seen(observations, before.middle)
    place = {key_of(query): number for number, (_, query) in enumerate(before.seen.asked)}
    known = np.array([place.get(key_of(query), NONE) for _, query in columns.asked], dtype=np.int64)
    new = np.flatnonzero(known == NONE)
    model = before.model.columns_of([columns.asked[at] for at in new])
    grid, modes = before.fitted.grid, before.fitted.modes
    asked = Severe(model, grid, before.severe.d, before.severe.spread, before.severe.felt)
    heard = noise_of(_widened(columns.columns.noisier(noise), new, model, asked.spread))
    f = modes.f[:, known]  # and of what is new, what the model says
    if len(new):
        f[:, new] = asked.predict(np.arange(len(grid)), modes.z)
    log_prior = grid_of(hypotheses).log_prior
    stray = strays(before.odd)
    sound = _with_new(before, asked, known, new, f, np.zeros(1, dtype=np.int64))
    found = modes.log_evidence + stray + _rough(heard, f, fresh, _open(before, sound))
    weight = log_prior[grid.owner] + grid.log_weight + found
    live = np.argsort(-weight, kind="stable")[:MOST_LIVE]
    live = np.sort(live[weight[live] > weight.max() - LIVE])
    everything = before.model.columns_of(columns.asked)
    severe = Severe(everything, grid, before.severe.d, before.severe.spread, before.severe.felt)
    now = _with_new(before, asked, known, new, f, live)
    now = settle(heard, severe.predict, live, now, renew=np.inf, most=STEPS)
    sets = [np.flatnonzero(columns.columns.check == one) for one in checks_of(columns.columns)]
    foreseen = left_out(heard, local(heard, now), now.f, sets)
    odd = odds_of_not_belonging(columns.columns, foreseen)
    found[live] = now.log_evidence + strays(odd)
    log = log_prior + log_sum_by(grid.log_weight + found, grid.owner, len(log_prior))
    return np.asarray(log - log_sum(log))


def _fresh(before: Explanation, observations: Sequence[Observation]) -> Indices | None:
    """Rows that are new; None where it is not just a few more."""
    left = Counter(_what(one) for one in before.seen.observations)
    fresh = []
    for row, one in enumerate(observations):
        if left[_what(one)]:
            left[_what(one)] -= 1
        else:
            fresh.append(row)
    if len(fresh) > MOST_NEW or left.total():
        return None
    return np.array(fresh, dtype=np.int64)


def _what(one: Observation) -> tuple[object, ...]:
    return (key_of(one.query), one.value, one.u, one.choice)


def _widened(columns: Columns, new: Indices, model: CarModel, spread: float) -> Columns:
    """The new numbers widened by what nobody has felt of the car before."""
    rows = np.flatnonzero(np.isin(columns.column, new) & ~columns.is_choice)
    if not len(rows):
        return columns
    at = np.searchsorted(new, columns.column[rows])
    covariance = columns.covariance.copy()
    covariance[np.ix_(rows, rows)] += unfelt(model, spread)[np.ix_(at, at)]
    return replace(columns, covariance=covariance)


def _with_new(
    before: Explanation, asked: Severe, known: Indices, new: Indices, f: Array, nodes: Indices
) -> Modes:
    """These nodes where they were, with what the new columns say there and how they move."""
    modes = before.fitted.modes
    J = modes.J[nodes][:, :, known]
    if len(new):
        J[:, :, new] = slopes(asked.predict, nodes, modes.z[nodes], asked.moving)
    z, taken = modes.z[nodes], modes.taken[nodes]
    return Modes(z, f[nodes], J, taken, modes.log_evidence[nodes], modes.arrived[nodes])


def _open(before: Explanation, sound: Modes) -> Array:
    """Variance of every column that the readings so far leave the healthy car, (M,)."""
    H = local(before.noise, before.fitted.modes.take(np.zeros(1, dtype=np.int64))).H[0]
    J = sound.J[0]
    return np.asarray(np.sum(J * np.linalg.solve(H, J), axis=0))


def _rough(heard: Noise, f: Array, fresh: Indices, open_: Array) -> Array:
    """Log probability of the new rows at every node, each for itself, as open as on the healthy car, (N,)."""
    columns = heard.columns
    total = np.zeros(len(f))
    for check in np.unique(columns.check[fresh]):
        own = np.zeros(len(f))
        for row in fresh[columns.check[fresh] == check]:
            mean, variance = f[:, columns.column[row]], open_[columns.column[row]]
            choice = columns.choices[row]
            if choice is None:
                variance = variance + columns.covariance[row, row]
                own -= 0.5 * ((columns.y[row] - mean) ** 2 / variance + np.log(variance) + LOG_2PI)
            else:
                own += lines_of([choice]).log_chosen(mean[:, None], variance)[:, 0]
        total += np.logaddexp(own, log_flat(columns, [int(check)]))  # or it does not belong
    return total
