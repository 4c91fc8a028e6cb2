"""Mending an entry: a slip is put right by one more entry with its reason; nothing is ever written over."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote

from starlette.responses import Response

from evenpour.errors import FieldProblem, Problem, Refused
from evenpour.job.entries import Draft, new_id
from evenpour.job.mending import Mendable, mendable, mended_content
from evenpour.web.ask import Ask
from evenpour.web.problems import NOTHING_TYPED, ShownProblem, Typed, problems_shown
from evenpour.web.routes import Page


@dataclass(frozen=True, slots=True)
class Mend:
    """Everything mend.html may use."""

    open: Mendable
    entry_id: str
    who: str
    typed: Typed
    problems: tuple[ShownProblem, ...]


def show(ask: Ask) -> Response:
    """The entry laid open."""
    return _shown(ask, NOTHING_TYPED, (), 200)


def save(ask: Ask) -> Response:
    """Correct it or withdraw it, with the reason."""
    of, form = ask.word("entry"), ask.form
    content = {"of": of, "reason": form.get("reason", "").strip() or None}
    if form.get("who", "").strip():
        content["who"] = form["who"].strip()
    try:
        if not content["reason"]:
            raise FieldProblem("reason", None, "is missing", remedy="Say in a few words what was wrong.")
        if form.get("way") == "withdraw":
            more: dict[str, object] = {"withdrawn": True}
        else:
            more = {"new": mended_content(ask.job, of, form)}
        ask.keep([Draft("correction", {**content, **more}, ask.entry_id, form.get("at_now") or None)])
    except Problem as problem:
        status = 409 if isinstance(problem, Refused) else 422
        return _shown(ask, ask.typed(), tuple(problems_shown(problem)), status)
    return ask.saved(f"/jobs/{ask.number}?entry={quote(ask.entry_id, safe='')}#said")


def _shown(ask: Ask, typed: Typed, problems: tuple[ShownProblem, ...], status: int) -> Response:
    page = Mend(
        open=mendable(ask.job, ask.word("entry")),
        entry_id=new_id("correction"),
        who=ask.preferences.who,
        typed=typed,
        problems=problems,
    )
    return ask.page("mend.html", page, title="Mend an entry", status=status)


PAGES = (Page("/jobs/{number:int}/entries/{entry}/mend", show, save),)
