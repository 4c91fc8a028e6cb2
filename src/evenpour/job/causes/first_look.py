"""The first look after a reading: how likely each cause is now, before what speaks for and against is known.

The jobs explained lately are held in the process that explained them. When readings have been added since,
the last explanation is carried on by them, which takes a small part of the time of a full answer. What cannot
be carried on (a reading mended or left out, another sheet, many readings at once) gets no first look.
"""

from __future__ import annotations

import math
import threading
from collections import Counter, OrderedDict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from evenpour.causes.first_answer import first_answer
from evenpour.causes.observed import Observation, key_of
from evenpour.causes.problem import Array
from evenpour.causes.slips import meant
from evenpour.job.causes.answers import CauseLine
from evenpour.job.causes.asked import asked_now
from evenpour.job.causes.case import Case
from evenpour.job.causes.facts import Told
from evenpour.job.causes.listed import listed, named
from evenpour.job.causes.prior import Prior
from evenpour.job.job import Job

HELD: Final = 4  # explained jobs, of some 30 MB each where the readings are many
LEAST: Final = 1e-300  # probability that has a logarithm

_lock = threading.Lock()
_held: OrderedDict[Hashable, Case] = OrderedDict()


@dataclass(frozen=True, slots=True)
class FirstLook:
    """How likely each cause is, and no more: the lines tell no reasons and no severity.

    ``unexplained``: that it is something that is not known here, as it was before.
    """

    causes: tuple[CauseLine, ...]
    nothing_wrong: float
    unexplained: float
    others: float
    readings: int


def hold(of: Hashable, case: Case) -> None:
    """Hold the newest explanation of a job; the one unasked longest is let go."""
    with _lock:
        _held[of] = case
        _held.move_to_end(of)
        while len(_held) > HELD:
            _held.popitem(last=False)


def held(of: Hashable) -> Case | None:
    """The last explanation of a job, if it is still held."""
    with _lock:
        if of in _held:
            _held.move_to_end(of)
        return _held.get(of)


def first_look(before: Case, job: Job, prior: Prior) -> FirstLook | None:
    """How likely each cause is with all readings of a job, from what was said of all but the newest.

    Returns:
        None where the last explanation cannot be carried on.
    """
    asked = asked_now(job, prior)
    if asked.kind is not before.kind or asked.home != before.home:
        return None
    log = first_answer(before.explanation, asked.guesses, _belonging(before, asked.told))
    if log is None:
        return None
    now = replace(_carried(before, log), job=job, told=asked.told, left_out=asked.left_out)
    lines = tuple(
        CauseLine.model_validate({
            **named(now, one), "severity": None, "severity_u": None,
            "severity_words": "", "for": [], "against": [], "if_mended": [], "part": None, "remedy": None,
        })
        for one in listed(now)
    )  # fmt: skip
    nothing = now.probability[0] * (1.0 - before.odd)
    strange = max(1.0 - math.fsum([*before.probability.values(), *before.joint_probability]), 0.0)
    unexplained = strange + now.probability[0] * before.odd
    others = max(1.0 - nothing - unexplained - math.fsum(line.probability for line in lines), 0.0)
    return FirstLook(lines, nothing, unexplained, others, len({one.entry for one in asked.told}))


def _belonging(before: Case, told: Sequence[Told]) -> list[Observation]:
    """All readings but those that the last answer set aside, slips that it found put right."""
    aside = Counter(map(_sign, before.read)) - Counter(map(_sign, before.told))
    right: dict[object, Observation] = {}
    if before.slips:
        whole = [one.observation for one in before.read]
        mended = meant(whole, before.slips)
        rows = [int(row) for slip in before.slips for row in slip.rows]
        right = {(_sign(before.read[row]), whole[row].value): mended[row] for row in rows}
    return [
        right.get((_sign(one), one.observation.value), one.observation)
        for one in told
        if not aside[_sign(one)]
    ]


def _sign(one: Told) -> tuple[object, ...]:
    return (one.entry, key_of(one.observation.query))


def _carried(before: Case, log_posterior: Array) -> Case:
    """The same with every probability moved as far as its causes' evidence has moved.

    Several causes at once gain what each of them gains over the healthy car, but no more than what explains
    the new readings best: that is exact where only one of them changes what was read.
    """
    gained = log_posterior - before.explanation.log_posterior
    singles = np.array([before.probability[h] for h in range(len(gained))])
    joint = np.array([_gained(gained, one.which) for one in before.joint])
    were = np.concatenate([singles, np.array(before.joint_probability)])
    log = np.log(np.maximum(were, LEAST)) + np.concatenate([gained, joint])
    weight = np.exp(log - log.max())
    share = [float(one) for one in were.sum() * weight / weight.sum()]
    probability = dict(enumerate(share[: len(singles)]))
    return replace(before, probability=probability, joint_probability=tuple(share[len(singles) :]))


def _gained(gained: Array, which: tuple[int, ...]) -> float:
    some = gained[list(which)]
    return float(min(some.sum() - (len(some) - 1) * gained[0], max(some.max(), gained[0])))
