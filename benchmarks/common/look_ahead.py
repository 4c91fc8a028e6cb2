"""Which check to do first when the one after it counts too.

The greedy choice takes the check that tells most a minute now. Two steps ahead, every good first check is
tried with a few of its outcomes; after each the best second check is sought, and the pair is judged by what
both tell for the minutes of both. It costs a hundred times as much, so it serves to try whether greed is
good enough.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.choice_line import ChoiceLine, lines_of
from evenpour.causes.explanation import Explanation
from evenpour.causes.information import log_density, of_number, of_outcomes, of_several, outcomes
from evenpour.causes.laplace import Modes, local
from evenpour.causes.next_test import (
    Candidate,
    foreseen_columns,
    held_by,
    live_nodes,
    noise_of_reading,
)
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Array, Indices
from evenpour.causes.seen import Noise
from evenpour.machine.checks import ChoiceCheck

#: Minutes counted at least: nothing is done in no time.
LEAST_MINUTES = 2.0
#: First checks tried two steps ahead, and outcomes of each.
FIRST, OUTCOMES = 10, 5
POINTS, DRAWS = 200, 200


@dataclass(frozen=True, slots=True)
class Option:
    """A check that could be done: its columns, the line of its choices if it is one, and its minutes."""

    columns: Indices
    minutes: float
    line: ChoiceLine | None = None

    @property
    def counted(self) -> float:
        """Minutes as they count."""
        return max(self.minutes, LEAST_MINUTES)


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What could be read, in every case that is alive.

    Args:
        weight: Of the cases, (n,), summing to 1.
        group: What each calls for, (n,).
        mean: Of all columns, (n, C); for a choice, of its margin.
        cov: Of all columns, (n, C, C), their own noise included but for choices.
    """

    weight: Array
    group: Indices
    mean: Array
    cov: Array


def foresee(
    noise: Noise, modes: Modes, weight: Array, group: Indices, column: Indices, covariance: Array
) -> Foreseen:
    """What the cases at these modes foresee for columns that were not read.

    Args:
        noise: What was read.
        modes: Nodes that are alive, n rows.
        weight: Their posterior, (n,).
        group: What each calls for, (n,).
        column: Places among the model's columns, (C,).
        covariance: Noise with which they would be read, (C, C); zero rows for choices.
    """
    J = modes.J[:, :, column]
    left = np.matmul(J.transpose(0, 2, 1), np.linalg.solve(local(noise, modes).H, J))
    return Foreseen(weight / weight.sum(), group, modes.f[:, column], left + covariance)


def foresee_checks(told: Explanation, candidates: Sequence[Candidate]) -> Foreseen:
    """What an explanation foresees for all columns of all candidates, one after the other."""
    live = live_nodes([held_by(told)])
    mean, moves, unfelt = foreseen_columns(live, candidates)
    cov = np.matmul(moves.transpose(0, 2, 1), np.matmul(live.S, moves)) + unfelt
    at = 0
    for one in candidates:
        wide = slice(at, at + len(one.asked))
        at += len(one.asked)
        if not isinstance(one.asked[0][0], ChoiceCheck):
            cov[:, wide, wide] += noise_of_reading(one, mean[:, wide])
    return Foreseen(live.weight, live.group, mean, cov)


def gain(now: Foreseen, option: Option) -> float:
    """What a check would tell of what has to be done, [bit]."""
    at = option.columns
    if option.line is not None:
        return of_outcomes(now.weight, now.group, _chances(now, option))
    if len(at) == 1:
        sd = np.sqrt(now.cov[:, at[0], at[0]])
        return of_number(now.weight, now.group, now.mean[:, at[0]], sd, POINTS)
    return of_several(now.weight, now.group, now.mean[:, at], now.cov[:, at[:, None], at], DRAWS)


def rates(now: Foreseen, options: Sequence[Option]) -> Array:
    """What each check tells a minute, [bit/min]."""
    return np.array([gain(now, option) / option.counted for option in options])


def greedy(now: Foreseen, options: Sequence[Option]) -> int:
    """The check that tells most a minute."""
    return int(np.argmax(rates(now, options)))


def two_steps(now: Foreseen, options: Sequence[Option], *, first: int = FIRST, tried: int = OUTCOMES) -> int:
    """The check that tells most a minute together with the best one after it."""
    rate = rates(now, options)
    best, value = int(np.argmax(rate)), -np.inf
    for a in np.argsort(-rate)[:first]:
        option = options[a]
        told, minutes = rate[a] * option.counted, option.counted
        others = [other for b, other in enumerate(options) if b != a]
        for chance, after in _after(now, option, tried):
            then = rates(after, others)
            b = int(np.argmax(then)) if others else -1
            if b >= 0:
                told += chance * then[b] * others[b].counted
                minutes += chance * others[b].counted
        if told / minutes > value:
            best, value = int(a), told / minutes
    return best


def _chances(now: Foreseen, option: Option) -> Array:
    assert option.line is not None
    at = option.columns[0]
    line = lines_of([option.line])
    return np.asarray(line.probabilities(now.mean[:, [at]], now.cov[:, [at], [at]])[:, 0])


def _after(now: Foreseen, option: Option, tried: int) -> list[tuple[float, Foreseen]]:
    """Outcomes of a check with their chances, and what is foreseen after each."""
    if option.line is not None:
        chance = _chances(now, option)
        whole = now.weight @ chance
        return [
            (float(whole[o]), Foreseen(now.weight * chance[:, o] / whole[o], now.group, now.mean, now.cov))
            for o in range(chance.shape[1])
            if whole[o] > 1e-6
        ]
    at = option.columns
    within = now.cov[:, at[:, None], at]
    y = outcomes(now.weight, now.mean[:, at], within, tried)
    log = np.log(np.maximum(now.weight, 1e-300))[:, None] + log_density(now.mean[:, at], within, y)
    weight = np.exp(log - log_sum(log, axis=0))
    pull = np.linalg.solve(within, now.cov[:, at]).transpose(0, 2, 1)  # (n, C, c)
    cov = now.cov - np.matmul(pull, now.cov[:, at])
    cov = cov + 1e-9 * np.eye(cov.shape[1])
    found = []
    for t, one in enumerate(y):
        mean = now.mean + np.einsum("nij,nj->ni", pull, one - now.mean[:, at])
        found.append((1.0 / len(y), Foreseen(weight[:, t], now.group, mean, cov)))
    return found
