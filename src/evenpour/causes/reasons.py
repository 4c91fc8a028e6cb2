"""Why a cause is likely or not: what each check weighs for it, and what would be read if it were mended."""

from __future__ import annotations

import numpy as np

from evenpour.causes.explanation import Explanation, strays
from evenpour.causes.felt import healthy
from evenpour.causes.fitted_again import without_checks
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.problem import Array, Grid
from evenpour.causes.together import Jointly
from evenpour.causes.together_again import together_without_checks


def weights_of_evidence(told: Explanation, joint: Jointly) -> Array:
    """What every check weighs for every hypothesis, and then for every set of them at once, against all
    others, [nat], (H + P, G).

    The log odds with all readings less the log odds without that check's. The nodes that matter without it
    are fitted again without it, so that leaving it out does change the odds by just that. What the checks
    weigh, each with all others in place, need not add up.
    """
    grid, at_once = told.fitted.grid, joint.severe.grid
    whole = _log_odds(
        _weights(grid, told.fitted.modes.log_evidence + strays(told.odd)),
        _weights(at_once, joint.modes.log_evidence + strays(joint.odd)),
    )
    found = np.empty((len(whole), len(told.checks)))
    singles = without_checks(told)
    together = together_without_checks(told, joint)
    for g, (nodes, several) in enumerate(zip(singles, together, strict=True)):
        found[:, g] = whole - _log_odds(_weights(grid, nodes), _weights(at_once, several))
    return found


def _weights(grid: Grid, nodes: Array) -> Array:
    """Log weight of every owner from its nodes' log evidence, (H,)."""
    return grid.log_prior + log_sum_by(grid.log_weight + nodes, grid.owner, len(grid.log_prior))


def _log_odds(*weights: Array) -> Array:
    """Log odds of each from the log weights of all."""
    each = np.concatenate(weights)
    share = np.clip(np.exp(each - log_sum(each)), 1e-300, 1.0)
    return np.asarray(np.log(share) - np.log(np.maximum(1.0 - share, 1e-300)))


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
