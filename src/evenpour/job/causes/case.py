"""A job's readings explained: what all that is told of its causes is told from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evenpour.causes.explanation import Explanation
from evenpour.causes.two_faults import Pair
from evenpour.job.causes.answers import CauseName
from evenpour.job.causes.facts import Told
from evenpour.job.job import Job
from evenpour.machine.kind import Kind
from evenpour.machine.situation import Situation


@dataclass(frozen=True, slots=True)
class Case:
    """A job's readings explained. ``told`` run alike with the explanation's observations."""

    job: Job
    kind: Kind
    home: Situation
    told: tuple[Told, ...]
    explanation: Explanation
    pairs: tuple[Pair, ...]
    left_out: tuple[str, ...]
    probability: Mapping[int, float]  # of single hypotheses
    pair_probability: tuple[float, ...]


def name_of(case: Case, h: int) -> CauseName:
    """A hypothesis by its cause and cylinder."""
    one = case.explanation.suspects[h]
    return CauseName(cause=one.id, cylinder=one.cylinder)


def marginal(case: Case) -> dict[int, float]:
    """How likely each cause is, alone or with another."""
    share = dict(case.probability)
    for p, pair in zip(case.pair_probability, case.pairs, strict=True):
        share[pair.first] += p
        share[pair.second] += p
    return share
