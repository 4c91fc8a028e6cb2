"""Why a cause is likely or not: what each check weighs for it, and what would be read if it were mended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.beyond_one import beyond_one
from evenpour.causes.explanation import BELIEVED, Explanation, strays
from evenpour.causes.felt import healthy
from evenpour.causes.fitted_again import without_checks
from evenpour.causes.laplace import Modes, local
from evenpour.causes.mended import mended
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.predictive import left_out
from evenpour.causes.problem import Array, Flags, Grid, Indices
from evenpour.causes.seen import log_likelihood
from evenpour.causes.seen import without as without_rows
from evenpour.causes.together import Jointly
from evenpour.causes.together_again import together_without_checks

#: Log odds from which a thing is as good as certain: how much farther they go hangs on how badly all else was
#: fitted, and nobody would bet on it.
CERTAIN = 12.0


def log_odds(weight: Array, own: Flags) -> Array:
    """Log odds of some of what has these log weights against all others, no farther than certain, (...).

    Args:
        weight: (R, ...).
        own: Which are meant, (R,).
    """
    odds = log_sum(weight[own], axis=0) - log_sum(weight[~own], axis=0)
    return np.clip(np.asarray(odds), -CERTAIN, CERTAIN)


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
        return np.asarray(log_odds(self.whole, own) - log_odds(self.without, own))


def evidence(told: Explanation, joint: Jointly) -> Evidence:
    """What speaks for what. The nodes that matter without a check are fitted again without it, so that
    leaving it out does change the odds by what it is said to weigh.
    """
    nodes = told.fitted.modes.log_evidence + strays(told.odd)
    several = joint.modes.log_evidence + strays(joint.odd)
    whole = _all_weights(told, joint, nodes, several)
    without = np.empty((len(whole), len(told.checks)))
    alone = without_checks(told)
    for g, (nodes, several) in enumerate(
        zip(alone, together_without_checks(told, joint, alone), strict=True)
    ):
        without[:, g] = _all_weights(told, joint, nodes, several)
    return Evidence(whole, without)


def weighs_at_once(told: Explanation, joint: Jointly, some: Sequence[int], checks: Sequence[int]) -> float:
    """What several checks weigh together for some causes against all others, [nat].

    Where several checks say the same, each of them weighs little while the others are in place. Nothing is
    fitted again: what they read is foreseen, at every node, from all other checks.

    Args:
        some: By their places as :class:`Evidence` has them.
        checks: By their numbers among the explanation's checks.
    """
    gone = told.checks[list(checks)]
    rows = np.flatnonzero(np.isin(told.seen.columns.check, gone))
    others = [d for d, one in enumerate(told.doubts) if one.check not in gone]
    whole, without = [], []
    for modes, odd in ((told.fitted.modes, told.odd), (joint.modes, joint.odd)):
        whole.append(modes.log_evidence + strays(odd))
        more = strays(np.minimum(odd[:, others], BELIEVED))
        without.append(_foreseen_without(told, modes, rows) + more if len(modes) else more)
    found = Evidence(_all_weights(told, joint, *whole), _all_weights(told, joint, *without)[:, None])
    return float(found.weighs(some)[0])


def _foreseen_without(told: Explanation, modes: Modes, rows: Indices) -> Array:
    """Log evidence of every node without some readings, as foreseen from where it is, (N,)."""
    if len(rows) == len(told.seen.columns):
        return np.zeros(len(modes))
    foreseen = left_out(told.noise, local(told.noise, modes), modes.f, [rows]).log_density[:, 0]
    found, sure = modes.log_evidence - foreseen, modes.arrived
    if not sure.any():
        return np.asarray(found)
    # what was not brought to its mode comes no nearer to the best than it was
    behind = np.maximum(modes.log_evidence[sure].max() - modes.log_evidence, 0.0)
    return np.asarray(np.where(sure, found, np.minimum(found, found[sure].max() - behind)))


def better_than_sound(told: Explanation, car: Array) -> Array:
    """By how much likelier a car makes each check than the one with nothing wrong that fits best does, [nat],
    (G,).

    Args:
        car: All its columns, as compared, (M,).
    """
    sound, check = as_it_is(told, 0), told.seen.columns.check
    found = np.empty(len(told.checks))
    for g, its in enumerate(told.checks):
        own = without_rows(told.noise, check != its)
        found[g] = log_likelihood(own, car) - log_likelihood(own, sound)
    return found


def _all_weights(told: Explanation, joint: Jointly, nodes: Array, several: Array) -> Array:
    """Log weight of every hypothesis and then of every set, from the log evidence of their nodes, (R,)."""
    grid = told.fitted.grid
    alone, at_once = _weights(grid, nodes), _weights(joint.severe.grid, several)
    return np.concatenate([alone, beyond_one(alone, grid.log_prior, joint.tried, at_once)])


def _weights(grid: Grid, nodes: Array) -> Array:
    """Log weight of every owner from its nodes' log evidence, (H,)."""
    return grid.log_prior + log_sum_by(grid.log_weight + nodes, grid.owner, len(grid.log_prior))


def if_mended(told: Explanation, owner: int) -> Array:
    """What every column would read on the same car with this cause mended, as compared, (M,)."""
    rows = np.flatnonzero(told.severe.grid.owner == owner)
    best = rows[np.argmax(told.node_weight[rows])]
    z = told.severe.spread * told.fitted.modes.z[best : best + 1, : told.severe.d]
    return np.asarray(mended(told, (owner,))(healthy(1), z)[0])


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
