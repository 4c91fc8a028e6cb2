r"""Something that no cause of the catalogue describes: the sound car with some of its checks moved.

A fault that is not known here moves what it moves: each check as often as the known causes do, by anything
that can be read, at all cylinders alike or at one. What shows one part alone is moved by few: a drip that is
seen is no sign of something strange. All else reads as a sound car's would, with everything that sound cars'
readings have in common. With e the misfit of the numbers from the sound car, C its covariance and S the moves
that were made, each along b by a standard deviation w,

.. math::

    \log p(y \mid S) = \log N\bigl(e;\, 0,\, C + \textstyle\sum_{u \in S} w_u^2 b_u b_u'\bigr)

is summed over the sets S of two moves and more: what moves one check alone is a reading that does not belong,
or a slip. Sets are grown one move at a time, the best of each size. The sound car is taken where it fits what
the likeliest set leaves it, and choices as they are foreseen there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.laplace import Modes, begin, local, settle
from evenpour.causes.normal import LOG_2PI, log_sum
from evenpour.causes.problem import NONE, Array, Columns, Flags, Indices
from evenpour.causes.seen import Noise, noise_of
from evenpour.causes.several_cylinders import ALIKE
from evenpour.causes.severe import Severe
from evenpour.causes.unexplained import checks_of

FARTHER = 1.0  # standard deviations of sound cars, from which a cause moves a number
OTHERWISE = 0.3  # probability that a word turns out another, from which a cause moves it
LEAST, MOST_OFTEN = 0.02, 0.5  # that it moves a check, whatever the known causes do
ROUNDS = 3  # in which the sound car is fitted to what the likeliest moves leave it
KEPT, MOST = 16, 12  # sets grown on of each size, and moves at most
NO_MORE = 1e-3  # of the weight, below which larger sets are not looked for
ROOT_12 = math.sqrt(12.0)


@dataclass(frozen=True, slots=True)
class Unknown:
    """What a fault that is not known would explain.

    Attributes:
        log_evidence: Of all readings.
        checks: Ids of the checks, rising, (G,).
        touched: Probability that it moved each of them, (G,).
    """

    log_evidence: float
    checks: Indices
    touched: Array


@dataclass(frozen=True, slots=True)
class _Moves:
    """What an unknown fault may do to the numbers, one move a row: (U, numbers) and (U,)."""

    along: Array
    variance: Array
    log_odds: Array
    check: Indices


@dataclass(frozen=True, slots=True)
class _Sets:
    """Sets of moves that were tried: which moves, (n, U), how many checks they move and log weight, (n,)."""

    chosen: Flags
    size: Indices
    log_weight: Array


def unknown(severe: Severe, noise: Noise) -> Unknown:
    """Log evidence of a fault outside the catalogue.

    Args:
        severe: The model and all known causes; its first node is the sound car.
        noise: The readings.
    """
    columns = noise.columns
    sound: Indices = np.zeros(1, dtype=np.int64)
    modes = begin(severe.predict, sound, np.zeros((1, severe.size)), severe.moving)
    reach = _reach(severe, noise, modes)
    moves = _moves(columns, noise.number, reach)
    best: Flags | None = None
    for _ in range(ROUNDS):
        sets = _sets(noise, modes, moves)
        likeliest = sets.chosen[int(np.argmax(sets.log_weight))]
        if best is not None and (likeliest == best).all():
            break
        best = likeliest
        modes = settle(_moved(noise, moves, best), severe.predict, sound, modes, most=5, moving=severe.moving)
    sets = _sets(noise, modes, moves)
    plain, astray = _choices(noise, modes, reach.share(reach.rows[:, noise.choice]))
    return Unknown(
        _of_two(sets, plain, astray), checks_of(columns), _touched(columns, moves, sets, plain, astray)
    )


@dataclass(frozen=True, slots=True)
class _Reach:
    """Which rows each known cause moves at each severity, (n, m), and how likely that is, (n,)."""

    rows: Flags
    weight: Array

    def share(self, moved: Flags) -> Array:
        """Of the known causes, how many move it, for (n, ...)."""
        return np.asarray(np.clip(self.weight @ moved, LEAST, MOST_OFTEN))


def _reach(severe: Severe, noise: Noise, middle: Modes) -> _Reach:
    """What the known causes do to the middle car, beside what sound cars differ by."""
    grid, columns = severe.grid, noise.columns
    nodes = np.flatnonzero(grid.owner != grid.owner[0])
    f = severe.predict(nodes, np.zeros((len(nodes), severe.size)))[:, columns.column]
    at, J = middle.f[:, columns.column], middle.J[0][:, columns.column]
    open_ = np.sum(J**2, axis=0)
    rows = np.abs(f - at) > FARTHER * np.sqrt(open_ + np.diag(columns.covariance))
    if len(noise.choice):
        its = noise.choice
        chances = [noise.lines.probabilities(one[:, its], open_[its]) for one in (f, at)]
        rows[:, its] = 0.5 * np.abs(chances[0] - chances[1]).sum(axis=-1) > OTHERWISE
    log = grid.log_prior[grid.owner[nodes]] + grid.log_weight[nodes]
    return _Reach(rows, np.exp(log - log_sum(log)))


def _moves(columns: Columns, numbers: Indices, reach: _Reach) -> _Moves:
    """Each check's numbers all alike, and at one cylinder alone where it has several."""
    along, variance, chance, check, apart = [], [], [], [], []
    for g in np.unique(columns.check[numbers]):
        own = columns.check[numbers] == g
        places = [one for one in np.unique(columns.cylinder[numbers][own]) if one != NONE]
        single = [own & (columns.cylinder[numbers] == one) for one in places] if len(places) > 1 else []
        share = float(reach.share(np.any(reach.rows[:, numbers[own]], axis=1)))
        if single:
            share *= 0.5  # at all cylinders alike, or at one
        for rows in (own, *single):
            along.append(rows.astype(np.float64))
            variance.append((float(columns.flat[numbers][own].mean()) / ROOT_12) ** 2)
            chance.append(share if rows is own else share / len(single))
            apart.append(_apart(columns, numbers[rows], variance[-1]) if rows is own and single else 0.0)
            check.append(g)
    odds = np.array(chance)
    shape = (len(along), len(numbers))
    return _Moves(
        np.array(along).reshape(shape),
        np.array(variance),
        np.log(odds) - np.log1p(-odds) - np.array(apart),
        np.array(check),
    )


def _apart(columns: Columns, rows: Indices, variance: float) -> float:
    """What it costs, [nat], that a move of all cylinders lets each differ a little from the others.

    A known cause at all of them does so too: else it could not vie with this where all read alike.
    """
    differs = (1.0 - max(ALIKE)) * variance / np.diag(columns.covariance)[rows]
    return float(0.5 * np.log1p(differs)[1:].sum())


def _moved(noise: Noise, moves: _Moves, chosen: Flags) -> Noise:
    """The readings as wide as these moves make them."""
    b = moves.along[chosen]
    covariance = noise.columns.covariance.copy()
    covariance[np.ix_(noise.number, noise.number)] += (b.T * moves.variance[chosen]) @ b
    return noise_of(replace(noise.columns, covariance=covariance))


def _sets(noise: Noise, modes: Modes, moves: _Moves) -> _Sets:
    """The likeliest sets of moves, none first."""
    rows, columns = noise.number, noise.columns
    at = columns.column[rows]
    J, count = modes.J[0][:, at], len(moves.check)
    e = columns.y[rows] - (modes.f[0][at] - modes.z[0] @ J)
    C = J.T @ J + columns.covariance[np.ix_(rows, rows)]
    P = np.linalg.inv(C)[None]
    base = -0.5 * (e @ P[0] @ e + np.linalg.slogdet(C)[1] + len(rows) * LOG_2PI)
    base -= np.log1p(np.exp(moves.log_odds)).sum()  # of each move, that it was not made
    chosen, log = np.zeros((1, count), dtype=bool), np.array([float(base)])
    found = [(chosen, log)]
    for size in range(1, min(MOST, count) + 1):
        chosen, log, parent, move = _larger(P, e, moves, chosen, log)
        found.append((chosen, log))
        if size > 1 and log_sum(log) < log_sum(np.concatenate([one for _, one in found])) + math.log(NO_MORE):
            break
        best = np.argsort(-log, kind="stable")[:KEPT]
        chosen, log = chosen[best], log[best]
        P = _widened(P[parent[best]], moves, move[best])
    every = np.concatenate([one for one, _ in found])
    by_check = moves.check[:, None] == np.unique(moves.check)
    size = ((every.astype(np.intp) @ by_check) > 0).sum(axis=1)
    return _Sets(every, size, np.concatenate([one for _, one in found]))


def _larger(
    P: Array, e: Array, moves: _Moves, chosen: Flags, log: Array
) -> tuple[Flags, Array, Indices, Indices]:
    """Every set with one move more, each once: moves, log weight, what it grew from and by which."""
    b, variance = moves.along, moves.variance
    pull = P @ e @ b.T
    stiff = variance * np.einsum("um,nmk,uk->nu", b, P, b, optimize=True)
    gain = 0.5 * variance * pull**2 / (1.0 + stiff) - 0.5 * np.log1p(stiff) + moves.log_odds
    parent, move = np.nonzero(~chosen)
    grown = chosen[parent]
    grown[np.arange(len(move)), move] = True
    _, once = np.unique(grown, axis=0, return_index=True)
    return grown[once], (log[:, None] + gain)[parent[once], move[once]], parent[once], move[once]


def _widened(P: Array, moves: _Moves, move: Indices) -> Array:
    """The inverse covariances with one move more in each."""
    b, variance = moves.along[move], moves.variance[move]
    pb = np.einsum("nmk,nk->nm", P, b)
    scale = variance / (1.0 + variance * np.einsum("nm,nm->n", b, pb))
    return np.asarray(P - scale[:, None, None] * pb[:, :, None] * pb[:, None, :])


def _choices(noise: Noise, modes: Modes, touched: Array) -> tuple[Array, Array]:
    """Log probability that each choice was made and not moved, and that it was made and moved, (c,)."""
    if not len(noise.choice):
        return np.zeros(0), np.zeros(0)
    at = noise.columns.column[noise.choice]
    J, H = modes.J[0][:, at], local(noise, modes).H[0]
    open_ = np.sum(J * np.linalg.solve(H, J), axis=0)
    foreseen = noise.lines.log_chosen(modes.f[0][at], open_)
    count = np.array([line.count for line in noise.columns.choices if line is not None])
    return np.log1p(-touched) + foreseen, np.log(touched) - np.log(count)


def _of_two(sets: _Sets, plain: Array, astray: Array) -> float:
    """Log weight of all that moves two checks or more."""
    none, one, more = 0.0, -np.inf, -np.inf  # log weight of the words, with so many of them moved
    for stays, moves in zip(plain, astray, strict=True):
        more = float(np.logaddexp(more + np.logaddexp(stays, moves), one + moves))
        one = float(np.logaddexp(one + stays, none + moves))
        none = none + float(stays)
    size = sets.size
    by_size = [float(log_sum(sets.log_weight[rows])) for rows in (size == 0, size == 1, size > 1)]
    words = float(np.logaddexp(np.logaddexp(none, one), more))
    some = float(np.logaddexp(one, more))
    return float(log_sum(np.array([by_size[0] + more, by_size[1] + some, by_size[2] + words])))


def _touched(columns: Columns, moves: _Moves, sets: _Sets, plain: Array, astray: Array) -> Array:
    checks = checks_of(columns)
    found = np.zeros(len(checks))
    many = sets.size > 1
    if many.any():
        weight = np.exp(sets.log_weight[many] - log_sum(sets.log_weight[many]))
        for number, g in enumerate(checks):
            found[number] = weight @ sets.chosen[many][:, moves.check == g].any(axis=1)
    words = 1.0 / (1.0 + np.exp(plain - astray))
    np.maximum.at(found, np.searchsorted(checks, columns.check[columns.is_choice]), words)
    return found
