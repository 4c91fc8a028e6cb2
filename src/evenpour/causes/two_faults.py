"""Two causes at once: which pairs are worth the work, and how likely they are.

There are thousands; nearly all can be seen to be hopeless from what each of the two does alone. Pairs are
screened in the space of what is compared, as if their effects added to the healthy car's fit, and the best
are then fitted with the model itself, each on a small grid of both severities.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.explanation import Explanation
from evenpour.causes.fitting import Fitted, summed
from evenpour.causes.laplace import Modes, begin, settle
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Array, Faults, Grid, Indices
from evenpour.causes.severe import Severe

TRIED = 24  # pairs fitted with the model
PARTNERS = 20  # singles of which one must be in every pair
HALVES = 2  # cells of each severity
FOLLOWED = 9.0  # nat behind the best of all, within which a node of a pair is followed to the end
WIDER = 1.5  # on the noise's variance while screening, since effects do not quite add


@dataclass(frozen=True, slots=True)
class Pair:
    """Two hypotheses by number, and the log of their joint weight against the singles' own scale."""

    first: int
    second: int
    log_weight: float
    severities: tuple[float, float]


def pairs(told: Explanation, prior: float) -> list[Pair]:
    """The pairs worth considering, with their weights on the scale of ``log prior + log evidence`` of the
    singles.

    Args:
        prior: How likely two causes at once are, against one alone, all together.
    """
    chosen = _screened(told, prior)
    if not chosen:
        return []
    grid, log_prior = _grid(told, chosen, prior)
    severe = Severe(told.model, grid, told.severe.d, told.severe.spread, told.severe.felt)
    found = _fitted(told, severe, chosen)
    weight = log_prior + found.log_evidence
    return [
        Pair(first, second, float(weight[number]), _severities(severe, found, number))
        for number, (first, second) in enumerate(chosen)
    ]


def _alone(told: Explanation) -> tuple[Indices, Array]:
    """Every hypothesis's best node and what it does there to the healthy car's readings, (H,), (H, M)."""
    grid, modes = told.fitted.grid, told.fitted.modes
    count = len(grid.log_prior)
    best = np.zeros(count, dtype=np.int64)
    for owner in range(count):
        rows = np.flatnonzero(grid.owner == owner)
        best[owner] = rows[np.argmax(grid.log_weight[rows] + modes.log_evidence[rows])]
    still = np.zeros((count, told.severe.size))
    still[:, told.severe.d :] = modes.z[best][:, told.severe.d :]
    moved = told.severe.predict(best, still)
    return best, moved - moved[0]


def _screened(told: Explanation, prior: float) -> list[tuple[int, int]]:
    """Pairs in order of their screened weight; one member always among the likeliest singles."""
    noise, modes = told.noise, told.fitted.modes
    number = noise.number
    column = noise.columns.column[number]
    scale = noise.per_sd[number]
    _, moved = _alone(told)
    effect = moved[:, column] * scale
    A = modes.J[0][:, column] * scale
    B = A.T @ A + WIDER * noise.correlation[np.ix_(number, number)]
    start = told.severe.predict(np.zeros(1, dtype=np.int64), np.zeros((1, told.severe.size)))[0]
    rest = (noise.columns.y[number] - start[column]) * scale
    inverse = np.linalg.inv(B)
    log_prior = told.fitted.grid.log_prior
    whole = log_prior + told.fitted.log_evidence
    causes = [h for h, one in enumerate(told.suspects) if one.cause is not None]
    likely = sorted(causes, key=lambda h: -whole[h])[:PARTNERS]
    found: list[tuple[float, int, int]] = []
    for first in likely:
        left = rest - effect[first] - effect
        miss = np.einsum("hm,mk,hk->h", left, inverse, left)
        score = -0.5 * miss + log_prior[first] + log_prior + np.log(prior)
        for second in causes:
            if second != first and _may_meet(told, first, second):
                a, b = min(first, second), max(first, second)
                found.append((float(score[second]), a, b))
    chosen: dict[tuple[int, int], None] = {}
    for _, a, b in sorted(found, reverse=True):
        chosen.setdefault((a, b))
        if len(chosen) == TRIED:
            break
    return list(chosen)


def _may_meet(told: Explanation, first: int, second: int) -> bool:
    """Whether two causes can be wrong at once: not the two ends of one setting, nor one part's two ways."""
    one, two = told.suspects[first], told.suspects[second]
    assert one.cause is not None
    assert two.cause is not None
    touched = {act.parameter for form in one.cause.forms for act in form}
    also = {act.parameter for form in two.cause.forms for act in form}
    same_place = one.cylinder == two.cylinder or one.cylinder is None or two.cylinder is None
    return not (touched & also and same_place)


def _grid(told: Explanation, chosen: Sequence[tuple[int, int]], prior: float) -> tuple[Grid, Array]:
    first: list[int] = []
    second: list[int] = []
    owner: list[int] = []
    cells: list[tuple[float, float, float, float]] = []
    for number, (a, b) in enumerate(chosen):
        for low, high in _cells(told, a):
            for second_low, second_high in _cells(told, b):
                first.append(a)
                second.append(b)
                owner.append(number)
                cells.append((low, high, second_low, second_high))
    edges = np.array(cells)
    counts = np.bincount(owner)
    singles = told.fitted.grid
    log_prior = np.array([singles.log_prior[a] + singles.log_prior[b] for a, b in chosen])
    # two at once has its own share; the pairs' products are its parts
    causes = [h for h, one in enumerate(told.suspects) if one.cause is not None]
    whole = 2.0 * log_sum(singles.log_prior[causes]) - np.log(2.0)
    log_prior = log_prior - whole + np.log(prior) + log_sum(singles.log_prior[causes])
    names = tuple(f"{singles.name[a]} and {singles.name[b]}" for a, b in chosen)
    grid = Grid(
        faults=Faults(
            np.array(first), edges[:, :2].mean(axis=1), np.array(second), edges[:, 2:].mean(axis=1)
        ),
        owner=np.array(owner),
        log_weight=-np.log(counts[owner]),
        low=edges[:, 0],
        high=edges[:, 1],
        second_low=edges[:, 2],
        second_high=edges[:, 3],
        log_prior=log_prior,
        remedy=names,
        name=names,
    )
    return grid, log_prior


def _cells(told: Explanation, owner: int) -> list[tuple[float, float]]:
    edges = told.hypotheses[owner].edges
    ends = np.linspace(edges[0], edges[-1], (2 * HALVES if edges[0] < 0.0 else HALVES) + 1)
    return [(float(low), float(high)) for low, high in itertools.pairwise(ends)]


def _fitted(told: Explanation, severe: Severe, chosen: Sequence[tuple[int, int]]) -> Fitted:
    """Fit all nodes of the pairs from where the likelier of the two sits alone."""
    singles, modes = told.fitted.grid, told.fitted.modes
    best, _ = _alone(told)
    weight = singles.log_prior + told.fitted.log_evidence
    starts = [best[a] if weight[a] > weight[b] else best[b] for a, b in chosen]
    z = modes.z[np.array(starts)][severe.grid.owner].copy()
    z[:, severe.d :] = 0.0
    nodes: Indices = np.arange(len(severe.grid))
    f = severe.predict(nodes, z)
    J = modes.J[np.array(starts)][severe.grid.owner].copy()
    _slopes_of_severities(severe, nodes, z, J)
    rough = Modes(z, f, J, z.copy(), np.full(len(z), -np.inf), np.zeros(len(z), dtype=bool))
    rough = settle(told.noise, severe.predict, nodes, rough, renew=np.inf, most=3)
    log = severe.grid.log_prior[severe.grid.owner] + severe.grid.log_weight + rough.log_evidence
    level = max(float(log.max()), float((singles.log_prior + told.fitted.log_evidence).max()))
    alive = np.flatnonzero(log > level - FOLLOWED)
    if len(alive):
        fresh = begin(severe.predict, alive, rough.z[alive], severe.moving)
        rough.put(alive, settle(told.noise, severe.predict, alive, fresh, most=5, moving=severe.moving))
    return summed(severe.grid, rough)


def _slopes_of_severities(severe: Severe, nodes: Indices, z: Array, J: Array) -> None:
    for column in (severe.d, severe.d + 1):
        shift = np.zeros(severe.size)
        shift[column] = 0.5
        J[:, column] = severe.predict(nodes, z + shift) - severe.predict(nodes, z - shift)


def _severities(severe: Severe, found: Fitted, number: int) -> tuple[float, float]:
    rows = np.flatnonzero(severe.grid.owner == number)
    best = rows[np.argmax(found.modes.log_evidence[rows])]
    faults = severe.faults(np.array([best]), found.modes.z[best : best + 1])
    return abs(float(faults.first_severity[0])), abs(float(faults.second_severity[0]))
