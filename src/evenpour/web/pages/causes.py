"""The causes: what may be wrong, what speaks for and against, what cannot be told apart, what to check next.

The answer takes seconds, so it is worked out beside the server: the page shows at once what is known so far,
and fetches the rest: after a reading more first how likely each cause is now, then all that the answer says.
Without scripts a link loads it again.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

from starlette.responses import HTMLResponse, Response

from evenpour.job.advice import advice, beside_causes
from evenpour.job.catch.uneven import UnevenCatch
from evenpour.job.causes.kept import key_now
from evenpour.job.causes.page import address_of, explained, explained_before, looked_at
from evenpour.job.job import Job
from evenpour.job.step_page import step_reason
from evenpour.job.wording import when_said
from evenpour.web.ask import Ask
from evenpour.web.causes_told import First, Found, first_of, found_of
from evenpour.web.contents import Line
from evenpour.web.rendering import rendered
from evenpour.web.routes import Page
from evenpour.web.saving import said_before
from evenpour.web.verdicts import Said, Verdict, verdict_of
from evenpour.web.work_room import NotYet

AGAIN = "again"  # in the address: what went wrong is to be tried once more
PATIENCE = 1.5  # s, for which a page that fetches the answer is kept waiting before it asks again


@dataclass(frozen=True, slots=True)
class Meanwhile:
    """What is known before the first answer is there: what is outside, and the step that is next anyway."""

    outside: tuple[Verdict, ...]
    uneven: tuple[UnevenCatch, ...]
    step: str
    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class Causes:
    """Everything causes.html may use.

    ``working``: what stands here, if anything, is not yet the answer to the newest readings. ``added``: the
    journal went on since; else another job was closed, or the sheet or the costs changed. ``first`` only
    while it is worked out, ``meanwhile`` only while there is no answer here. ``beside``: why the job's first
    page advises another thing.
    """

    job: str
    here: str
    number: int
    found: Found | None
    first: First | None
    working: bool
    added: bool
    meanwhile: Meanwhile | None
    wrong: tuple[str, ...]
    lost: bool
    up_to: str
    closed: bool
    at_machine: bool
    beside: str
    said: Said | None


def show(ask: Ask) -> Response:
    """What is known so far; it is seen to that the rest is worked out."""
    if AGAIN in ask.query and explained_before(ask.job, ask.shop.store) is None:
        _begin(ask)
    return ask.page("causes.html", _page(ask), title="What may be wrong")


def found(ask: Ask) -> Response:
    """The answer alone, or a first look at it, once it is there, for a page that was shown before."""
    room, key = ask.drawing_room.work, _key(ask)
    if room.found(key) is None and explained_before(ask.job, ask.shop.store) is None:
        _begin(ask)
        with suppress(NotYet):  # then the page says that it is still at it
            room.wait(key, PATIENCE, or_first=room.first(key) is None)
    return HTMLResponse(rendered("causes_found.html", page=_page(ask)))


def _about(ask: Ask) -> tuple[object, ...]:
    return ("causes", ask.number, ask.preferences.units)


def _key(ask: Ask) -> tuple[object, ...]:
    return (*_about(ask), key_now(ask.job, store=ask.shop.store))


def _begin(ask: Ask) -> None:
    store, room = address_of(ask.shop.store), ask.drawing_room.work
    asked = (store, ask.number, ask.preferences.units)
    room.begin(_about(ask), _key(ask), explained, *asked, first=looked_at)


def _page(ask: Ask) -> Causes:
    room, here = ask.drawing_room.work, f"/jobs/{ask.number}/causes"
    told = explained_before(ask.job, ask.shop.store)
    known = told is not None
    outcome = None if known else room.found(_key(ask))
    if not known:
        if outcome is None:
            _begin(ask)
        told = room.last(_about(ask))
    working = not known and outcome is None
    look = room.first(_key(ask)) if working else None
    return Causes(
        job=f"/jobs/{ask.number}",
        here=here,
        number=ask.number,
        found=None if told is None else found_of(ask.job, told.answer),
        first=None if look is None else first_of(ask.job.chain_head, look),
        working=working,
        added=told is not None and told.head != ask.job.chain_head,
        meanwhile=_meanwhile(ask.job) if told is None else None,
        wrong=outcome.wrong if outcome else (),
        lost=outcome is not None and outcome.lost,
        up_to=when_said(told.up_to) if told and told.up_to else "",
        closed=ask.job.closed,
        at_machine=ask.at_machine,
        beside=beside_causes(advice(ask.job, ask.shop.store)) if known else "",
        said=said_before(ask),
    )


def _meanwhile(job: Job) -> Meanwhile:
    rows = (verdict_of(row) for row in job.judge().readings if row.stands and row.verdict == "outside")
    upcoming = () if job.closed else job.path().upcoming
    step, title = (upcoming[0].step, upcoming[0].title) if upcoming else ("", "")
    return Meanwhile(tuple(rows), job.uneven, step, title, step_reason(job, step) if step else "")


IN_JOB = (Line("What may be wrong", "/causes"),)
PAGES = (Page("/jobs/{number:int}/causes", show), Page("/jobs/{number:int}/causes/found", found))
