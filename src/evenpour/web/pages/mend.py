"""Mending an entry: a slip is put right by one more entry with its reason; nothing is ever written over.

What the form of a kind of entry can hold is mended on that very form, filled with what was kept; whatever
else there is (the car, a step, a recording's row of values) is laid open field by field.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

from starlette.responses import Response

from evenpour.job.asking import AskedReading, Choice, alike_checks, asked_reading, readable
from evenpour.job.catch.page import AskedCatches, asked_catches
from evenpour.job.entries import Draft
from evenpour.job.mending import Mendable, mendable, mended_content, mended_time
from evenpour.web.ask import Ask
from evenpour.web.catch_form import NOTHING_WANTED, Wanted
from evenpour.web.entry_fields import fields_of, has_form, mended, reading_fields
from evenpour.web.entry_lists import EntryLists, entry_lists
from evenpour.web.problems import ShownProblem, Typed
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_drafts
from evenpour.web.security import is_ours

FORM = "mend"
TOLD_AT = {"catch": "/catch", "reading": "/readings", "move": "/screw"}  # by kind of entry
_TO_THE_MINUTE = len("2026-05-04T10:15")


@dataclass(frozen=True, slots=True)
class Mend:
    """Everything mend.html may use.

    ``form`` is the kind of entry whose own form is shown, or empty: then the fields are laid open. ``others``
    are the checks that one may have meant instead; ``came_from`` is where it ends; ``filled`` is the state of
    the form that mends, filled with what was kept.
    """

    open: Mendable
    here: str
    form: str
    asked: AskedReading | None
    cylinders: tuple[int, ...]
    others: tuple[Choice, ...]
    catches: AskedCatches | None
    wanted: Wanted
    lists: EntryLists
    came_from: str
    forms: FormState
    filled: FormState


def show(ask: Ask) -> Response:
    """The entry laid open."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """Correct it or withdraw it, with the reason."""
    opened = mendable(ask.job, ask.word("entry"))
    if not ask.form.get("reason", "").strip():
        label = "Why" if ask.form.get("way") == "withdraw" else "What was wrong"
        words = f"“{label}” is empty. Say it in a few words: the history shows it beside what was entered."
        return _shown(ask, Sent(ask.typed(), (ShownProblem(words, "reason"),), 422))
    return save_drafts(
        ask, lambda: [_correction(ask, opened)], _came_from(ask, opened), _shown, kind=opened.kind
    )


def _correction(ask: Ask, opened: Mendable) -> Draft:
    form = ask.form
    content: dict[str, object] = {"of": opened.entry, "reason": form["reason"].strip()}
    if form.get("who", "").strip():
        content["who"] = form["who"].strip()
    if form.get("way") == "withdraw":
        content["withdrawn"] = True
    elif _form_of(ask, opened):
        content["new"] = {**mended(opened.kind, opened.content, form), **_when(ask, opened)}
    else:
        content["new"] = mended_content(ask.job, opened.entry, form)
    return Draft("correction", content, ask.entry_id, form.get("at_now") or None)


def _when(ask: Ask, opened: Mendable) -> dict[str, str]:
    """When it was so, where that was typed anew."""
    text, kept = ask.form.get("at", "").strip(), opened.at or ""
    if not text or text == ask.form.get("at_now") or text[:_TO_THE_MINUTE] == kept[:_TO_THE_MINUTE]:
        return {"at": kept} if kept else {}
    return {"at": mended_time(text, kept) if kept else text}


def _form_of(ask: Ask, opened: Mendable) -> str:
    """The kind of entry whose own form can hold this one; empty where none can."""
    if not has_form(opened.kind, opened.content):
        return ""
    return "" if opened.kind == "reading" and _check(ask, opened) not in readable(ask.job) else opened.kind


def _check(ask: Ask, opened: Mendable) -> str:
    """What was read: as chosen now, else as kept."""
    kept = ask.job.known.check(str(opened.content["what"])).id
    chosen = ask.form.get("what") or ask.query.get("what", "")
    return chosen if chosen in ask.job.known.checks else kept


def _shown(ask: Ask, sent: Sent) -> Response:
    job, opened = ask.job, mendable(ask.job, ask.word("entry"))
    form = _form_of(ask, opened)
    asked = asked_reading(job, _check(ask, opened)) if form == "reading" else None
    state = form_state(ask, "correction", sent, name_once=True)
    filled = state
    if form and not sent.typed.has(FORM):
        fields = fields_of(form, opened.content) if asked is None else reading_fields(opened.content, asked)
        filled = replace(state, typed=Typed(FORM, {**fields, "at": opened.at or ""}), problems=())
    page = Mend(
        open=opened,
        here=f"/jobs/{ask.number}/entries/{quote(opened.entry, safe='')}/mend",
        form=form,
        asked=None if asked is None else replace(asked, cylinders=(), now=(), older=()),
        cylinders=asked.cylinders if asked else (),
        others=alike_checks(job, asked.check) if asked else (),
        catches=asked_catches(job) if form == "catch" else None,
        wanted=NOTHING_WANTED,
        lists=entry_lists(job),
        came_from=_came_from(ask, opened),
        forms=state,
        filled=filled,
    )
    return ask.page("mend.html", page, title="Mend an entry", status=sent.status)


def _came_from(ask: Ask, opened: Mendable) -> str:
    """Where it ends: the page of this job that led here; else where such an entry is told."""
    job = f"/jobs/{ask.number}"
    said = ask.form.get("back") or ask.query.get("back") or ask.request.headers.get("referer", "")
    parts = urlsplit(said)
    within = parts.path == job or parts.path.startswith(f"{job}/")
    if not within or not is_ours(parts.path) or parts.path.endswith("/mend"):
        return job + {"catch": "/catch", "reading": "/readings", "move": "/screw"}.get(
            opened.kind, "/history"
        )
    asked = urlencode([(name, text) for name, text in parse_qsl(parts.query) if name != "entry"])
    return f"{parts.path}?{asked}" if asked else parts.path


PAGES = (Page("/jobs/{number:int}/entries/{entry}/mend", show, save),)
