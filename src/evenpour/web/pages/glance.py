"""The job at a glance: where it stands, the one next thing and why, and what must not be forgotten."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from evenpour.job.advice import Advice, advice
from evenpour.job.answers import NextAnswer, StageAnswer
from evenpour.job.catch.uneven import UnevenCatch
from evenpour.job.step_page import (
    BEHIND,
    Standing,
    back_by_hand,
    clock_minutes,
    step_number,
    step_reason,
    where_it_stands,
)
from evenpour.web.ask import Ask
from evenpour.web.causes_told import begins, mended_at
from evenpour.web.contents import Line
from evenpour.web.routes import Page
from evenpour.web.saving import said_before
from evenpour.web.verdicts import Said, Verdict, put_back_names, verdict_of

FEW = 5


@dataclass(frozen=True, slots=True)
class Numbered:
    """A step worth doing, with its place in the book and why it is done at all; ``clock`` is how long its
    clock runs where that is longer than the work, [min].
    """

    number: str
    reason: str
    step: NextAnswer
    clock: int


@dataclass(frozen=True, slots=True)
class Glance:
    """Everything glance.html may use.

    ``standing`` is the stage the work stands in, ``numbers`` are those of all stages. ``before`` goes before
    the order of the work, and lies at ``before_address``; ``first`` is the one next step in that order,
    ``after`` what follows it; ``repeat`` are the steps besides the first that prove again what went stale.
    ``look_first``: something is outside, and what may be wrong is not worked out yet for the readings as they
    stand.
    """

    car: str
    facts: tuple[tuple[str, str], ...]
    engine: str
    standing: Standing | None
    numbers: dict[str, int]
    proved: int
    stages: tuple[StageAnswer, ...]
    before: Advice | None
    before_address: str
    look_first: bool
    first: Numbered | None
    after: tuple[Numbered, ...]
    repeat: tuple[Numbered, ...]
    repeat_minutes: int
    put_back: tuple[str, ...]
    by_hand: tuple[str, ...]  # of it what no step takes off the list
    outside: tuple[Verdict, ...]
    uneven: tuple[UnevenCatch, ...]
    outside_words: tuple[str, ...]
    questions: tuple[str, ...]
    missing: tuple[str, ...]
    foresee: tuple[str, ...]
    said: Said | None


def show(ask: Ask) -> Response:
    """Where the job stands."""
    job, path = ask.job, ask.job.path()
    upcoming = [
        Numbered(
            step_number(job, one.step),
            step_reason(job, one.step),
            one,
            clock_minutes(one.step, one.minutes),
        )
        for one in path.upcoming
    ]
    rows = [verdict_of(row) for row in job.judge().readings if row.stands and row.verdict == "outside"]
    names = {row.name for row in rows} | {one.words for one in job.uneven}
    now = advice(job, ask.shop.store)
    page = Glance(
        car=str(job.engine.get("car") or f"Job {job.number}"),
        facts=_facts(ask),
        engine=job.sheet.title,
        standing=where_it_stands(job),
        numbers={stage.stage: number for number, stage in enumerate(path.stages, start=1)},
        proved=sum(stage.state in BEHIND for stage in path.stages),
        stages=tuple(path.stages),
        before=now if now is not None and now.kind in ("repair", "check") else None,
        before_address=_address(now),
        look_first=now is not None and now.found and not now.worked_out,
        first=upcoming[0] if upcoming else None,
        after=tuple(one for one in upcoming[1:] if not one.step.repeat)[:FEW],
        repeat=tuple(one for one in upcoming[1:] if one.step.repeat),
        repeat_minutes=path.repeat_minutes,
        put_back=tuple(put_back_names(path.put_back)),
        by_hand=tuple(put_back_names(back_by_hand(job))),
        outside=tuple(rows),
        uneven=job.uneven,
        outside_words=tuple(words for words in path.outside if words not in names),
        questions=tuple(path.questions),
        missing=tuple(path.may_close),
        foresee=tuple(path.foresee),
        said=said_before(ask),
    )
    return ask.page("glance.html", page, title=page.car)


def _address(now: Advice | None) -> str:
    """Where what goes before the order of the work is begun, behind the job's own address."""
    if now is not None and now.check is not None:
        return begins(now.check)
    return mended_at(now.repair) if now is not None and now.repair is not None else "causes"


def _facts(ask: Ask) -> tuple[tuple[str, str], ...]:
    engine = ask.job.engine
    names = (
        ("chassis", "Chassis"),
        ("engine_number", "Engine"),
        ("mileage", "Mileage"),
        ("workshop", "Workshop"),
    )
    return tuple((label, str(engine[name])) for name, label in names if engine.get(name))


IN_JOB = (Line("Now", ""),)
PAGES = (Page("/jobs/{number:int}", show),)
