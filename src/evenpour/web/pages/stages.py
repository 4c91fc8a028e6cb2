"""The whole work in order: every stage with its steps; and one stage with what must be true in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from starlette.responses import Response

from evenpour.errors import unknown
from evenpour.job.answers import ClaimAnswer, StageAnswer, StepAnswer
from evenpour.job.job import Job
from evenpour.job.step_page import where_it_stands
from evenpour.job.wording import told_of_each
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_entry


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step in the contents; ``parts`` say how far it is for some cylinders, where they are not alike."""

    step: str
    number: str
    title: str
    state: str
    parts: tuple[tuple[str, str], ...]
    mends: bool


@dataclass(frozen=True, slots=True)
class StageLines:
    """A stage with its steps."""

    number: int
    answer: StageAnswer
    steps: tuple[StepLine, ...]


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """A claim, for the cylinders of which the same is true."""

    claim: str
    says: str
    state: str
    cylinders: tuple[int, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Stages:
    """Everything stages.html may use; ``at``: the stage in which the work stands, if any."""

    stages: tuple[StageLines, ...]
    at: StageAnswer | None


@dataclass(frozen=True, slots=True)
class StagePage:
    """Everything stage.html may use."""

    stage: StageLines
    why: str
    claims: tuple[ClaimLine, ...]
    forms: FormState


def show_all(ask: Ask) -> Response:
    """The table of contents."""
    standing = where_it_stands(ask.job)
    page = Stages(tuple(stage_lines(ask.job)), standing.at if standing else None)
    return ask.page("stages.html", page, title="All stages and steps")


def show(ask: Ask) -> Response:
    """One stage."""
    return _stage(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """An override of one of its claims."""
    return save_entry(ask, f"/jobs/{ask.number}/stages/{ask.word('stage')}", _stage)


def _stage(ask: Ask, sent: Sent) -> Response:
    job, name = ask.job, ask.word("stage")
    found = next((one for one in stage_lines(job) if one.answer.stage == name), None)
    if found is None:
        raise unknown("stage", name, [stage.id for stage in job.plan.stages], kind="stage")
    page = StagePage(
        stage=found,
        why=next(stage.why for stage in job.plan.stages if stage.id == name),
        claims=tuple(claim_lines([claim for claim in job.path().claims if claim.stage == name])),
        forms=form_state(ask, "override", sent),
    )
    return ask.page("stage.html", page, title=found.answer.title, status=sent.status)


def stage_lines(job: Job) -> list[StageLines]:
    """All stages with their steps, numbered as in a book."""
    return [
        StageLines(number, stage, tuple(_step_lines(stage, number, job)))
        for number, stage in enumerate(job.path().stages, start=1)
    ]


def _step_lines(stage: StageAnswer, number: int, job: Job) -> list[StepLine]:
    by_step: dict[str, list[StepAnswer]] = {}
    for one in stage.steps:
        by_step.setdefault(one.step, []).append(one)
    return [
        StepLine(
            step=step,
            number=f"{number}.{place}",
            title=rows[0].title,
            state=step_state(rows),
            parts=() if len(rows) == 1 else _parts(rows),
            mends=bool(job.plan.step[step].mends),
        )
        for place, (step, rows) in enumerate(by_step.items(), start=1)
    ]


def step_state(rows: Sequence[StepAnswer]) -> str:
    """How far a step is as a whole: the least of its cylinders."""
    order = ("stale", "open", "blocked", "passed_over", "done")
    return min((row.state for row in rows), key=order.index)


def _parts(rows: Sequence[StepAnswer]) -> tuple[tuple[str, str], ...]:
    """``done``: ``1, 2 and 4``."""
    by_state: dict[str, list[str]] = {}
    for row in rows:
        by_state.setdefault(row.state, []).append(str(row.cylinder))
    return tuple((state, ", ".join(numbers)) for state, numbers in by_state.items())


def claim_lines(claims: Sequence[ClaimAnswer]) -> list[ClaimLine]:
    """Claims with the cylinders of which the same is true on one line."""
    found: dict[tuple[str, str], list[ClaimAnswer]] = {}
    for claim in claims:
        found.setdefault((claim.claim, claim.state), []).append(claim)
    return [
        ClaimLine(
            claim=name,
            says=rows[0].says,
            state=state,
            cylinders=tuple(row.cylinder for row in rows if row.cylinder is not None),
            why=told_of_each(rows),
        )
        for (name, state), rows in found.items()
    ]


IN_JOB = (Line("Stages and steps", "/stages"),)
PAGES = (Page("/jobs/{number:int}/stages", show_all), Page("/jobs/{number:int}/stages/{stage}", show, save))
