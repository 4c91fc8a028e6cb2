"""What the other readings lead one to expect of one: with a cause, and without it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from evenpour.causes.laplace import Modes, settle
from evenpour.causes.problem import Array, Indices
from evenpour.causes.seen import without

if TYPE_CHECKING:
    from evenpour.job.causes_answer import Case

APART = 2.0  # noise widths, from which two expectations differ
NEARLY = 1.5  # of a severity's standard number: near the ends of what its place allows
RIVALS = 10  # places where something else fits best, that a cause is set beside


@dataclass(frozen=True, slots=True)
class Expected:
    """One reading as all other checks foresee it, as it is compared.

    Attributes:
        row: Which of the readings.
        with_it: The middle of what a cause may have it read; ``span``: from where to where, by how bad it is.
        without: What it would read without the cause.
    """

    row: int
    with_it: float
    span: tuple[float, float]
    without: float


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

    def of(self, owner: int, g: int) -> Expected:
        """The reading of check *g* that a cause and the rest of what may be wrong foresee most differently.

        By weight, of the places where the cause fits the other checks. Without it means a sound car; only
        where that would read the same, whatever else explains the other checks.
        """
        told = self._case.explanation
        fit = self._refit(g)
        rows = np.flatnonzero(told.seen.columns.check == told.checks[g])
        mine = told.fitted.grid.owner[fit.nodes] == owner
        weight = np.exp(fit.log - fit.log.max())
        per_sd = told.noise.per_sd
        found = []
        ends = self._ends(fit, np.flatnonzero(mine))
        for row in rows:
            column = told.seen.columns.column[row]
            value = fit.modes.f[:, column]
            middle = _below(value[mine], weight[mine], 0.5)
            low, high = float(ends[:, column].min()), float(ends[:, column].max())
            healthy = float(value[told.fitted.grid.owner[fit.nodes] == 0][0])
            apart = APART / float(per_sd[row])
            beside = low - apart < healthy < high + apart
            without_it = _below(value[~mine], weight[~mine], 0.5) if beside else healthy
            found.append(Expected(int(row), middle, (low, high), without_it))
        return max(found, key=lambda one: abs(one.with_it - one.without) * float(per_sd[one.row]))

    def _ends(self, fit: _Refit, rows: Indices) -> Array:
        """All columns where a cause is as mild and as bad as each of its places allows."""
        severe = self._case.explanation.severe
        z = np.repeat(fit.modes.z[rows], 2, axis=0)
        z[0::2, severe.d], z[1::2, severe.d] = -NEARLY, NEARLY
        return severe.predict(np.repeat(fit.nodes[rows], 2), z)

    def _refit(self, g: int) -> _Refit:
        if g not in self._found:
            told = self._case.explanation
            nodes, grid = self._nodes, told.fitted.grid
            rest = without(told.noise, told.seen.columns.check == told.checks[g])
            start = told.fitted.modes.take(nodes)
            prior = grid.log_prior[grid.owner[nodes]] + grid.log_weight[nodes]
            if len(rest.columns):
                modes = settle(rest, told.severe.predict, nodes, start, renew=0.5, most=6)
                self._found[g] = _Refit(nodes, modes, prior + modes.log_evidence)
            else:  # nothing else was read: the middle car with each cause
                start.z[:] = 0.0
                start.f[:] = told.severe.predict(nodes, start.z)
                self._found[g] = _Refit(nodes, start, prior)
        return self._found[g]


def _below(value: Array, weight: Array, share: float) -> float:
    """The value below which a share of the weight lies; its middle at a half."""
    order = np.argsort(value, kind="stable")
    running = np.cumsum(np.maximum(weight[order], 1e-300))
    return float(value[order][np.searchsorted(running, share * running[-1])])
