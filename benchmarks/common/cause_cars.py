"""Cars with a known fault for the benchmark of the causes: how the model gets them wrong, what is said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.aside import Often, weighed
from evenpour.causes.explanation import Explanation, explain
from evenpour.causes.not_known import not_known
from evenpour.causes.observed import Observation
from evenpour.causes.problem import Array, Hypothesis
from evenpour.causes.suspects import Suspect, hypotheses, remedy_of, suspects
from evenpour.job.causes.prior import shipped_prior
from evenpour.job.engine_model import causes_of, kind_for
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Query
from simulated_cars import HOME, STANDARD, Mismatch, questions, read

KINDS: Mapping[str, Mismatch] = {
    "as modelled": Mismatch(),
    "spread 1.3 times, t6 tails": Mismatch(spread=1.3, tails=6.0),
    "noise 1.4 times": Mismatch(noise=1.4),
    "leaks go with pressure, engine's constants off by 6 %": Mismatch(constants=0.06, leak_law=1.0),
    "lever, plate and plunger off by 5 %": Mismatch(geometry=0.05),
    "all of these": Mismatch(spread=1.3, tails=6.0, noise=1.4, constants=0.06, leak_law=1.0, geometry=0.05),
    "one gauge off by 2.5 %, 8 % of words wrong": Mismatch(gauge=0.025, misread=0.08),
    "another day than said: 7 K, 150 m, E10": Mismatch(other_day=1.0, spread=1.15),
}
#: Kinds whose cases nobody looks at one by one, and nothing is chosen by.
KEPT_APART = tuple(KINDS)[-2:]
READ = 0.8  # chance that a usual check was read


@dataclass(frozen=True)
class World:
    """One kind of engine with everything that can be wrong with it."""

    kind: Kind
    listed: tuple[Suspect, ...]
    guesses: tuple[Hypothesis, ...]

    def explained(
        self, readings: Sequence[Observation], *, spread: float = 1.4, noise: float = 1.3
    ) -> Explanation:
        return explain(self.kind, self.listed, self.guesses, readings, HOME, spread=spread, noise=noise)

    def remedies(self) -> list[str]:
        return [remedy_of(one) for one in self.listed]


@dataclass(frozen=True)
class Car:
    """One car: its fault (0 is none), how bad, and how it is read."""

    fault: int
    severity: float
    asked: tuple[Query, ...]
    seed: int

    def readings(self, world: World, how: Mismatch) -> tuple[Observation, ...]:
        random = np.random.default_rng(self.seed)
        return read(world.kind, world.listed, self.fault, self.severity, self.asked, random, how)


def world_of(sheet: str) -> World:
    kind = kind_for(sheet)
    prior = shipped_prior()
    listed = suspects(kind, causes_of(kind))
    cylinders = kind.design.cylinders

    def weight(one: Suspect) -> float:
        assert one.cause is not None
        return prior.weights[one.cause.id] / (cylinders if one.cause.per_cylinder else 1)

    return World(kind, listed, hypotheses(listed, prior.nothing_wrong, weight))


def car(world: World, key: Sequence[int], *, sound: bool | None = None, least: float = 0.0) -> Car:
    """A car drawn as the tool believes cars to be: its fault by how common it is, how bad evenly.

    Args:
        key: Of the random numbers; the same key is the same car.
        sound: Whether it is to have no fault; None leaves it to chance.
        least: Severity of the mildest.
    """
    random = np.random.default_rng(list(key))
    weights = np.exp([one.log_prior for one in world.guesses])
    if sound is False:
        weights[0] = 0.0
    fault = int(random.choice(len(weights), p=weights / weights.sum()))
    if sound:
        fault = 0
    severity = float(random.uniform(least, 1.0))
    asked = questions(world.kind, [check for check in STANDARD if random.random() < READ])
    return Car(fault, severity, tuple(asked), int(random.integers(1 << 31)))


def told(world: World, one: Car, kind: str) -> dict[str, object]:
    """What is said of a car, as plain values; two causes at once, slips and what is not known are weighed in,
    as in the answer to a job. How likely a cause is counts it alone and with another.
    """
    said = answered(world.explained(one.readings(world, KINDS[kind])))
    p = said.probability
    suspect = world.listed[one.fault]
    named = world.listed[int(np.argmax(p))]
    remedies = world.remedies()
    by_remedy: dict[str, float] = {}
    for remedy, chance in zip(remedies, p, strict=True):
        by_remedy[remedy] = by_remedy.get(remedy, 0.0) + float(chance)
    mine = by_remedy[remedies[one.fault]]
    return {
        "kind": kind,
        "cause": suspect.id,
        "cylinder": suspect.cylinder,
        "severity": one.severity,
        "readings": len(one.asked),
        "named": f"{named.id}{f'[{named.cylinder}]' if named.cylinder else ''}",
        "stated": float(p.max()),
        "truth": float(p[one.fault]),
        "rank": int((p > p[one.fault]).sum()) + 1,
        "rank_among_causes": int((p[1:] > p[one.fault]).sum()) + 1 if one.fault else 0,
        "rank_of_remedy": sum(chance > mine for chance in by_remedy.values()) + 1,
        "blamed": float(p[1:].max()),
        "sound": float(p[0]),
        "unexplained": said.unexplained,
        "identifiable": one.fault > 0 and identifiable(world, one),
    }


@dataclass(frozen=True)
class Answered:
    """What is said of a car.

    Attributes:
        probability: Of each hypothesis, alone or with another, (H,).
        strange: Of a fault that is not known here.
        unexplained: Of that, and of a sound car with a reading that does not belong.
        astray: That some check does not belong, what is wrong being known.
    """

    probability: Array
    strange: float
    unexplained: float
    astray: float


def answered(told: Explanation) -> Answered:
    """With all that the answer to a job weighs in."""
    prior = shipped_prior()
    found = weighed(told, Often(prior.pairs, prior.several))
    strange = not_known(found, prior.not_known)
    p = found.probability.copy()
    odd = strange.odd * p[0]
    p[0] -= odd
    for which, chance in found.joint.items():
        p[list(which)] += chance
    known = 1.0 - strange.probability
    astray = float(min(found.does_not_belong.sum(), 1.0))
    return Answered(known * p, strange.probability, strange.probability + known * odd, astray)


def identifiable(world: World, one: Car) -> bool:
    """Whether the very model that made the readings puts the truth first at odds of 3 to 1."""
    p = world.explained(one.readings(world, Mismatch()), spread=1.0, noise=1.0).probability
    return bool(p[one.fault] > 3.0 * np.delete(p, one.fault).max())


def with_questions(one: Car, asked: Sequence[Query]) -> Car:
    """The same car, asked other things."""
    return replace(one, asked=tuple(asked))
