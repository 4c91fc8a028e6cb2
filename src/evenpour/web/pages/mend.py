"""Mending an entry: a slip is put right by one more entry with its reason; nothing is ever written over."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from evenpour.errors import FieldProblem
from evenpour.job.entries import Draft
from evenpour.job.mending import Mendable, mendable, mended_content
from evenpour.web.ask import Ask
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_drafts


@dataclass(frozen=True, slots=True)
class Mend:
    """Everything mend.html may use."""

    open: Mendable
    forms: FormState


def show(ask: Ask) -> Response:
    """The entry laid open."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """Correct it or withdraw it, with the reason."""
    return save_drafts(ask, lambda: [_correction(ask)], f"/jobs/{ask.number}", _shown)


def _correction(ask: Ask) -> Draft:
    of, form = ask.word("entry"), ask.form
    content: dict[str, object] = {"of": of, "reason": form.get("reason", "").strip()}
    if not content["reason"]:
        raise FieldProblem("reason", None, "is missing", remedy="Say in a few words what was wrong.")
    if form.get("who", "").strip():
        content["who"] = form["who"].strip()
    if form.get("way") == "withdraw":
        content["withdrawn"] = True
    else:
        content["new"] = mended_content(ask.job, of, form)
    return Draft("correction", content, ask.entry_id, form.get("at_now") or None)


def _shown(ask: Ask, sent: Sent) -> Response:
    page = Mend(
        open=mendable(ask.job, ask.word("entry")),
        forms=form_state(ask, "correction", sent, name_once=True),
    )
    return ask.page("mend.html", page, title="Mend an entry", status=sent.status)


PAGES = (Page("/jobs/{number:int}/entries/{entry}/mend", show, save),)
