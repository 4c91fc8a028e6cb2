"""What a trace is held against: a sheet, conditions, a gauge; and the readings that are made of it."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from evenpour.errors import FieldProblem, unknown
from evenpour.job.answers import JudgedReading
from evenpour.job.catalogue import Catalogue
from evenpour.job.entries import Draft, linked
from evenpour.job.growth import grown
from evenpour.job.job import Job, job_from
from evenpour.job.opening import open_job
from evenpour.job.typed_words import split_pairs
from evenpour.machine.sheet import Sheet
from evenpour.measure.instruments import Instrument
from evenpour.measure.readings import Condition, read_condition
from evenpour.measure.unit_table import step_of
from evenpour.measure.units import in_unit
from evenpour.physics.air import standard_pressure
from evenpour.tune.laws import Told

ADDS = 0.25  # of the gauge's doubt: less from the fit adds 3 % at most
FIELDS = {"with": "instrument", "instrument": "instrument", "who": "who", "note": "note"}


@dataclass(frozen=True, slots=True)
class Bench:
    """A job, or a bare sheet, and what was typed beside it.

    Attributes:
        job: The job; of a bare sheet one without readings.
        stated: Conditions typed for this trace, by name.
        fields: Instrument, who and note, where typed.
    """

    job: Job
    stated: Mapping[str, str]
    fields: Mapping[str, str]

    @property
    def sheet(self) -> Sheet:
        """The engine's."""
        return self.job.sheet

    @property
    def known(self) -> Catalogue:
        """All checks and conditions."""
        return self.job.known

    @property
    def instrument(self) -> Instrument | None:
        """What it was recorded with, where that was said."""
        name = self.fields.get("instrument")
        if name is None:
            return None
        if name not in self.job.facts.instruments:
            raise unknown("instrument", name, self.job.facts.instruments, kind="instrument of this job")
        return self.job.facts.instruments[name]

    def gauge_u(self, check: str, value: float) -> float:
        """Standard uncertainty of the gauge at *value*, SI; what is assumed where none is known."""
        found = self.known.checks[check]
        if self.instrument is not None and (u := self.instrument.u_at(value)) > 0.0:
            return u
        return float((found.assumed_error**2 + (found.assumed_relative * value) ** 2) ** 0.5 / 3.0**0.5)

    def step_of_gauge(self, check: str) -> float:
        """The gauge's smallest step, SI; where none is known, the error that is assumed of it."""
        found = self.instrument.resolution if self.instrument is not None else 0.0
        return found or float(self.known.checks[check].assumed_error)

    def condition(self, name: str) -> Condition | None:
        """A condition that was typed, or that the job states for all readings."""
        if name in self.stated:
            return read_condition(self.known.kinds[name], self.stated[name])
        return self.job.facts.general.get(name)

    def value(self, name: str) -> float | None:
        """A condition's value, SI."""
        found = self.condition(name)
        return found.value if found else None

    @property
    def air_pressure(self) -> float:
        """The barometer at the stated height, [Pa]; at the sea where none is stated."""
        return float(standard_pressure(self.value("altitude") or 0.0))


def bench(job: str | Job | None, sheet: str | None, words: Sequence[str], units: str | None) -> Bench:
    """What the trace is held against.

    Args:
        job: A job file or a stored job's number, or the job itself.
    Raises:
        FieldProblem: neither a job nor a sheet is named, or both; or a word says nothing, or no such thing.
    """
    if (job is None) == (sheet is None):
        raise FieldProblem(
            "sheet",
            sheet,
            "is missing" if job is None else "stands beside a job, which has its own",
            remedy="Say --sheet flat-six, or --job 3",
        )
    if job is not None:
        opened = open_job(job, units=units) if isinstance(job, str) else job
    else:
        alone = linked([Draft("engine", {"sheet": sheet}, id="engine")])
        opened = job_from(f"sheet {sheet}", alone, units=units)
    plain, pairs = split_pairs(words)
    if plain:
        raise FieldProblem(
            "words", " ".join(plain), "say nothing here", allowed="conditions like voltage=12.1V, with=, who="
        )
    stated = {name: text for name, text in pairs.items() if name not in FIELDS}
    for name in stated:
        if name not in opened.known.kinds:
            raise unknown("condition", name, opened.known.kinds, kind="condition")
        read_condition(opened.known.kinds[name], stated[name])
    return Bench(opened, stated, {FIELDS[name]: text for name, text in pairs.items() if name in FIELDS})


def reading_draft(
    at_bench: Bench,
    check: str,
    value: str,
    conditions: Mapping[str, str],
    source: Mapping[str, str],
    *,
    at: str | None = None,
    sure: bool = False,
) -> Draft:
    """A reading as it goes into a job.

    Args:
        conditions: That the trace itself tells; what was typed stands against them.
        source: File, its hash, and the rows.
    """
    carried = {*at_bench.known.checks[check].conditions, *at_bench.known.everywhere}
    typed = {name: text for name, text in at_bench.stated.items() if name in carried}
    content: dict[str, Any] = {"what": check, "value": value, "conditions": {**conditions, **typed}, **source}
    content |= at_bench.fields
    if sure:
        content["sure"] = True
    key = "|".join([check, value, repr(sorted(content["conditions"].items())), *source.values()])
    return Draft("reading", content, f"trace-{hashlib.sha256(key.encode()).hexdigest()[:12]}", at)


def typed(told: Told, gauge_u: float, unit: str, dimension: str = "pressure") -> str:
    """A figure of a fit as a reading's value; with its doubt where the fit adds to the gauge's.

    Args:
        told: In SI, without the gauge's doubt.
        gauge_u: The gauge's standard uncertainty, which a bare value gets anyway.
    """
    value = in_unit(told.value, unit, dimension)
    if told.u < ADDS * gauge_u:
        return f"{value:.4g} {unit}"
    half = 3.0**0.5 * math.hypot(told.u, gauge_u)  # as a half-width is read: anywhere within it
    return f"{value:.4g} ± {in_unit(half, unit, step_of(dimension)):.2g} {unit}"


def refuse_unused(at_bench: Bench, checks: Sequence[str]) -> None:
    """A condition that no reading of this trace can carry is a slip.

    Raises:
        UnknownName: naming it, and those that are carried.
    """
    carried = {
        *at_bench.known.everywhere,
        *(n for check in checks for n in at_bench.known.checks[check].conditions),
    }
    for name in at_bench.stated:
        if name not in carried:
            raise unknown("condition", name, sorted(carried), kind="condition of what this trace reads")


def judged(at_bench: Bench, drafts: Sequence[Draft]) -> list[JudgedReading]:
    """The readings held against the sheet, without keeping them."""
    if not drafts:
        return []
    job, names = at_bench.job, {draft.id for draft in drafts}
    before = [entry for entry in job.entries if entry.id not in names]  # one kept already is judged anew
    added, _ = grown(before, list(drafts), fill_time=True)
    new = {entry.id for entry in added} | names
    after = job_from(job.name, [*before, *added], number=job.number, units=job.units)
    return [row for row in after.judge().readings if new & set(row.entries)]


def p_within(told: Told, low: float | None, high: float | None) -> float:
    """Probability that a figure lies within limits, by its 95 % taken as of a normal distribution."""
    from evenpour.measure.verdicts import p_conform

    return p_conform(told.value, told.u, low, high)
