"""Slips of the pen: readings as they may have been meant, those likely enough explained in full.

A slip (another unit, a point misplaced, two cylinders' values exchanged, the engine in another state) has a
small prior, and the reading as it was meant is judged like any other. There are hundreds; with the readings
linearised at the places that fit, with and without what seems not to belong, a change of some values changes
the evidence by

.. math::

    \\Delta \\log E = -\\delta_R' P_{R\\cdot} t - \\tfrac12 \\delta_R' P_{RR} \\delta_R

with t the misfit from the linearised model and P the inverse covariance of all readings. What is likely by
that is tried by the model itself at the best places, and what still is gets an explanation of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.explanation import Explanation, summed_up
from evenpour.causes.fitting import fit
from evenpour.causes.laplace import Modes, local, settle
from evenpour.causes.normal import LOG_2PI, log_sum
from evenpour.causes.observed import Observation, Seen, seen
from evenpour.causes.predictive import pulls
from evenpour.causes.problem import Array, Flags, Indices
from evenpour.causes.seen import noise_of, without
from evenpour.causes.severe import Severe
from evenpour.causes.slip_kinds import Slip, slips_of
from evenpour.causes.together import Jointly
from evenpour.causes.unexplained import Doubt, rows_but
from evenpour.machine.checks import NumberCheck

PLACES = 96  # nodes of most weight that slips are screened at
TRIED, AT = 4, 12  # slips tried by the model, and at how many places
NEAR = 8.0  # nat behind all else, within which a slip is tried
LIKELY = 3.5  # and within which it is then explained


def meant(observations: Sequence[Observation], slips: Sequence[Slip]) -> tuple[Observation, ...]:
    """The readings with slips put right."""
    found = list(observations)
    for row, y in ((int(row), float(y)) for slip in slips for row, y in zip(slip.rows, slip.y, strict=True)):
        check = found[row].check
        assert isinstance(check, NumberCheck)
        found[row] = replace(found[row], value=float(check.uncompared(y)))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Apart:
    """Readings explained with some set aside.

    Attributes:
        told: The explanation of the others.
        joint: Several causes at once, on the same.
        aside: What is set aside; its rows count all readings.
    """

    told: Explanation
    joint: Jointly
    aside: tuple[Doubt, ...]


@dataclass(frozen=True, slots=True)
class Likely:
    """A slip that may well have been made, beside what else does not belong then."""

    slip: Slip
    aside: tuple[Doubt, ...]
    log: float


def likely_slips(
    told: Explanation, apart: Sequence[Apart], level: float, known: Sequence[Slip] = ()
) -> list[Likely]:
    """Slips that may well have been made, the likeliest first.

    Args:
        told: The explanation of the readings as they are written, or with slips that are *known* put right.
        apart: The same with some set aside: another slip than the worst is seen from there.
        level: Log weight of all that explains them so.
        known: Slips whose readings are taken to be right.
    """
    screened = sorted(_screened(told, apart, level, known), key=lambda one: -one.log)[:TRIED]
    tried = [Likely(one.slip, one.at.aside, _tried(told, one)) for one in screened]
    return sorted((one for one in tried if one.log > level - LIKELY), key=lambda one: -one.log)


def explained_as_meant(told: Explanation, slips: Sequence[Slip], read: Flags) -> Explanation:
    """The explanation of the readings with slips put right, of those that are *read*, (m,)."""
    whole = _seen(told, slips)
    observations = tuple(one for one, is_read in zip(whole.observations, read, strict=True) if is_read)
    right = Seen(whole.asked, whole.columns.keep(read), observations)
    heard = noise_of(right.columns.noisier(told.wider))
    fitted = fit(told.severe, heard)
    return summed_up(
        told.suspects, told.hypotheses, told.severe, told.model, right, told.middle, told.wider, heard, fitted
    )


def _seen(told: Explanation, slips: Sequence[Slip]) -> Seen:
    return seen(meant(told.seen.observations, slips), told.middle)


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A slip, its log weight as screened, and where it was likeliest: the best of those places."""

    slip: Slip
    log: float
    nodes: Indices
    modes: Modes
    at: _Places


@dataclass(frozen=True, slots=True)
class _Places:
    """Where slips of some rows are screened: nodes, and the log evidence there with those rows as written, as
    the linearised model has it, put right by what is known of it.
    """

    severe: Severe
    nodes: Indices
    modes: Modes
    log: Array  # (n,) with the nodes' prior
    pull: Array  # (n, m)
    inverse: Array  # (n, m, m)
    rows: Flags  # (m,) which may be changed
    read: Flags  # (m,) which are explained
    aside: tuple[Doubt, ...]  # the others
    level: float  # log weight of those


def _screened(
    told: Explanation, apart: Sequence[Apart], level: float, known: Sequence[Slip]
) -> Iterator[_Candidate]:
    """Slips that are likely enough to be tried."""
    columns = told.seen.columns
    right = {int(row) for slip in known for row in slip.rows}
    slips = [
        one for one in slips_of(told.seen.observations, told.middle) if right.isdisjoint(map(int, one.rows))
    ]
    if not slips:
        return
    places = list(_places(told, apart))
    for slip in slips:
        by = (slip.y - columns.y[slip.rows]) * told.noise.per_sd[slip.rows]
        best: _Candidate | None = None
        for one in places:
            if not one.rows[slip.rows].all():
                continue
            gain = -one.pull[:, slip.rows] @ by - 0.5 * np.einsum(
                "r,nrs,s->n", by, one.inverse[:, slip.rows][:, :, slip.rows], by
            )
            log = one.log + gain
            total = float(log_sum(log)) + slip.log_prior
            if best is None or total > best.log:
                order = np.argsort(-log, kind="stable")[:AT]
                best = _Candidate(slip, total, one.nodes[order], one.modes.take(order), one)
        if best is not None and best.log > level - NEAR:
            yield best


def _places(told: Explanation, apart: Sequence[Apart]) -> Iterator[_Places]:
    """As all readings have it, without each thing that seems not to belong, and with several set aside."""
    yield _places_at(told, told.severe, told.fitted.modes, None, ())
    for d, its in told.again.items():
        yield _places_at(told, told.severe, its.modes, told.doubts[d], ())
    for one in apart:
        for severe, modes in ((told.severe, one.told.fitted.modes), (one.joint.severe, one.joint.modes)):
            if len(modes):
                yield _places_at(told, severe, modes, None, one.aside)
            for doubt in one.aside:
                others = tuple(other for other in one.aside if other is not doubt)
                # of single causes, with one alone set aside it was looked at above
                if len(modes) and (others or severe is not told.severe):
                    yield _places_at(told, severe, modes, doubt, others)


def _places_at(
    told: Explanation, severe: Severe, modes: Modes, doubt: Doubt | None, aside: tuple[Doubt, ...]
) -> _Places:
    """Places that fit the readings but what is set aside and what *doubt* is about."""
    grid, count = severe.grid, len(told.seen.columns)
    read = rows_but(aside, count)
    prior = grid.log_prior[grid.owner] + grid.log_weight
    nodes = np.argsort(-(prior + modes.log_evidence), kind="stable")[:PLACES]
    some, kept = modes.take(nodes), np.flatnonzero(read)
    noise = told.noise if read.all() else without(told.noise, ~read)
    its_pull, its_inverse = pulls(noise, local(noise, some))
    pull, inverse = np.zeros((len(nodes), count)), np.zeros((len(nodes), count, count))
    pull[:, kept] = its_pull
    inverse[:, kept[:, None], kept] = its_inverse
    level = sum(one.log_flat for one in aside)
    log = prior[nodes] + some.log_evidence + level
    rows = read
    if doubt is not None:
        rows = doubt.gone(count)
        log = log + _of(doubt.rows, pull, inverse) + np.log(told.noise.per_sd[rows]).sum()
    return _Places(severe, nodes, some, log, pull, inverse, rows, read, aside, level)


def _of(rows: Indices, pull: Array, inverse: Array) -> Array:
    """Log density of some rows as all others foresee them, in units of their noise, (n,)."""
    own = inverse[:, rows][:, :, rows]
    e = np.linalg.solve(own, pull[:, rows, None])[..., 0]
    return np.asarray(
        -0.5 * (np.sum(e * pull[:, rows], axis=1) - np.linalg.slogdet(own)[1] + len(rows) * LOG_2PI)
    )


def _tried(told: Explanation, one: _Candidate) -> float:
    """Log weight of the readings with a slip put right, at its best places."""
    heard = noise_of(_seen(told, [one.slip]).columns.keep(one.at.read).noisier(told.wider))
    severe, grid = one.at.severe, one.at.severe.grid
    prior = grid.log_prior[grid.owner[one.nodes]] + grid.log_weight[one.nodes]
    again = settle(heard, severe.predict, one.nodes, one.modes, renew=0.5, most=5, moving=severe.moving)
    return float(log_sum(prior + again.log_evidence)) + one.slip.log_prior + one.at.level
