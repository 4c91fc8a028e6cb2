"""What is believed of a car before anything is read on it: as shipped, and moved by one's own closed jobs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache

from evenpour import data
from evenpour.causes.along import Along
from evenpour.causes.priors import STRENGTH, learned
from evenpour.measure.plain import number_of, only, table_of, texts_of

NOTHING_WRONG = "nothing_wrong"


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed before any reading.

    Attributes:
        nothing_wrong: That nothing known here is, of a car that was brought because something is off.
        pairs: Where something known here is wrong, that it is two causes at once.
        several: Of a cause of one cylinder, how often three cylinders or more have it.
        not_known: That what is wrong is no cause known here.
        weights: How common each cause is against the others, by id: the sum over cylinders.
        after: What a touch leaves of the weight of the touched part's causes, by action.
        along: Parts that come along when another is touched.
        told: In words, whose jobs moved it; empty as shipped.
    """

    nothing_wrong: float
    pairs: float
    several: float
    not_known: float
    weights: Mapping[str, float]
    after: Mapping[str, float]
    along: Along
    told: str = ""


@dataclass(frozen=True, slots=True)
class Counts:
    """What was found in closed jobs.

    Attributes:
        causes: How many jobs each cause was confirmed in, by id.
        nothing_wrong: Jobs in which nothing was wrong.
        two_at_once: Jobs in which more than one cause was confirmed.
        jobs: All jobs counted here.
    """

    causes: Mapping[str, int] = field(default_factory=dict)
    nothing_wrong: int = 0
    two_at_once: int = 0
    jobs: int = 0

    def __add__(self, other: Counts) -> Counts:
        ids = dict.fromkeys((*self.causes, *other.causes))
        return Counts(
            {one: self.causes.get(one, 0) + other.causes.get(one, 0) for one in ids},
            self.nothing_wrong + other.nothing_wrong,
            self.two_at_once + other.two_at_once,
            self.jobs + other.jobs,
        )


@cache
def shipped_prior() -> Prior:
    """The prior as the data says it: common practice, no source."""
    values = data.shipped("causes.toml").values
    weights = {str(table["id"]): float(table["weight"]) for table in values["cause"]}
    return Prior(
        values["nothing_wrong"],
        values["pairs"],
        values["several"],
        values["not_known"],
        weights,
        values["after"],
        come_along(),
    )


@cache
def come_along() -> Along:
    """What comes along when a part is touched, as the data says it."""
    values = data.shipped("causes.toml").values
    return Along(values["inside"], values["leaves"])


@cache
def only_by_hand() -> frozenset[str]:
    """The causes that come by no wear and no dirt but by a hand alone, as the data says it."""
    return frozenset(data.shipped("causes.toml").values["by_hand"])


@dataclass(frozen=True, slots=True)
class SetFor:
    """What becomes of the mixture screw once something is mended for which it may have been set.

    Attributes:
        times: As much likelier it stands wrong.
        read_by: The checks that show so, by cause.
    """

    times: float
    read_by: Mapping[str, frozenset[str]]


@cache
def set_for() -> SetFor:
    """The same, as the data says it."""
    values = data.shipped("causes.toml").values["set_for"]
    only(values, ("times", "read_by"), "what the screw was set for")
    read_by = table_of(values, "read_by")
    return SetFor(
        number_of(values, "times", 1.0), {one: frozenset(texts_of(read_by, one)) for one in read_by}
    )


def chances(prior: Prior) -> dict[str, float]:
    """Probability of every cause, and of nothing wrong, before any reading; they sum to 1."""
    whole = sum(prior.weights.values())
    causes = {one: (1.0 - prior.nothing_wrong) * weight / whole for one, weight in prior.weights.items()}
    return {NOTHING_WRONG: prior.nothing_wrong, **causes}


def moved_prior(shipped: Prior, counts: Counts, told: str = "") -> Prior:
    """The prior after so many closed jobs; as shipped where none is counted.

    The shipped figures count as :data:`~evenpour.causes.priors.STRENGTH` jobs already seen, so a handful of
    own jobs shifts them and some forty outweigh them. Causes that the catalogue no longer has are passed
    over.
    """
    if counts.jobs == 0:
        return shipped
    found = learned(chances(shipped), {**counts.causes, NOTHING_WRONG: counts.nothing_wrong})
    seen = STRENGTH * (1.0 - shipped.nothing_wrong)  # jobs with something wrong
    pairs = (seen * shipped.pairs + counts.two_at_once) / (seen + counts.jobs - counts.nothing_wrong)
    nothing = found.pop(NOTHING_WRONG)
    return replace(shipped, nothing_wrong=nothing, pairs=pairs, weights=found, told=told)
