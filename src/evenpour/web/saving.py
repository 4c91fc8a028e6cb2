"""How every page with forms takes what was sent: keep it and go on, or show it again with what was wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import quote

from starlette.responses import Response

from evenpour.errors import Problem, Refused, SentBefore, UnknownName
from evenpour.job.entries import Draft, new_id
from evenpour.job.mending import mendable
from evenpour.web.ask import Ask
from evenpour.web.entry_forms import drafts_of
from evenpour.web.problems import NOTHING_TYPED, ShownProblem, Typed, problems_shown
from evenpour.web.verdicts import Said, said_of


@dataclass(frozen=True, slots=True)
class Sent:
    """What came of a form: as it was typed, what is wrong with it, and the status that says so."""

    typed: Typed = NOTHING_TYPED
    problems: tuple[ShownProblem, ...] = ()
    status: int = 200


NOTHING_SENT = Sent()
Again = Callable[[Ask, Sent], Response]
"""Shows the page again with what came of its form."""


@dataclass(frozen=True, slots=True)
class FormState:
    """What the forms of a page share: ``page.forms`` of its template, for the macros of forms.html.

    Attributes:
        entry_id: Under which the next entry is sent; each form puts its own name behind it.
        who: Who enters, as this device knows; empty until somebody says.
        name_once: Whether the page asks for the name before its forms, for all of them.
        closed: Whether the job takes notes and corrections alone.
        typed: What was typed into the form that was sent.
        problems: What is wrong with it.
        said: The answer to the entry that the address names.
    """

    entry_id: str
    who: str
    name_once: bool
    closed: bool
    typed: Typed
    problems: tuple[ShownProblem, ...]
    said: Said | None


def form_state(ask: Ask, kind: str, sent: Sent, *, name_once: bool = False) -> FormState:
    """The state of a page's forms; *kind* of what they enter, *name_once* where they are several."""
    return FormState(
        entry_id=new_id(kind),
        who=ask.preferences.who,
        name_once=name_once,
        closed=ask.in_job and ask.job.closed,
        typed=sent.typed,
        problems=sent.problems,
        said=said_before(ask) if ask.in_job else None,
    )


def save_entry(ask: Ask, go: str, again: Again) -> Response:
    """Keep the form's entries and go to *go* with the answer; or show the page again."""
    kind = ask.form.get("kind", "")
    return save_drafts(ask, lambda: drafts_of(ask.form, ask.entry_id), go, again, kind=kind)


def save_drafts(
    ask: Ask,
    made: Callable[[], list[Draft]],
    go: str,
    again: Again,
    *,
    named: str | None = None,
    kind: str = "",
) -> Response:
    """The same for entries that are worked out of what was sent; *named* if they have an id of their own.

    *kind* of entry, where the form's fields are those of one: problems then bear the form's own labels.
    """
    try:
        ask.keep(made())
    except Problem as problem:
        status = 409 if isinstance(problem, Refused) else 422
        return again(ask, Sent(ask.typed(), _shown(ask, problem, kind), status))
    more = "&" if "?" in go else "?"
    return ask.saved(f"{go}{more}entry={quote(named or ask.entry_id, safe='')}#said")


def _shown(ask: Ask, problem: Problem, kind: str) -> tuple[ShownProblem, ...]:
    """What was wrong; of a form sent twice with different figures, also what was kept of it at first."""
    shown = tuple(problems_shown(problem, kind))
    if not isinstance(problem, SentBefore):
        return shown
    try:
        kept = mendable(ask.job, problem.entry)
    except UnknownName:  # it was withdrawn meanwhile
        return shown
    mend = f"/jobs/{ask.number}/entries/{quote(kept.entry, safe='')}/mend"
    return tuple(ShownProblem(f"{one.words} Kept was: {kept.words}.", mend=mend) for one in shown)


def said_before(ask: Ask) -> Said | None:
    """The answer to the entry that the address names; None if it names none of this job."""
    entry = ask.query.get("entry", "")
    answer = ask.shop.answer(ask.number, entry, ask.preferences.units) if entry else None
    return None if answer is None else said_of(answer, ask.job)
