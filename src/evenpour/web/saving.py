"""How every page with forms takes what was sent: keep it and go on, or show it again with what was wrong."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import quote

from starlette.responses import Response

from evenpour.errors import Problem, Refused, SentBefore, UnknownName
from evenpour.job.entries import Draft
from evenpour.job.mending import mendable
from evenpour.web.ask import Ask
from evenpour.web.entry_forms import drafts_of
from evenpour.web.problems import NOTHING_TYPED, ShownProblem, Typed, problems_shown
from evenpour.web.verdicts import Said, said_of

Again = Callable[[Ask, Typed, tuple[ShownProblem, ...], int], Response]
"""Shows the page again: with what was typed, the problems, and the status."""


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
        return again(ask, ask.typed(), _shown(ask, problem, kind), status)
    return ask.saved(f"{go}?entry={quote(named or ask.entry_id, safe='')}#said")


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
    return None if answer is None else said_of(answer)


__all__ = ["NOTHING_TYPED", "Again", "Typed", "said_before", "save_drafts", "save_entry"]
