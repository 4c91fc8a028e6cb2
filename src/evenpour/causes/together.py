"""Several causes at once, fitted with the model: two, one cause at several cylinders, or that beside another.

Which of the thousands are worth that is screened before (:mod:`evenpour.causes.two_faults`,
:mod:`evenpour.causes.several_cylinders`, :mod:`evenpour.causes.beside_several`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.begun_together import all_alike, begun, slopes_of_severities
from evenpour.causes.explanation import (
    BELIEVED,
    MOST_AGAIN,
    SUSPECTED,
    Explanation,
    foreseen_at,
    odds_of,
    strays,
    true_at,
)
from evenpour.causes.fitting import Fitted
from evenpour.causes.laplace import Modes, begin, settle
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.problem import NONE, Array, Faults, Grid, Indices
from evenpour.causes.seen import Noise, without
from evenpour.causes.severe import Severe
from evenpour.causes.suspects import log_share
from evenpour.causes.tried import Tried

FOLLOWED = 9.0  # nat behind the best of all, within which a node gets slopes of its own
HOLDS = 4.6  # nat, within which it is followed to the end
STEPS, ROUNDS = 5, 4  # after which it is asked which are, and how often
MIDDLE = 0.5  # of the cell of each severity


@dataclass(frozen=True, slots=True)
class Together:
    """Several hypotheses by number, the log of their joint weight on the singles' own scale, how severe each
    is, and the share of its probability that is its second form's.
    """

    which: tuple[int, ...]
    log_weight: float
    severities: tuple[float, ...]
    second: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Jointly:
    """All that may be true at once, and where it was fitted.

    Attributes:
        tried: The sets as they were chosen.
        severe: The model at the nodes; the owner of a node is one of *sets* by its place.
        odd: Log odds of each doubt of the explanation, at each node: (N, D).
    """

    tried: tuple[Tried, ...]
    sets: tuple[Together, ...]
    severe: Severe
    modes: Modes
    odd: Array

    @property
    def node_share(self) -> Array:
        """Of every node within its set, (N,)."""
        grid = self.severe.grid
        log = grid.log_weight + self.modes.log_evidence + strays(self.odd)
        whole = log_sum_by(log, grid.owner, len(self.sets))
        return np.asarray(np.exp(log - whole[grid.owner]))

    def taken_to_belong(self, d: int) -> Jointly:
        """The same without doubt number *d*."""
        odd = self.odd.copy()
        odd[:, d] = -np.inf
        return replace(self, sets=_weighed(self.severe, self.modes, odd, self.sets), odd=odd)


def doubted(told: Explanation, joint: Jointly) -> Array:
    """Probability that each doubt of an explanation is true, one cause or several being at work, (D,)."""
    singles = told.fitted.grid
    log = singles.log_prior[singles.owner] + singles.log_weight + told.fitted.modes.log_evidence
    grid = joint.severe.grid
    more = grid.log_prior[grid.owner] + grid.log_weight + joint.modes.log_evidence
    odd = np.concatenate([told.odd, joint.odd])
    log = np.concatenate([log, more]) + strays(odd)
    return np.asarray(np.exp(log - log_sum(log)) @ true_at(odd))


def fitted_together(told: Explanation, chosen: Sequence[Tried]) -> Jointly:
    """Fit them on the readings of an explanation, and weigh them."""
    severe = _severe(told, chosen)
    if not chosen:
        none = np.zeros(0, dtype=np.int64)
        return Jointly((), (), severe, told.fitted.modes.take(none), np.zeros((0, len(told.doubts))))
    modes, odd = _fitted(told, severe, chosen)
    return Jointly(tuple(chosen), _weighed(severe, modes, odd, chosen), severe, modes, odd)


def settled_on(told: Explanation, chosen: Sequence[Tried], rest: Noise, weight: Array) -> Modes:
    """All nodes of some sets on some of the readings, from where they begin whatever the rest made of them.

    Args:
        weight: Log evidence of the single causes' nodes on these readings, with whatever else counts, (N,).
    """
    return _settled(told, _severe(told, chosen), chosen, rest, told.fitted, weight)


def _severe(told: Explanation, chosen: Sequence[Tried]) -> Severe:
    return Severe(told.model, _grid(told, chosen), told.severe.d, told.severe.spread, told.severe.felt)


def _weighed(
    severe: Severe, modes: Modes, odd: Array, chosen: Sequence[Tried | Together]
) -> tuple[Together, ...]:
    grid = severe.grid
    nodes = grid.log_weight + modes.log_evidence + strays(odd)
    whole = log_sum_by(nodes, grid.owner, len(chosen))
    share = np.exp(nodes - whole[grid.owner])[:, None] * (grid.high <= 0.0)
    second = np.zeros((len(chosen), grid.high.shape[1]))
    np.add.at(second, grid.owner, share)
    return tuple(
        Together(
            one.which,
            float(grid.log_prior[number] + whole[number]),
            _severities(severe, modes, odd, number)[: len(one.which)],
            tuple(second[number, : len(one.which)].tolist()),
        )
        for number, one in enumerate(chosen)
    )


def _grid(told: Explanation, chosen: Sequence[Tried]) -> Grid:
    most = max((len(one.which) for one in chosen), default=1)
    owner = np.array([n for n, one in enumerate(chosen) for _ in one.cells], dtype=np.int64)
    which = np.full((len(owner), most), NONE, dtype=np.int64)
    ends = np.zeros((len(owner), most, 2))
    for row, (n, cell) in enumerate((n, cell) for n, one in enumerate(chosen) for cell in one.cells):
        which[row, : len(cell)], ends[row, : len(cell)] = chosen[n].which, cell
    share = np.array([
        sum(log_share(told.suspects[h], *its) for h, its in zip(one.which, cell, strict=True))
        for one in chosen
        for cell in one.cells
    ])  # fmt: skip
    singles = told.fitted.grid
    return Grid(
        faults=Faults(which, ends.mean(axis=2)),
        owner=owner,
        log_weight=share - log_sum_by(share, owner, len(chosen))[owner],
        low=ends[..., 0],
        high=ends[..., 1],
        log_prior=np.array([one.log_prior for one in chosen]),
        remedy=tuple(" and ".join(sorted({singles.remedy[h] for h in one.which})) for one in chosen),
        name=tuple(" and ".join(singles.name[h] for h in one.which) for one in chosen),
        alike=np.concatenate([_alike(one, most) for one in chosen]) if most > 2 else None,
    )


def _alike(one: Tried, most: int) -> Array:
    """How far each of so many severities goes together with others in every cell, (cells, most)."""
    found = np.zeros((len(one.cells), most))
    for cell, its in enumerate(one.alike):
        found[cell, : len(its)] = its
    return found


def _fitted(told: Explanation, severe: Severe, chosen: Sequence[Tried]) -> tuple[Modes, Array]:
    """Fit all nodes, and again without what may well not belong; and their odds."""
    modes = _settled(told, severe, chosen, told.noise, told.fitted, told.fitted.modes.log_evidence)
    # from a place that a check pulls at, no more is foreseen without it than can be believed
    odd = np.minimum(odds_of(told.doubts, foreseen_at(told.noise, modes, told.doubts)), BELIEVED)
    odd[:, np.isneginf(told.odd).all(axis=0)] = -np.inf  # what is taken to belong does so here, too
    grid = severe.grid
    known = np.zeros(len(told.doubts), dtype=np.bool_)
    for _ in range(min(MOST_AGAIN, len(known))):
        log = grid.log_prior[grid.owner] + grid.log_weight + modes.log_evidence + strays(odd)
        likely = np.exp(log - log_sum(log)) @ true_at(odd)
        likely = np.where(known, 0.0, np.maximum(likely, told.is_true))
        d = int(np.argmax(likely))
        if likely[d] < SUSPECTED:
            break
        known[d], doubt, anew = True, told.doubts[d], told.again.get(d, told.fitted)
        rest = without(told.noise, doubt.gone(len(told.noise.columns)))
        its = _settled(told, severe, chosen, rest, anew, anew.modes.log_evidence)
        odd[:, d] = doubt.log_flat + its.log_evidence - modes.log_evidence
    return modes, odd


def _settled(
    told: Explanation,
    severe: Severe,
    chosen: Sequence[Tried],
    noise: Noise,
    alone: Fitted,
    weight: Array,
) -> Modes:
    """All nodes from where they begin; the likely ones to the end.

    Args:
        alone: The single hypotheses on the same readings.
        weight: Log evidence of their nodes, with whatever else counts for them, (N,).
    """
    grid, singles = severe.grid, alone.grid
    nodes: Indices = np.arange(len(grid))
    z, J, f = begun(severe, chosen, noise, alone)
    slopes_of_severities(severe, nodes, z, J)
    rough = Modes(z, f, J, z.copy(), np.full(len(z), -np.inf), np.zeros(len(z), dtype=bool))
    rough = settle(noise, severe.predict, nodes, rough, renew=np.inf, most=3)
    rough.arrived[:] = False  # with slopes that are not their own
    best = float((singles.log_prior[singles.owner] + singles.log_weight + weight).max())
    _follow(severe, noise, rough, best)
    _middle_too(severe, noise, rough, best)
    return rough


def _follow(severe: Severe, noise: Noise, modes: Modes, best: float) -> None:
    """Give all nodes that may matter slopes of their own, and bring those that do matter to their modes, in
    place.

    Args:
        best: Log weight of the best of all else.
    """
    grid = severe.grid
    borrowed = np.ones(len(grid), dtype=np.bool_)
    for _ in range(ROUNDS):  # with slopes of their own some sink, and others come to the top
        log = grid.log_prior[grid.owner] + grid.log_weight + modes.log_evidence
        behind = max(best, float(log.max())) - log
        alive = np.flatnonzero(~modes.arrived & (behind < np.where(borrowed, FOLLOWED, HOLDS)))
        if not len(alive):
            break
        first = alive[borrowed[alive]]
        modes.put(first, begin(severe.predict, first, modes.z[first], severe.moving))
        borrowed[first] = False
        its = settle(noise, severe.predict, alive, modes.take(alive), most=STEPS, moving=severe.moving)
        modes.put(alive, its)


def _middle_too(severe: Severe, noise: Noise, modes: Modes, best: float) -> None:
    """Weigh one cause at several cylinders from the middle of its severities where it weighs more there, in
    place.

    Where parts have stopped altogether the readings feel no more how badly: the mode lies at the edge of all
    that would do, and what there is to weigh does not.
    """
    log = severe.grid.log_prior[severe.grid.owner] + severe.grid.log_weight + modes.log_evidence
    rows = _of_sets(severe)
    rows = rows[log[rows] > best - FOLLOWED]
    z = all_alike(severe, rows, modes.z[rows], MIDDLE)
    its = begin(severe.predict, rows, z, severe.moving)
    its = settle(noise, severe.predict, rows, its, most=1, moving=severe.moving)
    better = np.flatnonzero(its.log_evidence > modes.log_evidence[rows])
    its.arrived[:] = True
    modes.put(rows[better], its.take(better))


def _of_sets(severe: Severe) -> Indices:
    """The nodes of one cause at several cylinders."""
    alike = severe.grid.alike
    return np.zeros(0, dtype=np.int64) if alike is None else np.flatnonzero(alike.any(axis=1))


def of_several_cylinders(joint: Jointly) -> Indices:
    """The sets that lay one cause on several cylinders, with another or without, by their place."""
    return np.unique(joint.severe.grid.owner[_of_sets(joint.severe)])


def _severities(severe: Severe, modes: Modes, odd: Array, number: int) -> tuple[float, ...]:
    rows = np.flatnonzero(severe.grid.owner == number)
    best = rows[np.argmax(modes.log_evidence[rows] + strays(odd[rows]))]
    faults = severe.faults(np.array([best]), modes.z[best : best + 1])
    return tuple(abs(float(one)) for one in faults.severity[0])
