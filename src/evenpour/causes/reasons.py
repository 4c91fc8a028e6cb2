"""Why a cause is likely or not: what each check weighs for it, and what would be read if it were mended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.explanation import Explanation, strays
from evenpour.causes.felt import healthy
from evenpour.causes.fitted_again import without_checks
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.problem import Array, Grid
from evenpour.causes.together import Jointly
from evenpour.causes.together_again import together_without_checks


@dataclass(frozen=True, slots=True)
class Evidence:
    """Log weight of every hypothesis, and then of every set of them at once, R in all.

    Attributes:
        whole: With all readings, (R,).
        without: Without each check, (R, G).
    """

    whole: Array
    without: Array

    def weighs(self, some: Sequence[int]) -> Array:
        """What every check weighs for some of them together against all others, [nat], (G,).

        The log odds with all readings less the log odds without that check's. What the checks weigh, each
        with all others in place, need not add up.
        """
        own = np.zeros(len(self.whole), dtype=np.bool_)
        own[list(some)] = True
        with_it = log_sum(self.whole[own]) - log_sum(self.whole[~own])
        without = log_sum(self.without[own], axis=0) - log_sum(self.without[~own], axis=0)
        return np.asarray(with_it - without)


def evidence(told: Explanation, joint: Jointly) -> Evidence:
    """What speaks for what. The nodes that matter without a check are fitted again without it, so that
    leaving it out does change the odds by what it is said to weigh.
    """
    grid, at_once = told.fitted.grid, joint.severe.grid
    nodes = told.fitted.modes.log_evidence + strays(told.odd)
    several = joint.modes.log_evidence + strays(joint.odd)
    whole = np.concatenate([_weights(grid, nodes), _weights(at_once, several)])
    without = np.empty((len(whole), len(told.checks)))
    alone = without_checks(told)
    for g, (nodes, several) in enumerate(
        zip(alone, together_without_checks(told, joint, alone), strict=True)
    ):
        without[:, g] = np.concatenate([_weights(grid, nodes), _weights(at_once, several)])
    return Evidence(whole, without)


def _weights(grid: Grid, nodes: Array) -> Array:
    """Log weight of every owner from its nodes' log evidence, (H,)."""
    return grid.log_prior + log_sum_by(grid.log_weight + nodes, grid.owner, len(grid.log_prior))


def if_mended(told: Explanation, owner: int) -> Array:
    """What every column would read on the same car with this cause mended, as compared, (M,)."""
    rows = np.flatnonzero(told.severe.grid.owner == owner)
    best = rows[np.argmax(told.node_weight[rows])]
    z = told.severe.spread * told.fitted.modes.z[best : best + 1, : told.severe.d]
    return np.asarray(told.severe.model(healthy(1), z)[0])


def as_it_is(told: Explanation, owner: int) -> Array:
    """What every column reads where this cause fits best, as compared, (M,)."""
    rows = np.flatnonzero(told.severe.grid.owner == owner)
    best = rows[np.argmax(told.node_weight[rows])]
    return np.asarray(told.fitted.modes.f[best])


def undivided(told: Explanation, *, least: float = 0.02, apart: float = 1.2) -> list[list[int]]:
    """Hypotheses that the readings cannot tell apart: their odds are still (nearly) those they began with.

    Args:
        least: Probability under which a hypothesis is not worth the words.
        apart: What the readings may weigh between two of a group at most, [nat].
    """
    grid = told.fitted.grid
    gained = told.log_posterior - grid.log_prior
    alive = [
        h for h in np.argsort(-told.probability) if told.probability[h] >= least and told.suspects[h].cause
    ]
    groups: list[list[int]] = []
    for h in alive:
        for group in groups:
            if abs(gained[h] - gained[group[0]]) < apart and _moved(told, h) and _moved(told, group[0]):
                group.append(int(h))
                break
        else:
            groups.append([int(h)])
    return [group for group in groups if len(group) > 1]


def _moved(told: Explanation, owner: int) -> bool:
    """Whether the readings speak of a hypothesis at all: else it is not undivided but untouched."""
    grid = told.fitted.grid
    nothing = next(h for h, one in enumerate(told.suspects) if one.cause is None)
    gained = told.log_posterior - grid.log_prior
    return bool(abs(gained[owner] - gained[nothing]) > 1.0)
