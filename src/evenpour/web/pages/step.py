"""A step: caution first, what you need, how to, what to enter, and the verdict at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from starlette.responses import Response

from evenpour.job.asking import Choice
from evenpour.job.caution_told import was_read
from evenpour.job.job import Job
from evenpour.job.photos import Photo
from evenpour.job.step_page import Neighbour, StepPage, actions, onward, sides, step_page
from evenpour.web.ask import Ask
from evenpour.web.pages.stages import ClaimLine, claim_lines, step_state
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_entry
from evenpour.web.verdicts import Verdict, verdict_of

# Pages that work something out of what a check reads: their label, and their address behind the job's.
BESIDE = {
    "exhaust_co": ("The mixture from all gases together", "gas"),
    "exhaust_lambda": ("The mixture from all gases together", "gas"),
    "holding_pressure": ("Read a recording of the pressure", "traces?kind=holding"),
    "control_pressure_warm": ("Read a recording of the warm-up", "traces?kind=warm_up"),
    "timing_static": ("The timing along the pulley's rim", "spark/timing"),
    "timing_running": ("The timing by lamp", "spark/lamp"),
    "dwell": ("The dwell in degrees and per cent", "spark/dwell"),
    "compression": ("How alike the cylinders are", "spark/compression"),
    "leak_down": ("How alike the cylinders are", "spark/leak_down"),
    "cylinder_drop": ("How alike the cylinders work", "spark/speed_drop"),
}
STEPS_BESIDE = {
    "dead_centre": ("Top dead centre from two marks", "spark/dead_centre"),
    "spark_parts": ("Firing order and leads, drawn", "spark/order"),
}
SCREW = ("The screw's dial, and the move advised", "screw")


@dataclass(frozen=True, slots=True)
class Standing:
    """The readings of one check that count now."""

    check: str
    verdicts: tuple[Verdict, ...]


@dataclass(frozen=True, slots=True)
class StepShown:
    """Everything step.html may use.

    ``unread`` while there are cautions that nobody has read on this job: until then nothing is entered here.
    ``onward`` is the step to go on with, said with what was just entered.
    """

    step: StepPage
    how: tuple[str, ...]
    state: str
    state_why: str
    unread: bool
    proves: tuple[ClaimLine, ...]
    standing: dict[str, tuple[Verdict, ...]]
    actions: tuple[Choice, ...]
    sides: tuple[Choice, ...]
    forms: FormState
    takes_entries: bool
    onward: Neighbour | None
    photos: tuple[Photo, ...]
    beside: tuple[tuple[str, str], ...]


def show(ask: Ask) -> Response:
    """The step."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """Whatever one of its forms sends: a caution read, a reading, done, passed over, a part handled."""
    return save_entry(ask, f"/jobs/{ask.number}/steps/{ask.word('step')}", _shown)


def _shown(ask: Ask, sent: Sent) -> Response:
    job = ask.job
    step = step_page(job, ask.word("step"))
    told = step.told
    unread = not all(was_read(one) for one in told.cautions)
    takes_entries = not unread and not job.closed
    forms = form_state(ask, "entry", sent, name_once=takes_entries)
    page = StepShown(
        step=step,
        how=tuple(line for line in told.how.splitlines() if line.strip()),
        state=step_state(told.state),
        state_why="; ".join(dict.fromkeys(row.why for row in told.state)),
        unread=unread,
        proves=tuple(claim_lines(step.proves)),
        standing={one.check: tuple(verdict_of(row) for row in one.now) for one in step.reads},
        actions=actions(),
        sides=sides(),
        forms=forms,
        takes_entries=takes_entries,
        onward=onward(job, told.step) if forms.said else None,
        photos=tuple(_photos(job, step)),
        beside=tuple(dict.fromkeys(_beside(step))),
    )
    return ask.page("step.html", page, title=f"{step.number} {told.title}", status=sent.status)


def _beside(step: StepPage) -> Iterator[tuple[str, str]]:
    """What can be worked out beside the step."""
    if step.told.step in STEPS_BESIDE:
        yield STEPS_BESIDE[step.told.step]
    yield from (BESIDE[one.check] for one in step.reads if one.check in BESIDE)
    if step.turns_screw:
        yield SCREW


def _photos(job: Job, step: StepPage) -> Iterator[Photo]:
    """Those taken at the step, and those of the readings that stand there now."""
    taken = job.photos()
    if not taken:
        return
    checks = {one.check for one in step.reads}
    rows = [row for row in job.judge().readings if row.what in checks and row.stands]
    readings = {entry for row in rows for entry in row.entries}
    for one in taken:
        if one.step == step.told.step or one.about in readings:
            yield one


PAGES = (Page("/jobs/{number:int}/steps/{step}", show, save),)
