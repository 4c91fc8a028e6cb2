"""The first answer after a new reading: the last explanation carried on by one step of the nodes that matter.

What was worked out before stays; the model is asked only for the new reading, everywhere, and then for all
readings at the few nodes that hold the weight. What is under a ten-thousandth is weighed roughly. The full
explanation follows behind.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.car_model import CarModel
from evenpour.causes.choice_line import lines_of
from evenpour.causes.explanation import (
    BELIEVED,
    WIDER_NOISE,
    Explanation,
    foreseen_at,
    odds_of,
    strays,
)
from evenpour.causes.felt import unfelt
from evenpour.causes.laplace import Modes, local, settle
from evenpour.causes.normal import LOG_2PI, log_sum, log_sum_by
from evenpour.causes.observed import Observation, Seen, key_of, seen
from evenpour.causes.problem import NONE, Array, Columns, Hypothesis, Indices, grid_of, named
from evenpour.causes.seen import Noise, noise_of
from evenpour.causes.severe import Severe
from evenpour.causes.slopes import slopes
from evenpour.causes.unexplained import Doubt, doubts_of

CLOSE = 2.0  # of its own noise, that a value read again may have moved
MET = 4.0  # of the noise, within which a reading of something read before is met by what is found
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
        None where the last explanation cannot be carried on: a reading was taken away or changed by much, or
        contradicts one before, or too many came, or nothing was explained yet.
    """
    change = _change(before, observations)
    if change is None or not before.seen.asked or not _as_then(before, hypotheses):
        return None
    columns = seen(observations, before.middle)
    if not _is_close(before, columns.columns, change):
        return None
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
    sound = _with_new(before, asked, known, new, f, np.zeros(1, dtype=np.int64))
    own = _rough(before, heard, f, change, _open(before, sound))
    found = modes.log_evidence + strays(before.odd)
    doubts = doubts_of(columns.columns)
    flat = {one.check: one.log_flat for one in doubts if one.whole}
    for check, density in own.items():  # it tells what it tells, or does not belong
        found = found + np.logaddexp(density, flat[check])
    weight = log_prior[grid.owner] + grid.log_weight + found
    live = np.argsort(-weight, kind="stable")[:MOST_LIVE]
    live = np.sort(live[weight[live] > weight.max() - LIVE])
    everything = before.model.columns_of(columns.asked)
    severe = Severe(everything, grid, before.severe.d, before.severe.spread, before.severe.felt)
    now = _with_new(before, asked, known, new, f, live)
    now = settle(heard, severe.predict, live, now, renew=np.inf, most=STEPS)
    odd = np.minimum(odds_of(doubts, foreseen_at(heard, now, doubts)), BELIEVED)
    without = _known_without(before, columns, doubts, own)
    for d, evidence in without.items():
        odd[:, d] = doubts[d].log_flat + evidence[live] - now.log_evidence
    exact = now.log_evidence + strays(odd)
    now_weight = weight[live] - found[live] + exact
    share = np.exp(now_weight - now_weight.max())
    if _contradicts(
        heard, np.average(now.f, axis=0, weights=share), change, [doubts[d].check for d in without]
    ):
        return None
    # what is weighed roughly is off by about as much everywhere: doubt is shared with what was read before
    off = np.average(exact - found[live], weights=np.exp(weight[live] - weight.max()))
    found += off
    found[live] = exact
    log = log_prior + log_sum_by(grid.log_weight + found, grid.owner, len(log_prior))
    return np.asarray(log - log_sum(log))


@dataclass(frozen=True, slots=True)
class _Change:
    """Rows that are new, and rows of before that were read again: *was* and *now* run alike."""

    fresh: Indices
    was: Indices
    now: Indices


def _as_then(before: Explanation, hypotheses: Sequence[Hypothesis]) -> bool:
    """Whether the same hypotheses are asked about, at the same severities."""
    grid = before.fitted.grid
    severities = np.concatenate([one.severities for one in hypotheses])
    return [named(one) for one in hypotheses] == list(grid.name) and np.array_equal(
        severities, grid.faults.severity[:, 0]
    )


def _change(before: Explanation, observations: Sequence[Observation]) -> _Change | None:
    """What is new; None where something is missing, or too much has come."""
    left: dict[tuple[object, ...], list[int]] = {}
    for row, one in enumerate(before.seen.observations):
        left.setdefault(_what(one), []).append(row)
    others = []
    for row, one in enumerate(observations):
        if same := left.get(_what(one)):
            same.pop()
        else:
            others.append(row)
    gone = [row for rows in left.values() for row in rows]
    by_key = {key_of(before.seen.observations[row].query): row for row in gone}
    again = [row for row in others if key_of(observations[row].query) in by_key]
    if len(others) > MOST_NEW or not len(again) == len(by_key) == len(gone):
        return None
    was = [by_key[key_of(observations[row].query)] for row in again]
    fresh = [row for row in others if row not in again]
    return _Change(*(np.array(rows, dtype=np.int64) for rows in (fresh, was, again)))


def _is_close(before: Explanation, columns: Columns, change: _Change) -> bool:
    """Whether what was read again is about what it was: else places found with it are no good start."""
    if any(columns.choices[row] is not None for row in change.now):
        return False
    old = before.seen.columns
    far = np.abs(columns.y[change.now] - old.y[change.was])
    return bool(np.all(far < CLOSE * np.sqrt(np.diag(old.covariance)[change.was])))


def _contradicts(heard: Noise, f: Array, change: _Change, apart: Sequence[int]) -> bool:
    """Whether something new is far off though its check was read before: what is right then is not to be
    foreseen from here.
    """
    columns = heard.columns
    rows = np.concatenate([change.fresh, change.now])
    rows = rows[~columns.is_choice[rows] & ~np.isin(columns.check[rows], apart)]
    return bool(np.any(np.abs(columns.y[rows] - f[columns.column[rows]]) * heard.per_sd[rows] > MET))


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


def _rough(before: Explanation, heard: Noise, f: Array, change: _Change, open_: Array) -> dict[int, Array]:
    """Log probability of what is new in each check at every node, each row for itself, as open as on the
    healthy car: (N,) by the check.
    """
    columns, old = heard.columns, before.noise.columns
    found: dict[int, Array] = {}

    def add(row: int, density: Array) -> None:
        check = int(columns.check[row])
        found[check] = found.get(check, np.zeros(len(f))) + density

    for row in change.fresh:
        mean, variance = f[:, columns.column[row]], open_[columns.column[row]]
        choice = columns.choices[row]
        if choice is None:
            add(row, _normal(columns.y[row] - mean, variance + columns.covariance[row, row]))
        else:
            add(row, lines_of([choice]).log_chosen(mean[:, None], variance)[:, 0])
    for was, now in zip(change.was, change.now, strict=True):
        mean, variance = f[:, columns.column[now]], open_[columns.column[now]]
        add(now, _normal(columns.y[now] - mean, variance + columns.covariance[now, now]))
        add(now, -_normal(old.y[was] - mean, variance + old.covariance[was, was]))
    return found


def _normal(miss: Array, variance: float) -> Array:
    return np.asarray(-0.5 * (miss**2 / variance + np.log(variance) + LOG_2PI))


def _known_without(
    before: Explanation, now: Seen, doubts: Sequence[Doubt], own: Mapping[int, Array]
) -> dict[int, Array]:
    """Log evidence of every node without what a doubt is about, (N,) by the doubt's number, where it is known
    better than it can be foreseen: without a check that is new, and without what was fitted without before.
    """
    check_of = {one.state: int(check) for one, check in zip(now.observations, now.columns.check, strict=True)}
    states = [one.state for one in before.seen.observations]
    old = {
        int(check): check_of[state] for state, check in zip(states, before.seen.columns.check, strict=True)
    }
    place: dict[tuple[int, int | None], int] = {
        (one.check, NONE if one.whole else int(one.rows[0])): d for d, one in enumerate(doubts)
    }
    row_of = {_what(one): row for row, one in enumerate(now.observations)}
    known = {place[check, NONE]: before.fitted.modes.log_evidence for check in set(own) - set(old.values())}
    for d, its in before.again.items():
        was = before.doubts[d]
        row = NONE if was.whole else row_of.get(_what(before.seen.observations[was.rows[0]]))
        if (at := place.get((old[was.check], row))) is not None:
            known[at] = its.modes.log_evidence
    return {
        d: evidence + sum((gain for check, gain in own.items() if check != doubts[d].check), np.zeros(1))
        for d, evidence in known.items()
    }
