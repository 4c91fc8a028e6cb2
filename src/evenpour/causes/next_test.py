"""Which check would tell most for its minutes.

A candidate is one or several columns that have not been read. At every place that holds weight, of one cause
or of several at once, its reading is foreseen as a
normal about what the model says at the mode, as wide as the car still leaves it and its own noise; a choice
by its probabilities. Its worth is the information its outcome shares with what has to be *done*: causes
that have one remedy are one, and a severity is no question of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.car_model import CarModel
from evenpour.causes.choice_line import ChoiceLine, lines_of
from evenpour.causes.explanation import Explanation
from evenpour.causes.felt import unfelt
from evenpour.causes.information import of_number, of_outcomes, of_several
from evenpour.causes.laplace import Modes, local
from evenpour.causes.observed import caught_level
from evenpour.causes.problem import Array, Indices
from evenpour.causes.seen import Noise
from evenpour.causes.severe import Severe
from evenpour.causes.slopes import slopes
from evenpour.causes.together import Jointly
from evenpour.machine.checks import ChoiceCheck, NumberCheck, Predicted
from evenpour.machine.readout import Query

HELD = 0.995  # of the probability, by the nodes that a candidate is worked out for
MOST_NODES = 40
LEAST_MINUTES = 2.0  # counted at least: nothing is done in no time


@dataclass(frozen=True, slots=True)
class Candidate:
    """Something that could be read. ``asked``: one question, or one for each port of a catch; ``u``: of
    each, SI, or a share of it where *relative*; ``minutes``: what it costs.
    """

    asked: tuple[tuple[Predicted, Query], ...]
    u: float
    minutes: float
    relative: bool = False


@dataclass(frozen=True, slots=True)
class Worth:
    """What a candidate is worth. ``information`` in bit; ``rate`` in bit a minute."""

    candidate: int
    information: float
    rate: float


@dataclass(frozen=True, slots=True)
class Held:
    """Places that hold weight, of single causes or of several at once, n of them.

    Attributes:
        remedy: What each owner of the grid's nodes calls for.
        nodes: Which nodes of the grid, (n,).
        weight: Of each, on a scale that all that is weighed together shares, (n,).
    """

    model: CarModel
    severe: Severe
    noise: Noise
    modes: Modes  # of the whole grid
    remedy: Sequence[str]
    nodes: Indices
    weight: Array

    @property
    def remedies(self) -> list[str]:
        """What each place calls for."""
        return [self.remedy[owner] for owner in self.severe.grid.owner[self.nodes]]

    def take(self, rows: Indices) -> Held:
        """These places."""
        return replace(self, nodes=self.nodes[rows], weight=self.weight[rows])


@dataclass(frozen=True, slots=True)
class Live:
    """The places that matter and what the car still leaves open at each, n in all."""

    held: tuple[Held, ...]
    weight: Array  # (n,)
    z: Array  # (n, v)
    S: Array  # (n, v, v) covariance of the numbers
    group: Indices  # (n,) what is done about it


def held_by(told: Explanation, probability: Array | None = None) -> Held:
    """The places of an explanation's single causes.

    Args:
        probability: Of every hypothesis, (H,), where it is not the explanation's own.
    """
    weight = told.node_weight
    grid = told.fitted.grid
    if probability is not None:
        own = np.bincount(grid.owner, weight, len(probability))
        weight = weight * (probability / np.maximum(own, 1e-300))[grid.owner]
    nodes: Indices = np.arange(len(weight))
    return Held(told.model, told.severe, told.noise, told.fitted.modes, grid.remedy, nodes, weight)


def held_together(told: Explanation, joint: Jointly, probability: Array, remedy: Sequence[str]) -> Held:
    """The places of several causes at once on the readings of an explanation.

    Args:
        probability: Of every set of them, (P,).
        remedy: What each calls for.
    """
    weight = joint.node_share * probability[joint.severe.grid.owner]
    nodes: Indices = np.arange(len(weight))
    return Held(told.model, joint.severe, told.noise, joint.modes, remedy, nodes, weight)


def ranked(held: Sequence[Held], candidates: Sequence[Candidate]) -> list[Worth]:
    """All candidates, most information a minute first."""
    if not candidates:
        return []
    live = live_nodes(held)
    found = []
    means, moves, open_ = foreseen_columns(live, candidates)
    at = 0
    for number, one in enumerate(candidates):
        wide = slice(at, at + len(one.asked))
        at += len(one.asked)
        gained = _information(one, live, means[:, wide], moves[:, :, wide], open_[wide, wide])
        found.append(Worth(number, gained, gained / max(one.minutes, LEAST_MINUTES)))
    return sorted(found, key=lambda worth: -worth.rate)


def live_nodes(held: Sequence[Held]) -> Live:
    """The places that hold nearly all the weight."""
    weight = np.concatenate([one.weight for one in held])
    order = np.argsort(-weight, kind="stable")
    share = np.cumsum(weight[order]) / weight.sum()
    count = min(int(np.searchsorted(share, HELD)) + 1, MOST_NODES, len(order))
    chosen = np.sort(order[:count])
    ends = np.cumsum([len(one.weight) for one in held])
    some = [
        one.take(chosen[(chosen >= end - len(one.weight)) & (chosen < end)] - (end - len(one.weight)))
        for one, end in zip(held, ends, strict=True)
    ]
    some = [one for one in some if len(one.nodes)]
    modes = [one.modes.take(one.nodes) for one in some]
    S = [
        np.asarray(np.linalg.inv(local(one.noise, its).H), dtype=np.float64)
        for one, its in zip(some, modes, strict=True)
    ]
    remedies = [remedy for one in some for remedy in one.remedies]
    names = {name: number for number, name in enumerate(dict.fromkeys(remedies))}
    group = np.array([names[name] for name in remedies])
    kept = weight[chosen]
    most = max(one.severe.size for one in some)
    z = np.concatenate([_filled(its.z, (most,)) for its in modes])
    S = [_filled(its, (most, most)) for its in S]  # what a place does not have moves nothing
    return Live(tuple(some), kept / kept.sum(), z, np.concatenate(S), group)


def _filled(some: Array, shape: tuple[int, ...]) -> Array:
    """With zeros behind, to this shape of each row, (n, ...)."""
    more = [(0, want - have) for want, have in zip(shape, some.shape[1:], strict=True)]
    return np.pad(some, [(0, 0), *more])


def foreseen_columns(live: Live, candidates: Sequence[Candidate]) -> tuple[Array, Array, Array]:
    """All candidates' columns at the live modes, (n, C), their slopes, (n, v, C), and what else is open.

    The last is (C, C): the spread of what no reading so far has felt of the car, taken on the middle one.
    """
    asked = [one for candidate in candidates for one in candidate.asked]
    means, moves = [], []
    for one in live.held:
        severe = replace(one.severe, model=one.model.columns_of(asked))
        z = one.modes.z[one.nodes]
        means.append(severe.predict(one.nodes, z))
        own = slopes(severe.predict, one.nodes, z, severe.moving)
        moves.append(_filled(own, (live.z.shape[1], own.shape[2])))
    open_ = unfelt(live.held[0].model.columns_of(asked), live.held[0].severe.spread)
    return np.concatenate(means), np.concatenate(moves), open_


def _information(one: Candidate, live: Live, mean: Array, move: Array, open_: Array) -> float:
    check = one.asked[0][0]
    spread = np.matmul(move.transpose(0, 2, 1), np.matmul(live.S, move)) + open_
    if isinstance(check, ChoiceCheck):
        line = lines_of([ChoiceLine(check.cuts, misread=check.misread)])
        chance = line.probabilities(mean, np.einsum("nii->ni", spread))[:, 0, :]
        return of_outcomes(live.weight, live.group, chance)
    noise = noise_of_reading(one, mean)
    if len(one.asked) == 1:
        sd = np.sqrt(spread[:, 0, 0] + noise[:, 0, 0])
        return of_number(live.weight, live.group, mean[:, 0], sd)
    return of_several(live.weight, live.group, mean, spread + noise)


def noise_of_reading(one: Candidate, mean: Array) -> Array:
    """Covariance of a candidate's own noise, as it is compared, (n, c, c)."""
    count = len(one.asked)
    found = np.zeros((len(mean), count, count))
    for column, (check, _) in enumerate(one.asked):
        assert isinstance(check, NumberCheck)
        value = check.uncompared(mean[:, column])
        u = one.u * np.abs(value) if one.relative else one.u
        compared = u / (np.maximum(value, 0.0) + check.floor) if check.logarithmic else u
        found[:, column, column] = compared**2 + check.repeats**2 + check.model**2
    if count > 1:
        found += caught_level(one.asked[0][1]) ** 2
    return found
