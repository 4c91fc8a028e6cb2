"""One cause at several cylinders: which sets of cylinders are worth the work.

Dirt, water, standing and wear do not choose one cylinder. Where three or more have the same, neither one
cause nor two explain the readings; so each cause is laid on cylinder after cylinder, always where it helps
most, as if effects on the middle car added, and the likeliest sets are fitted with the model itself, the
severity at each cylinder free.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from evenpour.causes.explanation import Explanation
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Indices
from evenpour.causes.screening import Screen
from evenpour.causes.suspects import log_share
from evenpour.causes.tried import Tried

#: Log prior of a set of hypotheses, by number, on the scale of the single ones'.
LogPrior = Callable[[Sequence[int]], float]

LEAST = 3  # cylinders; two of a kind are a pair
TRIED = 6  # sets fitted with the model
#: Beside those the best set of so many causes more, if it lies no further behind the best of all, [nat]: the
#: sizes of one cause's sets, and what shows alike, would else crowd out one that fits as well.
MORE, NEAR = 3, 6.0
#: How far the severities go together: the parts of one engine have stood, run and been filled alike; or one
#: hand has set or fitted them all. As often the one as the other; common practice, no source.
ALIKE = (0.7, 0.98)
ALL = 0.5  # of the sets, the share that all cylinders at once have; common practice, no source
BEHIND = 10.0  # nat that a set may lie behind the best pair, or the best cause, as screened


#: Of the severities of its nodes, how little or much of all of them a set may begin with.
LEAST_OF_IT, MOST_OF_IT = 0.1, 1.5
UNFELT = 1.0  # squared noise widths by which a set moves all figures, from which those say how bad it is


@dataclass(frozen=True, slots=True)
class Grown:
    """One cause laid on several cylinders.

    Attributes:
        nodes: One of each cylinder.
        part: Of those nodes' severities, what fits best.
        score: As screened, its prior counted in.
    """

    nodes: tuple[int, ...]
    part: float
    score: float


def sets_worth(told: Explanation, seen: Screen, share: float, level: float) -> list[Tried]:
    """The sets worth a fit, the likeliest as screened first.

    Args:
        share: Of a cause of one cylinder, how often it is found at three cylinders or more.
        level: What the best pair, or the best cause, scores as screened.
    """
    found = [
        one
        for owners, sign in by_cause(told)
        for one in grown(told, seen, owners, sign, partial(log_prior, told, owners, share))
        if one.score > level - BEHIND
    ]
    ranked = sorted(found, key=lambda one: -one.score)
    owner, best = told.fitted.grid.owner, dict[str, Grown]()  # of each cause that is not among the first
    among = {told.suspects[int(owner[one.nodes[0]])].id for one in ranked[:TRIED]}
    for one in ranked[TRIED:]:
        id_ = told.suspects[int(owner[one.nodes[0]])].id
        if id_ not in among and one.score > ranked[0].score - NEAR:
            best.setdefault(id_, one)
    return [worth(told, one, share) for one in (*ranked[:TRIED], *list(best.values())[:MORE])]


def by_cause(told: Explanation) -> Iterator[tuple[list[int], float]]:
    """The hypotheses of each cause that sits at a cylinder, all going one way: 1 or -1."""
    found: dict[str, list[int]] = {}
    for h, one in enumerate(told.suspects):
        if one.cylinder is not None:
            found.setdefault(one.id, []).append(h)
    for owners in found.values():
        if len(owners) >= LEAST:
            yield owners, 1.0
            if told.hypotheses[owners[0]].edges[0] < 0.0:
                yield owners, -1.0


def grown(
    told: Explanation,
    seen: Screen,
    owners: Sequence[int],
    sign: float,
    prior: LogPrior,
    least: int = LEAST,
) -> Iterator[Grown]:
    """One set of each size from the *least* on, of a cause's hypotheses, all going one way."""
    grid = told.fitted.grid
    cells = grid.faults.severity[:, 0] * sign > 0.0
    left = {h: np.flatnonzero((grid.owner == h) & cells) for h in owners}
    misfit, words = seen.misfit, 0.0
    effect = np.zeros_like(misfit)
    said = (seen.said - seen.said[0]).sum(axis=1)
    chosen: list[int] = []
    while left:
        nodes: Indices = np.concatenate(list(left.values()))
        gains = said[nodes] - 0.5 * (np.sum((misfit - seen.effect[nodes]) ** 2, axis=1) - misfit @ misfit)
        node = int(nodes[np.argmax(gains + grid.log_weight[nodes])])
        chosen.append(node)
        misfit, words = misfit - seen.effect[node], words + float(said[node])
        effect += seen.effect[node]
        del left[int(grid.owner[node])]
        if len(chosen) >= least:
            # six leaks of the least cell may be far too much together: a little at each is what fits
            size = float(effect @ effect)
            part = 1.0  # as bad as words alone have it, where no figure feels it
            if size > UNFELT:
                part = float(np.clip(float(seen.misfit @ effect) / size, LEAST_OF_IT, MOST_OF_IT))
            fits = -0.5 * float(np.sum((seen.misfit - part * effect) ** 2))
            fits += prior([int(grid.owner[one]) for one in chosen]) + cell_weight(told, chosen)
            yield Grown(tuple(chosen), part, fits + words + float(seen.said[0].sum()))


def cell_weight(told: Explanation, nodes: Sequence[int]) -> float:
    """Log weight of the cell in which the severities of a set lie: they go together, so it is one."""
    return float(np.mean(told.fitted.grid.log_weight[list(nodes)]))


def log_prior(told: Explanation, owners: Sequence[int], share: float, which: Sequence[int]) -> float:
    """Log prior of all cylinders, or of any other set, each as likely; less so where a part was renewed."""
    own = told.fitted.grid.log_prior
    others = sum(math.comb(len(owners), size) for size in range(LEAST, len(owners)))
    part = 1.0 if not others else ALL if len(which) == len(owners) else (1.0 - ALL) / others
    usual = float(np.median(own[owners]))
    renewed = math.fsum(min(float(own[h]) - usual, 0.0) for h in which)
    return float(log_sum(own[owners])) + math.log(share * part) + renewed


def worth(told: Explanation, one: Grown, share: float) -> Tried:
    """A set worth a fit, on the scale of the single causes."""
    which, cells, start, its = begun(told, one)
    id_ = told.suspects[which[0]].id
    owners = [h for h, suspect in enumerate(told.suspects) if suspect.id == id_]
    log = log_prior(told, owners, share, which) + its
    return Tried(which, log, (cells,) * len(ALIKE), start, going_alike(which))


def going_alike(which: Sequence[int]) -> tuple[tuple[float, ...], ...]:
    """How far each severity of a set goes together with the others, in every cell."""
    return tuple((its,) * len(which) for its in ALIKE)


def begun(
    told: Explanation, one: Grown
) -> tuple[tuple[int, ...], tuple[tuple[float, float], ...], tuple[float, ...], float]:
    """A set's hypotheses, the cells of their severities, where those begin, and its form's log share."""
    grid = told.fitted.grid
    nodes = sorted(one.nodes)
    which = tuple(int(grid.owner[node]) for node in nodes)
    whole = [float(grid.faults.severity[node, 0]) for node in nodes]
    cell, share = way_of(told, which[0], whole[0])
    start = tuple(float(each) for each in np.clip(one.part * np.array(whole), *cell))
    return which, tuple(cell for _ in which), start, share


def way_of(told: Explanation, h: int, severity: float) -> tuple[tuple[float, float], float]:
    """All severities of a hypothesis that go the way of one, and the log share of its prior in them."""
    low, high = (float(edge) for edge in told.hypotheses[h].edges[[0, -1]])
    cell = (max(low, 0.0), high) if severity > 0.0 else (low, 0.0)
    return cell, log_share(told.suspects[h], *cell)
