"""A job as the faces see it: its journal understood, judged, and answered from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from evenpour.errors import FieldProblem, Place, Problem, Problems, unknown
from evenpour.job import chain, history, job_file, times
from evenpour.job.answers import (
    CatchAnswer,
    CautionLine,
    HistoryLine,
    JudgeAnswer,
    OverrideLine,
    PathAnswer,
    RenewedLine,
    ScrewMove,
    StepTold,
)
from evenpour.job.catalogue import Catalogue, catalogue, plan_for
from evenpour.job.catch.answer import catch_answer
from evenpour.job.catch.catching import Weighed, weigh
from evenpour.job.catch.uneven import UnevenCatch, uneven_catches
from evenpour.job.collector import PlaceOf
from evenpour.job.entries import Entry
from evenpour.job.exchanges import exchanged_now
from evenpour.job.facts import Facts, facts_from
from evenpour.job.fold import Folded, fold
from evenpour.job.instruments import calibrations
from evenpour.job.judge_answer import judge_answer
from evenpour.job.judging import Judged, judged_readings
from evenpour.job.path_answer import path_answer
from evenpour.job.pathway import events_of
from evenpour.job.photos import Photo, photos_of
from evenpour.job.sheet.answers import SheetAnswer
from evenpour.job.sheet.found import find_sheet
from evenpour.job.step_told import step_told
from evenpour.job.trace.answers import KeptRecording
from evenpour.job.trace.recordings import kept
from evenpour.machine.sheet import Sheet
from evenpour.path.events import Event
from evenpour.path.fold import fold as fold_path
from evenpour.path.plan import Plan
from evenpour.path.state import PathState


@dataclass(frozen=True)
class Job:
    """One car's visit.

    ``units`` is the user's system of units; None leaves readings in the units they were typed in.
    """

    name: str
    number: int | None
    entries: tuple[Entry, ...]
    folded: Folded
    sheet: Sheet
    facts: Facts
    plan: Plan
    known: Catalogue
    units: str | None = None

    @property
    def system(self) -> str:
        """The system of units for everything that nobody typed."""
        return self.units or "metric"

    @cached_property
    def engine(self) -> Mapping[str, Any]:
        """What ``[engine]`` says: the sheet, and the car where it was named."""
        return next((one.content for one in self.folded.standing if one.kind == "engine"), {})

    @property
    def sheet_name(self) -> str:
        """The sheet as ``[engine]`` names it: an id, or a path."""
        return str(self.engine.get("sheet", self.sheet.id))

    @property
    def closed(self) -> bool:
        """Whether the job has been closed: nothing but notes and corrections comes after."""
        return bool(self.facts.of_kind("closed"))

    @cached_property
    def chain_head(self) -> str:
        """The hash that vouches for every entry before it."""
        return chain.head(self.entries)

    @cached_property
    def newest(self) -> str | None:
        """The time of the newest entry that stands; None where nobody noted any."""
        noted = [one.at for one in self.folded.standing if one.at is not None]
        return max(noted, key=times.instant, default=None)

    @cached_property
    def judged(self) -> tuple[Judged, ...]:
        """Every reading with its verdict."""
        return judged_readings(self.facts, self.sheet, self.known, self.plan, self.system)

    @cached_property
    def weighed(self) -> Weighed | None:
        """All catches weighed together; None where nothing was caught."""
        return weigh(self.facts, self.sheet)

    @cached_property
    def state(self) -> PathState:
        """Where the path stands, as of the newest entry: a journal says the same whenever it is read."""
        return fold_path(self.plan, self.events)

    @cached_property
    def events(self) -> tuple[Event, ...]:
        """What the path is told, in order."""
        now = None if self.closed else self.newest
        return tuple(events_of(self.facts, self.judged, self.sheet, self.known, self.plan, now=now))

    def judge(self) -> JudgeAnswer:
        """Every reading held against the sheet."""
        return judge_answer(self.judged, self.sheet, self.units)

    def path(self) -> PathAnswer:
        """Where the job stands and what comes next."""
        return self._path

    def catch(self) -> CatchAnswer:
        """What the catches say."""
        return self._catch

    @cached_property
    def _path(self) -> PathAnswer:
        uneven = [one.words for one in self.uneven]
        return path_answer(
            self.state, self.judged, self.facts, self.sheet, self.known, self.system, uneven=uneven
        )

    @cached_property
    def _catch(self) -> CatchAnswer:
        return catch_answer(self.facts, self.weighed, self.sheet, self.units, exchanged_now(self))

    @cached_property
    def uneven(self) -> tuple[UnevenCatch, ...]:
        """The catches that are outside now."""
        return uneven_catches(self.facts, self.weighed, self.sheet)

    def step(self, name: str) -> StepTold:
        """One step whole, with this sheet's figures in it.

        Raises:
            UnknownName: this engine's path has no such step.
        """
        if name not in self.plan.step:
            raise unknown("step", name, self.plan.step, kind="step of this engine's path")
        return step_told(
            self.plan.step[name], self.path(), self.cautions(), self.sheet, self.known, self.system
        )

    def ledger(self) -> list[ScrewMove]:
        """Every move of every screw."""
        return history.ledger(self.facts)

    def history(self) -> list[HistoryLine]:
        """The journal in words."""
        return history.history(self.folded, self.known)

    def corrections(self) -> list[HistoryLine]:
        """Every correction and why it was made."""
        return history.corrections_of(self.entries)

    def overrides(self) -> list[OverrideLine]:
        """Who answered for going on, and why."""
        return history.overrides(self.facts, self.known)

    def cautions(self) -> list[CautionLine]:
        """The cautions of what was done, and who read them."""
        return history.cautions(self.state, self.facts, self.known)

    def renewed(self) -> list[RenewedLine]:
        """What was disturbed, and how it stands now."""
        return list(history.renewed(self.state, self.events))

    def recordings(self) -> list[KeptRecording]:
        """The logs that readings were made of, with what their charts are made of."""
        return list(kept(self.folded.standing))

    def photos(self) -> list[Photo]:
        """The photos that stand on it, each with what it was taken of."""
        return photos_of(self.folded, self.known)

    def calibrations(self) -> dict[str, str]:
        """When each instrument was last calibrated, in words; those of which nobody said so are left out."""
        return calibrations(self.facts.instruments.values(), self.entries)

    def instruments(self) -> list[tuple[str, str]]:
        """The instruments and where their uncertainty comes from."""
        return [(one.id, one.basis) for one in self.facts.instruments.values()]

    def sheet_answer(self) -> SheetAnswer:
        """The sheet with the provenance of every value."""
        return history.sheet_answer(self.sheet, self.known, self.system)


def job_from(
    name: str,
    entries: Sequence[Entry],
    *,
    number: int | None = None,
    place_of: PlaceOf | None = None,
    beside: Path | None = None,
    units: str | None = None,
    more: Sequence[Problem] = (),
) -> Job:
    """A job from its journal.

    Args:
        place_of: Where an entry stands, for complaints; the entry's id if not given.
        beside: The folder from which a sheet's path is read.
        more: Problems found before, raised together with those found here.
    Raises:
        Problems: everything in the journal that cannot be understood.
    """
    where = place_of or in_journal(name)
    folded = fold(entries)
    more = [*more, *_before_the_job(folded, where)]
    known = catalogue()
    engine = next((one for one in folded.standing if one.kind == "engine"), None)
    if engine is None:
        raise Problems(more or [FieldProblem("engine", None, "is missing", place=Place(file=name))])
    try:
        sheet = find_sheet(engine.content["sheet"], beside=beside)
    except FieldProblem as problem:
        raise Problems([*more, problem.at(where(engine.entry.id, "sheet"))]) from None
    plan = plan_for(known, sheet.devices, sheet.cylinders)
    try:
        facts = facts_from(folded.standing, known, sheet, plan, where, units)
    except Problems as problems:
        raise Problems(_in_order([*more, *problems.all])) from None
    if more:
        raise Problems(more)
    return Job(name, number, tuple(entries), folded, sheet, facts, plan, known, units)


def _before_the_job(folded: Folded, where: PlaceOf) -> Iterator[FieldProblem]:
    """What was read or done before the time at which ``[engine]`` says that the job began."""
    begun = next((one.at for one in folded.standing if one.kind == "engine" and one.at), None)
    for one in folded.standing:
        if one.kind not in ("reading", "catch", "move", "did"):
            continue  # the car's story may be older than the job
        if begun and one.at and times.instant(one.at) < times.instant(begun):
            yield FieldProblem(
                "at",
                one.at,
                "lies before the job",
                allowed=f"from {begun} on, as [engine] says",
                remedy="Mend the time, or the job's beginning",
                place=where(one.entry.id, "at"),
            )


def job_of_text(text: job_file.JobText, *, beside: Path | None = None, units: str | None = None) -> Job:
    """The job a file holds; problems of form and of meaning come together."""
    return job_from(
        text.name, text.entries, place_of=text.place, beside=beside, units=units, more=text.problems
    )


def job_of_file(path: Path, *, units: str | None = None) -> Job:
    """The job in a file on disk."""
    return job_of_text(job_file.collect_file(path), beside=path.parent, units=units)


def in_journal(name: str) -> PlaceOf:
    """Places in a stored job: the entry's id and the field."""

    def place(entry: str, *path: str | int) -> Place:
        return Place(file=name, path=", ".join([entry, *map(str, path)]))

    return place


def _in_order(problems: Sequence[Problem]) -> list[Problem]:
    def line(problem: Problem) -> int:
        place = getattr(problem, "place", None)
        return (place.line or 0) if place else 0

    return sorted(problems, key=line)
