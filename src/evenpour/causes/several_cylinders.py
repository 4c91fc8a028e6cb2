"""One cause at several cylinders: which sets of cylinders are worth the work.

Dirt, water, standing and wear do not choose one cylinder. Where three or more have the same, neither one
cause nor two explain the readings; so each cause is laid on cylinder after cylinder, always where it helps
most, as if effects on the middle car added, and the likeliest sets are fitted with the model itself, the
severity at each cylinder free.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.explanation import Explanation
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Indices
from evenpour.causes.screening import Screen
from evenpour.causes.together import Tried

LEAST = 3  # cylinders; two of a kind are a pair
TRIED = 6  # sets fitted with the model
#: How far the severities go together: the parts of one engine have stood, run and been filled alike. Common
#: practice, no source.
ALIKE = 0.7
ALL = 0.5  # of the sets, the share that all cylinders at once have; common practice, no source
BEHIND = 10.0  # nat that a set may lie behind the best pair, or the best cause, as screened


#: Of the severities of its nodes, how little or much of all of them a set may begin with.
LEAST_OF_IT, MOST_OF_IT = 0.1, 1.5
UNFELT = 1.0  # squared noise widths by which a set moves all figures, from which those say how bad it is


@dataclass(frozen=True, slots=True)
class _Set:
    nodes: tuple[int, ...]
    part: float  # of its nodes' severities, what fits best
    score: float


def sets_worth(told: Explanation, seen: Screen, share: float, level: float) -> list[Tried]:
    """The sets worth a fit, the likeliest as screened first.

    Args:
        share: Of a cause of one cylinder, how often it is found at three cylinders or more.
        level: What the best pair, or the best cause, scores as screened.
    """
    found = [
        one
        for owners, sign in _alike(told)
        for one in _grown(told, seen, owners, sign, share)
        if one.score > level - BEHIND
    ]
    chosen = sorted(found, key=lambda one: -one.score)[:TRIED]
    return [_worth(told, one, share) for one in chosen]


def _alike(told: Explanation) -> Iterator[tuple[list[int], float]]:
    """The hypotheses of each cause that sits at a cylinder, all going one way: 1 or -1."""
    by_cause: dict[str, list[int]] = {}
    for h, one in enumerate(told.suspects):
        if one.cylinder is not None:
            by_cause.setdefault(one.id, []).append(h)
    for owners in by_cause.values():
        if len(owners) >= LEAST:
            yield owners, 1.0
            if told.hypotheses[owners[0]].edges[0] < 0.0:
                yield owners, -1.0


def _grown(
    told: Explanation, seen: Screen, owners: Sequence[int], sign: float, share: float
) -> Iterator[_Set]:
    """One set of each size from three on."""
    grid = told.fitted.grid
    cells = grid.faults.severity[:, 0] * sign > 0.0
    left = {h: np.flatnonzero((grid.owner == h) & cells) for h in owners}
    misfit, words = seen.misfit, 0.0
    effect = np.zeros_like(misfit)
    said = (seen.said - seen.said[0]).sum(axis=1)
    chosen: list[int] = []
    weight = 0.0
    while left:
        nodes: Indices = np.concatenate(list(left.values()))
        gains = said[nodes] - 0.5 * (np.sum((misfit - seen.effect[nodes]) ** 2, axis=1) - misfit @ misfit)
        node = int(nodes[np.argmax(gains + grid.log_weight[nodes])])
        chosen.append(node)
        misfit, words = misfit - seen.effect[node], words + float(said[node])
        effect += seen.effect[node]
        weight += float(grid.log_weight[node])
        del left[int(grid.owner[node])]
        if len(chosen) >= LEAST:
            # six leaks of the least cell may be far too much together: a little at each is what fits
            size = float(effect @ effect)
            part = 1.0  # as bad as words alone have it, where no figure feels it
            if size > UNFELT:
                part = float(np.clip(float(seen.misfit @ effect) / size, LEAST_OF_IT, MOST_OF_IT))
            fits = -0.5 * float(np.sum((seen.misfit - part * effect) ** 2))
            prior = _log_prior(told, owners, [int(grid.owner[one]) for one in chosen], share)
            yield _Set(tuple(chosen), part, fits + words + float(seen.said[0].sum()) + weight + prior)


def _log_prior(told: Explanation, owners: Sequence[int], which: Sequence[int], share: float) -> float:
    """Log prior of all cylinders, or of any other set, each as likely; less so where a part was renewed."""
    own = told.fitted.grid.log_prior
    others = sum(math.comb(len(owners), size) for size in range(LEAST, len(owners)))
    part = 1.0 if not others else ALL if len(which) == len(owners) else (1.0 - ALL) / others
    usual = float(np.median(own[owners]))
    renewed = math.fsum(min(float(own[h]) - usual, 0.0) for h in which)
    return float(log_sum(own[owners])) + math.log(share * part) + renewed


def _worth(told: Explanation, one: _Set, share: float) -> Tried:
    grid = told.fitted.grid
    nodes = sorted(one.nodes)
    which = tuple(int(grid.owner[node]) for node in nodes)
    edges = told.hypotheses[which[0]].edges
    whole = np.array([float(grid.faults.severity[node, 0]) for node in nodes])
    cell = (max(float(edges[0]), 0.0), float(edges[-1])) if whole[0] > 0.0 else (float(edges[0]), 0.0)
    start = tuple(float(each) for each in np.clip(one.part * whole, *cell))
    id_ = told.suspects[which[0]].id
    owners = [h for h, suspect in enumerate(told.suspects) if suspect.id == id_]
    ways = 2.0 if edges[0] < 0.0 else 1.0
    log_prior = _log_prior(told, owners, which, share) - math.log(ways)
    return Tried(which, log_prior, (tuple(cell for _ in which),), start, ALIKE)
