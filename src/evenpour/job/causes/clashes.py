"""Readings that do not go with the others: which, how surely, and whether a plain slip would put them
right.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.explanation import WIDER_NOISE, Explanation, strays
from evenpour.causes.laplace import Modes, settle
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Array, Columns, Indices, Slip
from evenpour.causes.seen import noise_of
from evenpour.causes.unexplained import Variant, log_flat, slips_of
from evenpour.job.causes.answers import ClashLine
from evenpour.job.causes.case import Case, kept
from evenpour.job.causes.facts import Told, agreeing, contradict
from evenpour.job.causes.words import named, reading_words, value_words
from evenpour.job.job import Job
from evenpour.machine.checks import NumberCheck

SUSPECTED = 0.15  # that a check does not belong, from which it is looked into
MENDED = 0.15  # share of that which a slip must take up to be named
SUREST = 0.9999  # that a check does not belong, beyond which nothing is surer
NODES = 12  # that a slip is tried at


@dataclass(frozen=True, slots=True)
class Clash:
    """A check that may not belong.

    Attributes:
        check: By its number among all readings.
        told: Its reading that lies farthest from what the likeliest explanation foresees.
        probability: That it does not belong.
        mended: Share of that which plain slips take up.
    """

    check: int
    told: Told
    probability: float
    slips: tuple[str, ...]
    mended: float

    @property
    def what(self) -> str:
        """The check's id."""
        return self.told.observation.check.check


def clashes(case: Case) -> tuple[list[Clash], float]:
    """Checks that do not belong, and how much of "nothing wrong" is really something that is not known here.

    A cause that explains all but one reading stays that cause, with the one reading told as a clash. Where
    no cause explains the odd one and the rest is sound, it is no cause that is known here, unless a plain
    slip mends it.
    """
    apart = _apart(case)
    looked_into = {check: max(p, _where_sound(case, check)) for check, p in apart.items()}
    found = []
    mended = {check: 1.0 for check in apart if _cannot_be(case, check)}
    for check in sorted(apart, key=lambda one: -apart[one]):
        if looked_into[check] < SUSPECTED:
            continue
        slips, taken_up = _slips(case, check)
        mended.setdefault(check, taken_up)
        if apart[check] >= SUSPECTED:
            found.append(Clash(check, farthest(case, check), apart[check], tuple(slips), mended[check]))
    return found, _unexplained(case, mended)


def told_clashes(case: Case, found: Sequence[Clash]) -> list[ClashLine]:
    """The same in words, after the readings that contradict each other."""
    lines = list(contradictions(case.job, case.read))
    for one in found:
        observation = one.told.observation
        lines.append(
            ClashLine(
                what=one.what,
                cylinder=observation.query.cylinder,
                entry=one.told.entry,
                probability=one.probability,
                words=f"{reading_words(case.job, one.told)}, does not go with the other readings",
                slips=list(one.slips),
            )
        )
    return lines


def _apart(case: Case) -> dict[int, float]:
    """Probability that each check does not belong, by its number."""
    weighed = case.weighed
    main = weighed.parts[weighed.main]
    found = dict(
        zip(map(int, main.told.checks), map(float, weighed.does_not_belong(weighed.main)), strict=True)
    )
    for place, check in enumerate(main.aside, start=1):
        found[check] = math.fsum(weighed.share[place:])
    return {check: min(p, SUREST) for check, p in found.items()}


def _cannot_be(case: Case, check: int) -> bool:
    """Whether a check reads what no car can: that is a slip of some kind, named or not."""
    rows = np.flatnonzero(case.weighed.parts[0].told.seen.columns.check == check)
    return any(
        one.sense is not None and one.value is not None and not one.sense[0] <= one.value <= one.sense[1]
        for one in (case.read[row].observation for row in rows)
    )


def _where_sound(case: Case, check: int) -> float:
    """Of nothing wrong with the car: the share in which a check does not belong."""
    told = case.weighed.parts[case.weighed.main].told
    at = np.flatnonzero(told.checks == check)
    return float(np.exp(told.odd[0, at] - strays(told.odd[:1])[0]).sum())


def _unexplained(case: Case, mended: Mapping[int, float]) -> float:
    """Of nothing wrong with the car: where a reading speaks against it and no slip mends that."""
    plain, whole = 0.0, float(case.weighed.probability[0])
    for part in case.weighed.parts:
        told = part.told
        its = np.exp(told.odd[0] - strays(told.odd[:1])[0])  # of each check, that it does not belong besides
        slips = np.array([mended.get(int(check), 0.0) for check in told.checks])
        aside = math.prod(mended.get(check, 0.0) for check in part.aside)
        plain += float(case.weighed.singles(part)[0]) * aside * float(1.0 - its.sum() + its @ slips)
    return min(max(1.0 - plain / max(whole, 1e-300), 0.0), 1.0)


def contradictions(job: Job, told: Sequence[Told]) -> Iterator[ClashLine]:
    """Readings of the same, taken alike, that lie further apart than gauge and repeating let them."""
    for one in told:
        check, group = one.observation.check, one.group
        if group is None or not isinstance(check, NumberCheck) or len(group.reading.values) < 2:
            continue
        values = group.reading.values
        if contradict(check, values, group.reading.u_b):
            outvoted = len(agreeing(check, values, group.reading.u_b)) < len(values)
            rest = "those that agree are counted" if outvoted else "read it again"
            low, high = (value_words(job, check.check, value) for value in (min(values), max(values)))
            name = named(job.known.checks[check.check])
            yield ClashLine(
                what=check.check,
                cylinder=one.observation.query.cylinder,
                entry=one.entry,
                probability=1.0,
                words=f"{name} was read as {low} and as {high}: these contradict each other; {rest}",
                slips=[],
            )


def farthest(case: Case, check: int) -> Told:
    """The reading of a check that lies farthest from what the likeliest explanation foresees."""
    whole, explained = case.weighed.parts[0].told, case.explanation
    rows = np.flatnonzero(whole.seen.columns.check == check)
    best = int(np.argmax(explained.node_weight))
    f = explained.fitted.modes.f[best][whole.seen.columns.column[rows]]
    far = np.abs(whole.noise.columns.y[rows] - f) * whole.noise.per_sd[rows]
    return case.read[int(rows[int(np.argmax(far))])]


@dataclass(frozen=True, slots=True)
class _Tried:
    """What the slips of a check are tried on: the readings, and the places that fit without the check."""

    told: Explanation
    read: tuple[Told, ...]
    columns: Columns
    modes: Modes
    log: Array  # log weight of every place with the check set aside, (N,)


def _tried(case: Case, check: int) -> _Tried:
    weighed = case.weighed
    whole = weighed.parts[0].told.seen.columns
    main = weighed.parts[weighed.main]
    without = [main] if check in main.aside else [part for part in weighed.parts if check in part.aside][:1]
    grid = main.told.fitted.grid
    prior = grid.log_prior[grid.owner] + grid.log_weight
    if without:
        others = tuple(one for one in without[0].aside if one != check)
        columns = whole.keep(~np.isin(whole.check, others))
        told, modes = without[0].told, without[0].told.fitted.modes
        log = prior + modes.log_evidence + log_flat(whole, [check])
        return _Tried(told, kept(case.read, weighed, others), columns, modes, log)
    told, g = main.told, int(np.flatnonzero(main.told.checks == check)[0])
    modes = told.again.get(g, told.fitted).modes
    log = prior + told.fitted.modes.log_evidence + told.odd[:, g]
    return _Tried(told, case.told, told.seen.columns, modes, log)


def _slips(case: Case, check: int) -> tuple[list[str], float]:
    """Slips that would put a check right, and the share of its not belonging that they take up."""
    tried = _tried(case, check)
    level = float(log_sum(tried.log))
    nodes = np.argsort(-tried.log, kind="stable")[:NODES]
    variants = slips_of(tried.columns, check)
    own = [one for one in tried.columns.slips if tried.columns.check[one.rows[0]] == check]
    found = [
        (_weight(tried, variant, nodes), _meant(case.job, tried.read[int(one.rows[0])], one))
        for variant, one in zip(variants, own, strict=True)
    ]
    if not found:
        return [], 0.0
    total = float(log_sum(np.array([level, *[weight for weight, _ in found]])))
    shares = sorted(((math.exp(weight - total), label) for weight, label in found), reverse=True)
    named = [f"{label}?" for share, label in shares if share >= MENDED]
    return named, math.fsum(share for share, _ in shares)


def _meant(job: Job, told: Told, slip: Slip) -> str:
    """A slip in words, with the figure that was meant where it is one: ``meant 3.62 bar (psi ...)``."""
    check = told.observation.check
    if len(slip.rows) > 1 or not isinstance(check, NumberCheck):
        return slip.label
    value = float(check.uncompared(slip.y[0]))
    return f"meant {value_words(job, check.check, value)} ({slip.label})"


def _weight(tried: _Tried, variant: Variant, nodes: Indices) -> float:
    """Log weight of the readings with a slip put right, over the nodes tried."""
    heard = noise_of(variant.columns.noisier(WIDER_NOISE))
    grid = tried.told.fitted.grid
    prior = grid.log_prior[grid.owner[nodes]] + grid.log_weight[nodes]
    again = settle(heard, tried.told.severe.predict, nodes, tried.modes.take(nodes), renew=0.5, most=5)
    return float(log_sum(prior + again.log_evidence)) + variant.log_prior
