"""Readings that do not go with the others: which, how surely, and what they may have been meant as."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.problem import Indices
from evenpour.causes.slip_kinds import Slip
from evenpour.job.causes.answers import ClashLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.facts import Told, agreeing, contradict
from evenpour.job.causes.words import named, reading_words, several_words, value_words
from evenpour.job.job import Job
from evenpour.machine.checks import NumberCheck
from evenpour.measure.showing import unit_for

SUSPECTED = 0.15  # that a check does not belong, from which it is told
MENDED = 0.1  # share of that which a slip must take up to be named
ALONE = 0.05  # that one value of a check is odd alone, from which it is told as the odd one
SUREST = 0.9999  # that a check does not belong, beyond which nothing is surer


@dataclass(frozen=True, slots=True)
class Clash:
    """A check that may not belong.

    Attributes:
        check: By its number among all readings.
        told: Of the odd the reading that lies farthest from what the likeliest explanation foresees.
        odd: Its readings that do not belong: some alone, those of a slip, or all.
        whole: Whether these are all of its readings.
        probability: That it does not belong, or was written wrongly.
        slips: What it may have been meant as, in words.
        mended: Share of the probability that slips take up.
    """

    check: int
    told: Told
    odd: tuple[Told, ...]
    whole: bool
    probability: float
    slips: tuple[str, ...]
    mended: float

    @property
    def what(self) -> str:
        """The check's id."""
        return self.told.observation.check.check


def clashes(case: Case) -> list[Clash]:
    """Checks that do not belong with the others, the surest first; of one word alone there are no others."""
    told = case.weighed.parts[0].told
    if len(told.seen.columns) == 1 and told.seen.columns.is_choice.all():
        return []
    found = []
    for check, p in zip(map(int, told.checks), map(float, case.weighed.does_not_belong), strict=True):
        if p >= SUSPECTED:
            slips = _slips(case, check)
            words = tuple(f"{slip_words(case, slip)}?" for slip, chance in slips if chance >= MENDED * p)
            mended = min(sum(chance for _, chance in slips) / p, 1.0)
            rows = np.flatnonzero(told.seen.columns.check == check)
            some = _odd(case, rows, p, slips)
            odd = tuple(case.read[int(row)] for row in some)
            whole = len(some) == len(rows)
            found.append(Clash(check, _far(case, some), odd, whole, min(p, SUREST), words, mended))
    return sorted(found, key=lambda one: -one.probability)


def _odd(case: Case, rows: Indices, probability: float, slips: Sequence[tuple[Slip, float]]) -> Indices:
    """Of the rows of a check those that do not belong: some alone, those of a slip, or all, whichever is
    likeliest, (k,).
    """
    odd = case.weighed.alone_astray()[rows]
    alone = min(float(odd.max()), 1.0)
    slip, slipped = max(slips, key=lambda one: one[1], default=(None, 0.0))
    whole = probability - alone - sum(chance for _, chance in slips)
    if slip is not None and slipped >= max(alone, whole):
        return np.intersect1d(slip.rows, rows)
    return rows if whole > alone else rows[odd >= 0.5 * alone]


def told_clashes(case: Case, found: Sequence[Clash]) -> list[ClashLine]:
    """The same in words, after the readings that contradict each other."""
    return [*contradictions(case.job, case.read), *(_line(case, one) for one in found)]


def _line(case: Case, clash: Clash) -> ClashLine:
    return ClashLine(
        what=clash.what,
        cylinder=clash.told.observation.query.cylinder if len(clash.odd) == 1 else None,
        entry=clash.told.entry,
        probability=clash.probability,
        words=_do_not_go(case, clash),
        slips=list(clash.slips),
    )


def as_typed(job: Job, told: Told) -> str:
    """A reading by name with its value, and as it was typed where that was in another unit: ``the system
    pressure, 0.34 bar (typed 4.9 psi)``.
    """
    words, value, group = reading_words(job, told), told.observation.value, told.group
    if group is None or value is None or len(group.facts) > 1 or len(group.facts[0].typed) > 1:
        return words
    assert group.check.dimension is not None
    unit = unit_for(group.check.dimension, job.system, group.check.prefer, value)
    return words if unit == group.reading.unit else f"{words} (typed {group.facts[0].typed[0]})"


def _do_not_go(case: Case, clash: Clash) -> str:
    job, others = case.job, len(case.weighed.parts[0].told.checks) > 1
    far = "far from what is usual of such a car"
    if len(clash.odd) == 1:
        so = "does not go with the other readings" if others or not clash.whole else f"is {far}"
        return f"{as_typed(job, clash.told)}, {so}"
    name = several_words(job, [] if clash.whole else clash.odd, clash.told)
    so = "do not go with the other readings" if others or not clash.whole else f"are {far}"
    return f"{name}: these {len(clash.odd)} values {so}"


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
    """The reading of a check that is likeliest to be the odd one alone; where all are odd together, the one
    that lies farthest from what the likeliest explanation foresees.
    """
    whole = case.weighed.parts[0].told
    rows = np.flatnonzero(whole.seen.columns.check == check)
    odd = case.weighed.alone_astray()[rows]
    if odd.max() > ALONE:
        return case.read[int(rows[int(np.argmax(odd))])]
    return _far(case, rows)


def _far(case: Case, rows: Indices) -> Told:
    """Of some readings the one that lies farthest from what the likeliest explanation foresees."""
    whole = case.weighed.parts[0].told
    likeliest = max(
        [(p, (h,)) for h, p in case.probability.items()]
        + [(p, one.which) for p, one in zip(case.joint_probability, case.joint, strict=True)]
    )[1]
    f = case.weighed.cars_of(likeliest)[0][whole.seen.columns.column[rows]]
    far = np.abs(whole.noise.columns.y[rows] - f) * whole.noise.per_sd[rows]
    return case.read[int(rows[int(np.argmax(far))])]


def _slips(case: Case, check: int) -> list[tuple[Slip, float]]:
    """Slips that may have been made in a check, with their probabilities, the likeliest first."""
    of_row = case.weighed.parts[0].told.seen.columns.check
    return [(slip, p) for slip, p in case.weighed.slips if np.any(of_row[slip.rows] == check)]


def slip_words(case: Case, slip: Slip) -> str:
    """A slip in words; where it is of a figure, with the one that was meant: ``meant 3.62 bar (psi ...)``."""
    check = case.read[int(slip.rows[0])].observation.check
    if len(slip.rows) > 1 or slip.elsewhere or not isinstance(check, NumberCheck):
        return slip.label
    value = float(check.uncompared(slip.y[0]))
    return f"meant {value_words(case.job, check.check, value)} ({slip.label})"
