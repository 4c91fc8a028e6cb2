"""What the other readings lead one to expect of one: with a cause, and without it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from evenpour.causes.felt import healthy
from evenpour.causes.laplace import Modes, settle
from evenpour.causes.problem import Array, Indices, Predict
from evenpour.causes.seen import without
from evenpour.causes.side_by_side import side_by_side
from evenpour.machine.checks import ChoiceCheck

if TYPE_CHECKING:
    from evenpour.job.causes.case import Case

APART = 2.0  # noise widths that two words lie apart
TELLING = 1.0  # the same, from which the mended car shows by itself what a reading says
LIKELY = 0.1  # of what is not the cause: the least weight, without the check, of another that is named
NEARLY = 1.5  # of a severity's standard number: near the ends of what its place allows
FAIR = 0.1  # of the likeliest severity, without the check, from which another counts
CALM = 0.5  # noise widths by which a cause may move a value that it leaves alone
LEAST_CALM = 2  # values left alone, from which they tell the level of a run
RIVALS = 10  # places where something else fits best, that a cause is set beside


@dataclass(frozen=True, slots=True)
class Expected:
    """One reading as all other checks foresee it, as it is compared.

    Attributes:
        row: Which of the readings.
        with_it: The middle of what a cause may have it read; ``span``: from where to where, by how bad it may
            well be as the other checks have it.
        without: What it would read without the cause: in the same car mended, or with another cause instead.
        rival: Which other cause; 0 for the mended car.
        support: By how many noise widths the reading is nearer to ``span`` than to ``without``.
        outside: By how many it lies outside of ``span``.
    """

    row: int
    with_it: float
    span: tuple[float, float]
    without: float
    rival: int
    support: float
    outside: float


@dataclass(frozen=True, slots=True)
class _Refit:
    nodes: Indices
    modes: Modes
    log: Array  # weight of each node without the check


class Expectations:
    """Fits the likely explanations again without a check, once for each check that is asked about.

    Args:
        owners: The causes that will be asked about.
    """

    def __init__(self, case: Case, owners: Sequence[int]) -> None:
        self._case = case
        told = case.explanation
        mine = np.flatnonzero(np.isin(told.fitted.grid.owner, list(owners)))
        best = np.argsort(-told.node_weight, kind="stable")[:RIVALS]
        sound = np.flatnonzero(told.fitted.grid.owner == 0)
        self._nodes = np.unique(np.concatenate([mine, best, sound]))
        self._found: dict[int, _Refit] = {}

    def of(self, owner: int, g: int, *, speaks_for: bool = True) -> Expected:
        """The reading of check *g*, and what it would be without a cause, that show best what it says of it.

        Without it means the same car with the cause mended, where that shows it; else what explains the
        other checks instead and this one least (or best, for a check that speaks against the cause).
        """
        told = self._case.explanation
        fit = self._refit(g)
        rows = np.flatnonzero(told.seen.columns.check == told.checks[g])
        owners = told.fitted.grid.owner[fit.nodes]
        mine = owners == owner
        weight = np.exp(fit.log - fit.log.max())
        ends = self._ends(fit, np.flatnonzero(mine & (fit.log > math.log(FAIR) + fit.log[mine].max())))
        rivals = self._rivals(owner, owners, weight)
        best_of_mine = int(np.flatnonzero(mine)[np.argmax(fit.log[mine])])
        mended = self._mended(fit, best_of_mine)
        level = common_level(self._case, rows, fit.modes.f[best_of_mine], mended)
        found = []
        for row in rows:
            column = told.seen.columns.column[row]
            value = fit.modes.f[:, column] + level
            whole = float(mended[column]) + level
            middle = _below(value[mine], weight[mine], 0.5)
            low, high = float(ends[:, column].min()) + level, float(ends[:, column].max()) + level
            for rival in rivals:
                there = owners == rival
                without_it = _below(value[there], weight[there], 0.5) if rival else whole
                apart, outside = self._apart(int(row), low, high, without_it)
                span = (low, high)
                found.append(Expected(int(row), middle, span, without_it, rival, apart - outside, outside))
        sign = 1.0 if speaks_for else -1.0
        best = max(found, key=lambda one: sign * one.support)
        sound = max(
            (one for one in found if one.rival == 0), key=lambda one: sign * one.support, default=best
        )
        return sound if sign * sound.support >= TELLING or best.support == sound.support else best

    def _mended(self, fit: _Refit, row: int) -> Array:
        """All columns of the car of a place with nothing wrong. A sound car that has to explain the rest
        would be no such car: its parts would be dragged to what none of them is.
        """
        severe = self._case.explanation.severe
        z = severe.spread * fit.modes.z[row : row + 1, : severe.d]
        return np.asarray(severe.model(healthy(1), z)[0])

    def _rivals(self, owner: int, owners: Indices, weight: Array) -> list[int]:
        """The mended car (0), and the other causes that explain the other checks as well as any."""
        listed = self._case.explanation.suspects
        others = {int(one) for one in owners if one and listed[one].id != listed[owner].id}
        share = {one: float(weight[owners == one].sum()) for one in others}
        total = sum(share.values()) + float(weight[owners == 0].sum())
        likely = sorted(one for one in others if share[one] > LIKELY * total)
        return likely if likely and owner == 0 else [0, *likely]

    def _apart(self, row: int, low: float, high: float, without_it: float) -> tuple[float, float]:
        """How far a reading lies from a figure, and outside of a span, [noise widths]."""
        told = self._case.explanation
        observation = self._case.told[row].observation
        read, per_sd = float(told.seen.columns.y[row]), float(told.noise.per_sd[row])
        check = observation.check
        if isinstance(check, ChoiceCheck):  # words are told, so words are compared: the next one is apart
            assert observation.choice is not None
            read = float(check.place(observation.choice, observation.query))
            low, high, without_it = (
                float(sum(one > cut for cut in check.cuts)) for one in (low, high, without_it)
            )
            per_sd = APART
        outside = max(low - read, read - high, 0.0)
        return abs(read - without_it) * per_sd, outside * per_sd

    def _ends(self, fit: _Refit, rows: Indices) -> Array:
        """All columns where a cause is as mild and as bad as each of its places allows."""
        severe = self._case.explanation.severe
        z = np.repeat(fit.modes.z[rows], 2, axis=0)
        z[0::2, severe.d], z[1::2, severe.d] = -NEARLY, NEARLY
        return severe.predict(np.repeat(fit.nodes[rows], 2), z)

    def prepare(self, checks: Sequence[int]) -> None:
        """Fit without each of these checks, all side by side: they will be asked about."""
        wanted = [g for g in dict.fromkeys(checks) if g not in self._found]
        predict = self._case.explanation.severe.predict
        fits = side_by_side(predict, [partial(self._fitted, g) for g in wanted])
        self._found.update(zip(wanted, fits, strict=True))

    def _refit(self, g: int) -> _Refit:
        self.prepare([g])
        return self._found[g]

    def _fitted(self, g: int, predict: Predict) -> _Refit:
        told = self._case.explanation
        nodes, grid = self._nodes, told.fitted.grid
        rest = without(told.noise, told.seen.columns.check == told.checks[g])
        start = told.fitted.modes.take(nodes)
        prior = grid.log_prior[grid.owner[nodes]] + grid.log_weight[nodes]
        if len(rest.columns):
            modes = settle(
                rest, predict, nodes, start, renew=0.5, most=6, moving=told.severe.moving, one_sided=True
            )
            return _Refit(nodes, modes, prior + modes.log_evidence)
        start.z[:] = 0.0  # nothing else was read: the middle car with each cause
        start.f[:] = predict(nodes, start.z)
        return _Refit(nodes, start, prior)


def common_level(case: Case, rows: Indices, now: Array, mended: Array) -> float:
    """By how much the values of one check that a cause leaves alone lie above what the car foresees of them.

    All ports of a run pour more where the plate stood higher than is written: what a mended one would pour is
    what the others did. 0 where the cause moves most of them; where it moves none, of a run alone.

    Args:
        rows: Of the check, (k,).
        now, mended: All columns of the car with the cause, and mended, as compared, (M,).
    """
    seen = case.explanation.seen.columns
    numbers = rows[~seen.is_choice[rows]]
    column = seen.column[numbers]
    calm = np.abs(now[column] - mended[column]) * case.explanation.noise.per_sd[numbers] < CALM
    a_run = case.told[int(rows[0])].caught is not None
    if int(calm.sum()) < LEAST_CALM or (calm.all() and not a_run):
        return 0.0
    return float(np.median(seen.y[numbers][calm] - now[column][calm]))


def _below(value: Array, weight: Array, share: float) -> float:
    """The value below which a share of the weight lies; its middle at a half."""
    order = np.argsort(value, kind="stable")
    running = np.cumsum(np.maximum(weight[order], 1e-300))
    return float(value[order][np.searchsorted(running, share * running[-1])])
