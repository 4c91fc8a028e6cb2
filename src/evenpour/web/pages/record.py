"""The record: to read, to print, to take along; and closing the job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from starlette.responses import Response

from evenpour.job.causes.considered import considered
from evenpour.job.closing_page import ClosingChoices, closing_choices
from evenpour.job.writing import write_json, write_toml
from evenpour.record.asked import answers_of
from evenpour.record.blocks import Record
from evenpour.record.charts import IN_ONE_FIGURE
from evenpour.record.content import record_of
from evenpour.record.front_page import standing, still_open
from evenpour.record.html import ACROSS, html_of
from evenpour.record.pdf import pdf_of
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.entry_forms import OWN_WORDS
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_entry
from evenpour.web.security import RECORD_CSP


@dataclass(frozen=True, slots=True)
class RecordPage:
    """Everything record.html may use.

    ``causes`` are there while the job may be closed; ``unfinished`` says how many stages are open then.
    """

    status: str
    sentence: str
    missing: tuple[str, ...]
    unfinished: str
    forms: FormState
    cylinders: tuple[int, ...]
    causes: ClosingChoices | None
    own_words: str


def show(ask: Ask) -> Response:
    """Where the job stands, the record's files, and the closing."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """Close the job."""
    return save_entry(ask, f"/jobs/{ask.number}/record", _shown)


def _shown(ask: Ask, sent: Sent) -> Response:
    job = ask.job
    path = job.path()
    missing = tuple(path.may_close)
    words, sentence, _ = standing(answers_of(job, job.system))
    page = RecordPage(
        status=words,
        sentence=sentence,
        missing=missing,
        unfinished=still_open(path),
        forms=form_state(ask, "closed", sent),
        cylinders=job.plan.all_cylinders,
        causes=None if missing or job.closed else closing_choices(job, ask.shop.store),
        own_words=OWN_WORDS,
    )
    return ask.page("record.html", page, title="The record", status=sent.status)


def _record(ask: Ask, across: int = IN_ONE_FIGURE) -> Record:
    known = considered(ask.job, store=ask.shop.store)
    return record_of(ask.job, ask.job.system, ask.drawing_room.pool(), known, across)


def _file(ask: Ask, ending: str) -> Response:
    write, kind, inline = FILES[ending]
    headers = {
        "content-disposition": f'{"inline" if inline else "attachment"}; filename="job-{ask.number}{ending}"'
    }
    if ending == ".html":
        headers["content-security-policy"] = RECORD_CSP
    return Response(write(ask), media_type=kind, headers=headers)


FILES: dict[str, tuple[Callable[[Ask], bytes | str], str, bool]] = {
    ".pdf": (lambda ask: pdf_of(_record(ask)), "application/pdf", True),
    ".html": (lambda ask: html_of(_record(ask, ACROSS)), "text/html", True),
    ".toml": (lambda ask: write_toml(ask.job.entries), "application/toml", False),
    ".json": (lambda ask: write_json(ask.job.entries), "application/json", False),
}


IN_JOB = (Line("The record", "/record"),)
PAGES = (
    Page("/jobs/{number:int}/record", show, save),
    *(Page(f"/jobs/{{number:int}}/record{ending}", partial(_file, ending=ending)) for ending in FILES),
)
