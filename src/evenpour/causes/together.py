"""Several causes at once, fitted with the model: two, one cause at several cylinders, or that beside another.

Which of the thousands are worth that is screened before (:mod:`evenpour.causes.two_faults`,
:mod:`evenpour.causes.several_cylinders`, :mod:`evenpour.causes.beside_several`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

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
from evenpour.causes.normal import log_sum, log_sum_by, normal_at, normal_below
from evenpour.causes.problem import NONE, Array, Faults, Grid, Indices
from evenpour.causes.seen import Noise, log_likelihood, without
from evenpour.causes.severe import Severe, going_together

FOLLOWED = 9.0  # nat behind the best of all, within which a node gets slopes of its own
HOLDS = 4.6  # nat, within which it is followed to the end
STEPS, ROUNDS = 5, 4  # after which it is asked which are, and how often
WITHIN = 0.9  # of a cell, in the middle of which a severity begins
ELSEWHERE = (
    0.25,
    0.6,
    0.95,
)  # of a cell, where the severities of one cause at several cylinders may begin, too
MIDDLE = 0.5  # of a cell


@dataclass(frozen=True, slots=True)
class Tried:
    """Several hypotheses that may be true at once, worth a fit.

    Attributes:
        which: By number.
        log_prior: Log prior of all of them at once, on the scale of the single ones'.
        cells: Cells of their severities, each a pair of ends for each of *which*; all are equally likely.
        start: Severities to begin with, in every cell, on the middle car; None: in the middle, on the car
            as one of them alone has it.
        alike: Of each cell, how far each severity goes together with the others that do, as a correlation; 0
            of one that goes by itself, as all do where nothing is said.
        hidden_by: Checks that speak against it alone: without one of them it would be among the likeliest.
        fewer: Those of them that explain as much where the rest of them shows nothing: one hypothesis, or a
            set.
    """

    which: tuple[int, ...]
    log_prior: float
    cells: tuple[tuple[tuple[float, float], ...], ...]
    start: tuple[float, ...] | None = None
    alike: tuple[tuple[float, ...], ...] = ()
    hidden_by: frozenset[int] = frozenset()
    fewer: tuple[tuple[int, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Together:
    """Several hypotheses by number, the log of their joint weight on the singles' own scale, and how severe
    each is.
    """

    which: tuple[int, ...]
    log_weight: float
    severities: tuple[float, ...]


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
    weight = grid.log_prior + log_sum_by(nodes, grid.owner, len(chosen))
    return tuple(
        Together(one.which, float(weight[number]), _severities(severe, modes, odd, number)[: len(one.which)])
        for number, one in enumerate(chosen)
    )


def _grid(told: Explanation, chosen: Sequence[Tried]) -> Grid:
    most = max((len(one.which) for one in chosen), default=1)
    owner = np.array([n for n, one in enumerate(chosen) for _ in one.cells], dtype=np.int64)
    which = np.full((len(owner), most), NONE, dtype=np.int64)
    ends = np.zeros((len(owner), most, 2))
    for row, (n, cell) in enumerate((n, cell) for n, one in enumerate(chosen) for cell in one.cells):
        which[row, : len(cell)], ends[row, : len(cell)] = chosen[n].which, cell
    counts = np.bincount(owner, minlength=len(chosen))
    singles = told.fitted.grid
    return Grid(
        faults=Faults(which, ends.mean(axis=2)),
        owner=owner,
        log_weight=-np.log(counts[owner]),
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
    z, J, f = _begun(severe, chosen, noise, alone)
    _slopes_of_severities(severe, nodes, z, J)
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


def _begun(
    severe: Severe, chosen: Sequence[Tried], noise: Noise, alone: Fitted
) -> tuple[Array, Array, Array]:
    """Where every node begins, (N, d + K), the slopes that it borrows there, (N, d + K, M), and what it
    foresees, (N, M): on the car as one of them alone has it, that one as severe as it then is or in the
    middle of its cell, or on the middle car, where that fits best.
    """
    grid = severe.grid
    best = alone.grid.best_of_each(alone.modes.log_evidence)
    tried = []
    for place in (0, 1):
        own = np.array([best[one.which[place]] for one in chosen], dtype=np.int64)
        z, J = _begun_at(severe, chosen, alone, own)
        tried += [(z, J), (_as_severe(severe, chosen, alone, own, place, z), J)]
    z, J = tried[0]
    tried.append((np.where(np.arange(severe.size) < severe.d, 0.0, z), J))
    seen = [severe.predict(np.arange(len(grid)), z) for z, _ in tried]
    energy = [_energy(noise, z, f) for (z, _), f in zip(tried, seen, strict=True)]
    least, rows = np.argmin(energy, axis=0), np.arange(len(grid))
    z, J = (np.stack(part)[least, rows] for part in zip(*tried, strict=True))
    f = np.stack(seen)[least, rows]
    _begun_elsewhere(severe, chosen, noise, alone, (z, J, f))
    return z, J, f


def _begun_elsewhere(
    severe: Severe, chosen: Sequence[Tried], noise: Noise, alone: Fitted, begun: tuple[Array, Array, Array]
) -> None:
    """Put what begins at severities of its own where it fits better, in place: at others, all alike; on the
    healthy car, or on that of its last cause alone.

    Where a part stops altogether nothing leads there from where it only gives less.

    Args:
        begun: Numbers, slopes and what is foreseen there.
    """
    z, J, f = begun
    rows, d = np.flatnonzero([chosen[owner].start is not None for owner in severe.grid.owner]), severe.d
    last = np.array([chosen[owner].which[-1] for owner in severe.grid.owner[rows]], dtype=np.int64)
    other = alone.grid.best_of_each(alone.modes.log_evidence)[last]
    energy = _energy(noise, z[rows], f[rows])
    for share in (None, *ELSEWHERE):
        for car in (None, np.zeros_like(other), other):
            its = z[rows].copy() if share is None else _all_alike(severe, rows, z[rows], share)
            its[:, :d] = 0.0 if car is None else alone.modes.z[car, :d]
            seen = severe.predict(rows, its)
            anew = _energy(noise, its, seen)
            better = anew < energy
            energy = np.where(better, anew, energy)
            z[rows[better]], f[rows[better]] = its[better], seen[better]
            J[rows[better], :d] = alone.modes.J[0 if car is None else car[better], :d]


def _middle_too(severe: Severe, noise: Noise, modes: Modes, best: float) -> None:
    """Weigh one cause at several cylinders from the middle of its severities where it weighs more there, in
    place.

    Where parts have stopped altogether the readings feel no more how badly: the mode lies at the edge of all
    that would do, and what there is to weigh does not.
    """
    log = severe.grid.log_prior[severe.grid.owner] + severe.grid.log_weight + modes.log_evidence
    rows = _of_sets(severe)
    rows = rows[log[rows] > best - FOLLOWED]
    z = _all_alike(severe, rows, modes.z[rows], MIDDLE)
    its = begin(severe.predict, rows, z, severe.moving)
    its = settle(noise, severe.predict, rows, its, most=1, moving=severe.moving)
    better = np.flatnonzero(its.log_evidence > modes.log_evidence[rows])
    its.arrived[:] = True
    modes.put(rows[better], its.take(better))


def _of_sets(severe: Severe) -> Indices:
    """The nodes of one cause at several cylinders."""
    alike = severe.grid.alike
    return np.zeros(0, dtype=np.int64) if alike is None else np.flatnonzero(alike.any(axis=1))


def _all_alike(severe: Severe, rows: Indices, z: Array, share: float) -> Array:
    """The same numbers, (n, .), with all severities that go together at so much of their cells."""
    if severe.grid.alike is None:
        return z
    own = severe.grid.alike[rows]
    numbers = _numbers(own, np.full(own.shape, share))
    return np.column_stack([z[:, : severe.d], np.where(own > 0.0, numbers, z[:, severe.d :])])


def _energy(noise: Noise, z: Array, f: Array) -> Array:
    return np.asarray(0.5 * np.sum(z**2, axis=1) - log_likelihood(noise, f))


def _numbers(alike: Array, share: Array) -> Array:
    """The numbers of severities at so much of their cells, going together so, (n, K) each."""
    return going_together(normal_at(0.5 + WITHIN * (share - 0.5)), alike, back=True)


def _begun_at(severe: Severe, chosen: Sequence[Tried], alone: Fitted, places: Indices) -> tuple[Array, Array]:
    """The same from the places of single causes, one of each set."""
    grid, d = severe.grid, severe.d
    sound = np.zeros(len(chosen), dtype=np.int64)
    starts = np.where([one.start is None for one in chosen], places, sound)[grid.owner]
    z = np.zeros((len(grid), severe.size))
    z[:, :d] = alone.modes.z[starts, :d]
    for number, one in enumerate(chosen):
        if one.start is not None:
            rows, k = np.flatnonzero(grid.owner == number), len(one.start)
            low, high = grid.low[rows, :k], grid.high[rows, :k]
            share = (np.array(one.start) - low) / (high - low)
            alike = np.zeros_like(share) if grid.alike is None else grid.alike[rows, :k]
            z[rows, :d], z[rows, d : d + k] = 0.0, _numbers(alike, share)
    J = np.zeros((len(grid), severe.size, alone.modes.J.shape[2]))
    J[:, :d] = alone.modes.J[starts, :d]
    return z, J


def _as_severe(
    severe: Severe, chosen: Sequence[Tried], alone: Fitted, places: Indices, place: int, z: Array
) -> Array:
    """Those numbers with the cause of that place as severe as it is alone, or as its cell lets it be.

    Where the other does nothing, that is where both together sit.
    """
    grid, d = severe.grid, severe.d
    v = normal_below(alone.modes.z[places, d])
    at = alone.grid.low[places, 0] + (alone.grid.high[places, 0] - alone.grid.low[places, 0]) * v
    low, high = grid.low[:, place], grid.high[:, place]
    share = (at[grid.owner] - low) / np.where(high > low, high - low, 1.0)
    begun = z.copy()
    free = np.array([one.start is None for one in chosen])[grid.owner] & (high > low)
    begun[free, d + place] = normal_at(0.5 + np.clip(share[free] - 0.5, -0.5 * WITHIN, 0.5 * WITHIN))
    return begun


def _slopes_of_severities(severe: Severe, nodes: Indices, z: Array, J: Array) -> None:
    for column in range(severe.d, severe.size):
        k = column - severe.d
        some = nodes[severe.grid.high[nodes, k] > severe.grid.low[nodes, k]]
        shift = np.zeros(severe.size)
        shift[column] = 0.5
        J[some, column] = severe.predict(some, z[some] + shift) - severe.predict(some, z[some] - shift)


def _severities(severe: Severe, modes: Modes, odd: Array, number: int) -> tuple[float, ...]:
    rows = np.flatnonzero(severe.grid.owner == number)
    best = rows[np.argmax(modes.log_evidence[rows] + strays(odd[rows]))]
    faults = severe.faults(np.array([best]), modes.z[best : best + 1])
    return tuple(abs(float(one)) for one in faults.severity[0])
