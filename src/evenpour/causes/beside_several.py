"""One cause at several cylinders and another cause beside it: which are worth the work.

Standing for years clogs all injectors, and the same car's pressure is off besides. Sets are grown on the cars
of the likeliest causes, and every cause is laid on the cars of the likeliest sets, with the model itself:
what several cylinders do and what another cause does hardly ever add. Two causes each at several cylinders
are not tried.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from evenpour.causes.beside_one import Laid, laid_on
from evenpour.causes.explanation import Explanation
from evenpour.causes.problem import Array, Faults
from evenpour.causes.screening import Screen
from evenpour.causes.several_cylinders import (
    ALIKE,
    LEAST,
    Grown,
    begun,
    by_cause,
    cell_weight,
    going_alike,
    grown,
    log_prior,
    way_of,
    worth,
)
from evenpour.causes.tried import PAIR, Tried
from evenpour.causes.two_faults import Beside, log_odds_beside, log_priors, may_meet

SETS, OTHERS = 6, 4  # likeliest sets that are taken as true, of a cause each, and causes looked at on each
TRIED, OF_A_KIND = 12, 4  # sets with another cause that are fitted with the model, and those of one cause
BEHIND = 10.0  # nat that one may lie behind the best of all, as screened
FIRST_BEHIND = 100.0  # the same of the likeliest set of each cause: gross faults hardly add
CROSSED = 4  # the likeliest of those sets, and of those causes, of which each is tried with each


@dataclass(frozen=True, slots=True)
class _Found:
    """A set with a node of another cause, and what both score as screened."""

    grown: Grown
    node: int
    score: float


@dataclass(frozen=True, slots=True)
class _Priors:
    """How often a cause sits at several cylinders, and another beside it.

    Attributes:
        of: Of each hypothesis at a cylinder, all of its cause.
        share: Of a cause of one cylinder, how often it is found at three cylinders or more.
        two: Log prior of every two hypotheses, (H, H).
        other: Log odds of each, that it stands beside what is wrong already, (H,).
    """

    of: Mapping[int, Sequence[int]]
    share: float
    two: Array
    other: Array

    def of_set(self, told: Explanation, which: Sequence[int]) -> float:
        """Log prior of one cause at several cylinders."""
        if len(which) == PAIR:
            return float(self.two[which[0], which[1]])
        return log_prior(told, self.of[which[0]], self.share, which)


def sets_beside_one(
    told: Explanation,
    seen: Screen,
    on: Mapping[int, Laid],
    share: float,
    pairs: float,
    beside: Beside | None,
    sets: Sequence[Tried],
    level: float,
) -> list[Tried]:
    """The sets with another cause that are worth a fit, the likeliest as screened first; what those are
    without it, and *sets*; and all of these with what may be so beside any.

    Args:
        seen: Every node on the middle car.
        on: The cars of the likeliest causes, each by its node.
        share: Of a cause of one cylinder, how often it is found at three cylinders or more.
        pairs: Where something is wrong, how likely it is two causes at once, all together.
        beside: What may be so beside any other.
        sets: Those without another cause that are tried anyway.
        level: What the best pair, or the best cause, scores as screened.
    """
    prior = _Priors(
        {h: owners for owners, _ in by_cause(told) for h in owners},
        share,
        log_priors(told, pairs, beside),
        log_odds_beside(told, pairs, beside),
    )
    found = [*_grown_on(told, on, prior, beside), *_laid_on_sets(told, seen, prior, beside)]
    found.sort(key=lambda one: -one.score)
    top = max(found[0].score, level + seen.log_scale) if found else 0.0
    chosen: dict[tuple[int, ...], Tried] = {}
    alone = {one.which: one for one in sets}
    of_kind = Counter[str]()
    grown_as: dict[tuple[int, ...], Grown] = {}
    others: dict[int, int] = {}
    for one in found:
        its = _worth(told, one, prior, beside)
        kind = told.suspects[its.which[0]].id
        behind = BEHIND if of_kind[kind] else FIRST_BEHIND
        if one.score < top - behind or len(chosen) == TRIED:
            continue
        if its.which in chosen or of_kind[kind] == OF_A_KIND:
            continue
        chosen[its.which] = its
        of_kind[kind] += 1
        grown_as.setdefault(its.which[:-1], one.grown)
        others.setdefault(its.which[-1], one.node)
        if len(its.which) > LEAST:
            alone.setdefault(its.which[:-1], worth(told, one.grown, share))
    for some, node in itertools.product([*grown_as.values()][:CROSSED], [*others.values()][:CROSSED]):
        its = _worth(told, _Found(some, node, top), prior, beside)
        if all(_meet(told, h, its.which[-1]) for h in its.which[:-1]):
            chosen.setdefault(its.which, its)  # each screened well with something
    more = [] if beside is None else [_with(told, one, beside) for one in (*chosen.values(), *alone.values())]
    return [*chosen.values(), *alone.values(), *filter(None, more)]


def _with(told: Explanation, one: Tried, beside: Beside) -> Tried | None:
    """The same, and what may be so beside any; None where it is that already, or may not meet one of them."""
    if beside.which in one.which or not all(may_meet(told, h, beside.which) for h in one.which):
        return None
    start = one.start
    assert start is not None
    return Tried(
        (*one.which, beside.which),
        one.log_prior + beside.log_odds,
        tuple((*cells, beside.cell) for cells in one.cells),
        (*start, sum(beside.cell) / 2.0),
        one.alike,
        fewer=tuple(_and(less, beside.which) for less in one.fewer),
    )


def _and(some: tuple[int, ...], other: int) -> tuple[int, ...]:
    """Some hypotheses and another, as a set of them is known: two in their order, the other behind more."""
    return (*some, other) if len(some) > 1 else (min(*some, other), max(*some, other))


def _grown_on(
    told: Explanation, on: Mapping[int, Laid], prior: _Priors, beside: Beside | None
) -> Iterator[_Found]:
    """Sets on the cars of the likeliest causes."""
    grid = told.fitted.grid
    for node, car in on.items():
        other, seen = int(grid.owner[node]), car.screen(told.noise)
        if not _is_so(told, node, beside):
            continue
        own = float(prior.other[other] + grid.log_weight[node]) + seen.log_scale
        for owners, sign in by_cause(told):
            some = [h for h in owners if _meet(told, h, other)]
            sets = grown(told, seen, some, sign, partial(prior.of_set, told), PAIR)
            yield from (_Found(one, node, one.score + own) for one in sets)


def _laid_on_sets(told: Explanation, seen: Screen, prior: _Priors, beside: Beside | None) -> Iterator[_Found]:
    """Other causes on the cars of the likeliest sets, and of all cylinders: what those do adds least."""
    grid, slopes = told.fitted.grid, told.fitted.modes.J[0, : told.severe.d]
    every = [
        [*grown(told, seen, owners, sign, partial(prior.of_set, told), PAIR)]
        for owners, sign in by_cause(told)
    ]
    every.sort(key=lambda some: -max(one.score for one in some))
    laid = {some.nodes: some for sets in every[:SETS] for some in (max(sets, key=_score), sets[-1])}
    meant = np.array([_is_so(told, node, beside) for node in range(len(grid))])
    for one in laid.values():
        which, _, start, _ = begun(told, one)
        under = Faults(np.array([which]), np.array([start]))
        density = laid_on(told, under, np.zeros(told.severe.d), slopes).log_density(told.noise)
        density = np.where(meant, density + grid.log_weight + prior.other[grid.owner], -np.inf)
        log = prior.of_set(told, which) + cell_weight(told, one.nodes)
        nodes = [
            int(node)
            for node in grid.best_of_each(density - grid.log_weight)
            if all(_meet(told, h, int(grid.owner[node])) for h in which)
        ]
        for node in sorted(nodes, key=lambda node: -density[node])[:OTHERS]:
            yield _Found(one, node, float(density[node]) + log)


def _is_so(told: Explanation, node: int, beside: Beside | None) -> bool:
    """Whether a node may stand beside others: what may be so beside anything, only as it then is."""
    grid = told.fitted.grid
    return beside is None or grid.owner[node] != beside.which or grid.low[node, 0] == beside.cell[0]


def _meet(told: Explanation, h: int, other: int) -> bool:
    """Whether one of a set may have another cause beside it."""
    one = told.suspects[other]
    return one.cause is not None and one.id != told.suspects[h].id and may_meet(told, h, other)


def _score(one: Grown) -> float:
    return one.score


def _worth(told: Explanation, one: _Found, prior: _Priors, beside: Beside | None) -> Tried:
    which, cells, start, share = begun(told, one.grown)
    grid = told.fitted.grid
    other, severity = int(grid.owner[one.node]), float(grid.faults.severity[one.node, 0])
    log = prior.of_set(told, which) + float(prior.other[other])
    if beside is not None and other == beside.which:
        cell = beside.cell
    else:
        cell, its = way_of(told, other, severity)
        log += its
    two = len(which) == PAIR
    # two of a kind go each their own way, as pairs do; more go together
    log += share * (2.0 if two else 1.0)
    fewer = [which, (other,), *([_and((h,), other) for h in which] if two else [])]
    if beside is not None and other == beside.which:  # it is one thing, whatever is beside it
        fewer = [one for one in fewer if two and other in one and len(one) > 1]
    return Tried(
        (*which, other),
        log,
        ((*cells, cell),) * (1 if two else len(ALIKE)),
        (*start, severity),
        () if two else going_alike(which),
        fewer=tuple(fewer),
    )
