"""A reading that no step asks for now: any check, with its form."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote

from starlette.responses import RedirectResponse, Response

from evenpour.job.answers import CautionLine
from evenpour.job.asking import AskedReading, asked_reading
from evenpour.job.caution_told import cautions_of, was_read
from evenpour.job.photos import Photo, by_subject
from evenpour.job.step_page import cautioning_steps
from evenpour.web.ask import Ask
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_entry
from evenpour.web.verdicts import Verdict, verdict_of


@dataclass(frozen=True, slots=True)
class ReadingPage:
    """Everything reading.html may use.

    ``cautions`` are those of the ``steps`` that read it as things stand: none is folded before somebody has
    read it, as one tap says of all of them that they were read. ``unread`` while there are some that nobody
    has read on this job: until then no reading is entered here, as at a step.
    """

    asked: AskedReading
    standing: tuple[Verdict, ...]
    older: tuple[Verdict, ...]
    steps: tuple[tuple[str, str], ...]
    cautions: tuple[CautionLine, ...]
    unread: bool
    forms: FormState
    photos: dict[str, tuple[Photo, ...]]


def show(ask: Ask) -> Response:
    """The form of the check in the address."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """One reading, or a row of them."""
    return save_entry(ask, f"/jobs/{ask.number}/read/{ask.word('check')}", _shown)


def choose(ask: Ask) -> Response:
    """From the list of checks to the form of one."""
    check = ask.query.get("check", "")
    go = f"/jobs/{ask.number}/read/{quote(check, safe='')}" if check else f"/jobs/{ask.number}/enter"
    return RedirectResponse(go, status_code=303)


def _shown(ask: Ask, sent: Sent) -> Response:
    job = ask.job
    asked = asked_reading(job, ask.word("check"))
    steps = [step for step in job.plan.step.values() if asked.check in step.checks]
    cautions = tuple(cautions_of(cautioning_steps(job, asked.check), job.known, job.facts))
    unread = not all(was_read(one) for one in cautions)
    page = ReadingPage(
        asked=asked,
        standing=tuple(verdict_of(row) for row in asked.now),
        older=tuple(verdict_of(row) for row in asked.older),
        steps=tuple((step.id, step.title) for step in steps),
        cautions=cautions,
        unread=unread,
        forms=form_state(ask, "reading", sent, name_once=unread),
        photos=by_subject(job.photos()),
    )
    return ask.page("reading.html", page, title=asked.title, status=sent.status)


PAGES = (Page("/jobs/{number:int}/read", choose), Page("/jobs/{number:int}/read/{check}", show, save))
