"""Two causes at once: which pairs are worth the work, and how likely they are.

There are tens of thousands; nearly all can be seen to be hopeless from what each of the two does alone. All
are screened at all severities, in the space of what is compared, as if their effects on the middle car added;
the best are then fitted with the model itself, each on a small grid of both severities.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.choice_line import lines_of
from evenpour.causes.explanation import (
    BELIEVED,
    SUSPECTED,
    Explanation,
    foreseen_at,
    odds_of,
    strays,
)
from evenpour.causes.fitting import Fitted
from evenpour.causes.laplace import Modes, begin, settle
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.problem import Array, Faults, Grid, Indices
from evenpour.causes.seen import Noise, without
from evenpour.causes.severe import Severe

#: How much oftener the same cause is at another cylinder too than by chance: dirt and wear do not choose one.
#: Common practice, no source.
AGAIN = 10.0
TRIED = 24  # pairs fitted with the model
FAR = 1e6  # noise widths, beyond which nothing is told apart
STILL = 1e-9  # of a word's margin, that a cause moves it by
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


@dataclass(frozen=True, slots=True)
class Doubles:
    """The pairs worth considering, and where they were fitted.

    Attributes:
        severe: The model at the pairs' nodes; the owner of a node is a pair by its place in *pairs*.
        odd: Log odds of each doubt of the explanation, at each node: (N, D).
    """

    pairs: tuple[Pair, ...]
    severe: Severe
    modes: Modes
    odd: Array

    @property
    def node_share(self) -> Array:
        """Of every node within its pair, (N,)."""
        grid = self.severe.grid
        log = grid.log_weight + self.modes.log_evidence + strays(self.odd)
        whole = log_sum_by(log, grid.owner, len(self.pairs))
        return np.asarray(np.exp(log - whole[grid.owner]))


def pairs(told: Explanation, prior: float) -> Doubles:
    """The pairs worth considering, with their weights on the scale of ``log prior + log evidence`` of the
    singles. Under two causes, too, one check may not belong.

    Args:
        prior: How likely two causes at once are, against one alone, all together.
    """
    chosen = _screened(told, prior) if len(told.noise.columns) else []
    grid, log_prior = _grid(told, chosen, prior)
    severe = Severe(told.model, grid, told.severe.d, told.severe.spread, told.severe.felt)
    if not chosen:
        none = np.zeros(0, dtype=np.int64)
        return Doubles((), severe, told.fitted.modes.take(none), np.zeros((0, len(told.doubts))))
    modes, odd = _fitted(told, severe, chosen)
    weight = log_prior + log_sum_by(
        grid.log_weight + modes.log_evidence + strays(odd), grid.owner, len(chosen)
    )
    found = tuple(
        Pair(first, second, float(weight[number]), _severities(severe, modes, odd, number))
        for number, (first, second) in enumerate(chosen)
    )
    return Doubles(found, severe, modes, odd)


def _best(told: Explanation, modes: Modes) -> Indices:
    """Every hypothesis's best node, (H,)."""
    grid = told.fitted.grid
    order = np.lexsort((grid.log_weight + modes.log_evidence, grid.owner))
    return np.asarray(order[np.flatnonzero(np.diff(grid.owner[order], append=-1))])


def _screened(told: Explanation, prior: float) -> list[tuple[int, int]]:
    """Pairs in order of their screened weight: each at the two severities that together do best."""
    grid = told.fitted.grid
    nodes = np.arange(len(grid))
    f = told.severe.predict(nodes, np.zeros((len(nodes), told.severe.size)))
    own = grid.log_prior[grid.owner] + grid.log_weight
    score = _of_figures(told, f) + _of_words(told, f) + own[:, None] + own + np.log(prior)
    first = np.flatnonzero(np.diff(grid.owner, prepend=-1))
    best = np.maximum.reduceat(np.maximum.reduceat(score, first, axis=0), first, axis=1)
    best = best + _together(told)
    one, two = np.triu_indices(len(best), 1)
    chosen: list[tuple[int, int]] = []
    for at in np.argsort(-best[one, two], kind="stable"):
        pair = int(one[at]), int(two[at])
        if all(told.suspects[h].cause is not None for h in pair) and _may_meet(told, *pair):
            chosen.append(pair)
            if len(chosen) == TRIED:
                break
    return chosen


def _together(told: Explanation) -> Array:
    """Log of how much oftener two causes come together than by chance, (H, H)."""
    causes = np.unique([one.id for one in told.suspects], return_inverse=True)[1]
    return np.where(causes[:, None] == causes, np.log(AGAIN), 0.0)


def _of_figures(told: Explanation, f: Array) -> Array:
    """Log density of all numbers, up to a constant, under every two nodes whose effects add, (N, N)."""
    noise = told.noise
    number = noise.number
    column = noise.columns.column[number]
    scale = noise.per_sd[number]
    A = told.fitted.modes.J[0][:, column] * scale
    B = A.T @ A + WIDER * noise.correlation[np.ix_(number, number)]
    effect = np.clip((f[:, column] - f[0, column]) * scale, -FAR, FAR)
    rest = np.clip((noise.columns.y[number] - f[0, column]) * scale, -FAR, FAR)
    white = np.linalg.solve(np.linalg.cholesky(B), np.vstack([rest, effect]).T).T
    rest, effect = white[0], white[1:]
    size, toward = np.sum(effect**2, axis=1), effect @ rest
    # |rest - a - b|^2, without the part that all share
    miss = (size - 2.0 * toward)[:, None] + (size - 2.0 * toward) + 2.0 * effect @ effect.T
    return np.asarray(-0.5 * miss)


def _of_words(told: Explanation, f: Array) -> Array:
    """Log probability of all words under every two nodes whose effects add, (N, N)."""
    noise = told.noise
    found = np.zeros((len(f), len(f)))
    for row in noise.choice:
        column = noise.columns.column[row]
        line = noise.columns.choices[row]
        assert line is not None
        open_ = float(np.sum(told.fitted.modes.J[0][:, column] ** 2))
        one = lines_of([line])
        margin, effect = f[:, column], f[:, column] - f[0, column]
        alone = one.log_chosen(margin[:, None], open_)[:, 0]
        found += alone[:, None] + alone - alone[0]  # where one of the two moves it
        both = np.flatnonzero(np.abs(effect) > STILL)
        if len(both):
            together = margin[both][:, None] + effect[both]
            exact = one.log_chosen(together[..., None], open_)[..., 0]
            found[np.ix_(both, both)] += exact - (alone[both][:, None] + alone[both] - alone[0])
    return found


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
    edges = np.array(cells).reshape(-1, 4)
    counts = np.bincount(owner, minlength=len(chosen))
    singles = told.fitted.grid
    each = singles.log_prior[:, None] + singles.log_prior + _together(told)
    log_prior = np.array([each[a, b] for a, b in chosen])
    # two at once has its own share; the pairs' products are its parts
    causes = [h for h, one in enumerate(told.suspects) if one.cause is not None]
    one, two = np.triu_indices(len(causes), 1)
    whole = log_sum(each[np.ix_(causes, causes)][one, two])
    log_prior = log_prior - whole + np.log(prior) + log_sum(singles.log_prior[causes])
    names = tuple(f"{singles.name[a]} and {singles.name[b]}" for a, b in chosen)
    grid = Grid(
        faults=Faults(
            np.array(first, dtype=np.int64),
            edges[:, :2].mean(axis=1),
            np.array(second, dtype=np.int64),
            edges[:, 2:].mean(axis=1),
        ),
        owner=np.array(owner, dtype=np.int64),
        log_weight=-np.log(counts[np.array(owner, dtype=np.int64)]),
        low=edges[:, 0],
        high=edges[:, 1],
        second_low=edges[:, 2],
        second_high=edges[:, 3],
        log_prior=log_prior,
        remedy=tuple(" and ".join(sorted({singles.remedy[a], singles.remedy[b]})) for a, b in chosen),
        name=names,
    )
    return grid, log_prior


def _cells(told: Explanation, owner: int) -> list[tuple[float, float]]:
    edges = told.hypotheses[owner].edges
    ends = np.linspace(edges[0], edges[-1], (2 * HALVES if edges[0] < 0.0 else HALVES) + 1)
    return [(float(low), float(high)) for low, high in itertools.pairwise(ends)]


def _fitted(told: Explanation, severe: Severe, chosen: Sequence[tuple[int, int]]) -> tuple[Modes, Array]:
    """Fit all nodes of the pairs, and again without what may well not belong; and their odds."""
    alone = told.fitted.modes.log_evidence + strays(told.odd)
    modes = _settled(told, severe, chosen, told.noise, told.fitted, alone)
    # from a place that a check pulls at, no more is foreseen without it than can be believed
    odd = np.minimum(odds_of(told.doubts, foreseen_at(told.noise, modes, told.doubts)), BELIEVED)
    likely = told.is_true
    for d, anew in told.again.items():
        if likely[d] >= SUSPECTED:
            doubt = told.doubts[d]
            rest = without(told.noise, doubt.gone(len(told.noise.columns)))
            its = _settled(told, severe, chosen, rest, anew, anew.modes.log_evidence)
            odd[:, d] = doubt.log_flat + its.log_evidence - modes.log_evidence
    odd[:, np.isneginf(told.odd).all(axis=0)] = -np.inf  # what is taken to belong does so under pairs
    return modes, odd


def _settled(
    told: Explanation,
    severe: Severe,
    chosen: Sequence[tuple[int, int]],
    noise: Noise,
    alone: Fitted,
    weight: Array,
) -> Modes:
    """All nodes of the pairs, from where the likelier of the two sits alone; the likely ones to the end.

    Args:
        alone: The single hypotheses on the same readings.
        weight: Log evidence of their nodes, with whatever else counts for them, (N,).
    """
    grid, singles = severe.grid, alone.grid
    best = _best(told, alone.modes)
    own = singles.log_prior + alone.log_evidence
    starts = np.array([best[a] if own[a] > own[b] else best[b] for a, b in chosen], dtype=np.int64)
    z = alone.modes.z[starts][grid.owner].copy()
    z[:, severe.d :] = 0.0
    nodes: Indices = np.arange(len(grid))
    f = severe.predict(nodes, z)
    J = alone.modes.J[starts][grid.owner].copy()
    _slopes_of_severities(severe, nodes, z, J)
    rough = Modes(z, f, J, z.copy(), np.full(len(z), -np.inf), np.zeros(len(z), dtype=bool))
    rough = settle(noise, severe.predict, nodes, rough, renew=np.inf, most=3)
    log = grid.log_prior[grid.owner] + grid.log_weight + rough.log_evidence
    level = max(
        float(log.max()), float((singles.log_prior[singles.owner] + singles.log_weight + weight).max())
    )
    alive = np.flatnonzero(log > level - FOLLOWED)
    if len(alive):
        fresh = begin(severe.predict, alive, rough.z[alive], severe.moving)
        rough.put(alive, settle(noise, severe.predict, alive, fresh, most=5, moving=severe.moving))
    return rough


def _slopes_of_severities(severe: Severe, nodes: Indices, z: Array, J: Array) -> None:
    for column in (severe.d, severe.d + 1):
        shift = np.zeros(severe.size)
        shift[column] = 0.5
        J[:, column] = severe.predict(nodes, z + shift) - severe.predict(nodes, z - shift)


def _severities(severe: Severe, modes: Modes, odd: Array, number: int) -> tuple[float, float]:
    rows = np.flatnonzero(severe.grid.owner == number)
    best = rows[np.argmax(modes.log_evidence[rows] + strays(odd[rows]))]
    faults = severe.faults(np.array([best]), modes.z[best : best + 1])
    return abs(float(faults.first_severity[0])), abs(float(faults.second_severity[0]))
