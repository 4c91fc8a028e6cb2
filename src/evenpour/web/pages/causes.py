"""The causes: what may be wrong, what speaks for and against, what cannot be told apart, what to check next.

The answer takes seconds, so it is worked out beside the server: the page shows at once what is known so far,
and fetches the rest: after a reading more first how likely each cause is now, then all that the answer says.
Without scripts a link loads it again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from urllib.parse import quote_plus

from starlette.responses import HTMLResponse, Response

from evenpour.job.catch.uneven import UnevenCatch
from evenpour.job.causes.answers import CauseLine, CausesAnswer, ReasonLine, RepairLine
from evenpour.job.causes.groups import apart_words, group_says, left_out_because, whole
from evenpour.job.causes.page import (
    LookedAt,
    NextCheck,
    address_of,
    experience_words,
    explained,
    explained_before,
    looked_at,
    next_checks,
    ranking,
    slip_words,
)
from evenpour.job.job import Job
from evenpour.job.sheet.found import sheet_stamp
from evenpour.job.step_page import step_reason
from evenpour.job.wording import likelihood, when_said
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.rendering import rendered
from evenpour.web.routes import Page
from evenpour.web.verdicts import Verdict, verdict_of
from evenpour.web.work_room import NotYet

AGAIN = "again"  # in the address: what went wrong is to be tried once more
PATIENCE = 1.5  # s, for which a page that fetches the answer is kept waiting before it asks again
REASONS = 3
REPAIRS = 4
LEAST_REPAIR = 0.05
MOST_LIKELY = 0.5  # of nothing known here being wrong, from which the page says so first
LENGTH = 1000  # the drawing's own units, of a line that means certainty
SOUND = "Nothing that is known here seems wrong"
SAME = "with it as without"  # a reason that shows no difference in its figures


@dataclass(frozen=True, slots=True)
class Reason:
    """What one check says: how strongly, and in which words."""

    strength: str
    words: str


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause, or two at once; ``length`` draws its share."""

    says: str
    how_bad: str
    share: str
    length: int
    speaks_for: tuple[Reason, ...]
    against: tuple[Reason, ...]
    more: tuple[Reason, ...]
    mended: tuple[str, ...]
    remedy: str


@dataclass(frozen=True, slots=True)
class Clash:
    """A reading that does not go with the others."""

    words: str
    share: str
    slips: str
    entry: str


@dataclass(frozen=True, slots=True)
class Repair:
    """A repair: what it would mend how likely, and what it takes."""

    words: str
    share: str
    minutes: float
    cost: str
    source: str


@dataclass(frozen=True, slots=True)
class Check:
    """A check worth doing, and the address that begins it."""

    check: NextCheck
    address: str


@dataclass(frozen=True, slots=True)
class Found:
    """Everything that the answer says, in words."""

    lead: str
    lead_share: str
    sound: bool
    readings: int
    causes: tuple[Cause, ...]
    nothing: str
    others: str
    unexplained: str
    clashes: tuple[Clash, ...]
    undivided: tuple[str, ...]
    first: Check | None
    checks: tuple[Check, ...]
    worth_doing: str
    repairs: tuple[Repair, ...]
    left_out: tuple[tuple[str, tuple[str, ...]], ...]
    notes: tuple[str, ...]
    experience: str
    hour: str


@dataclass(frozen=True, slots=True)
class Share:
    """One cause, or two at once, and how likely; ``length`` draws its share."""

    says: str
    share: str
    length: int


@dataclass(frozen=True, slots=True)
class First:
    """A first look: how likely each cause is with the newest readings, and nothing of why.

    ``of``: a sign of the readings it takes in.
    """

    of: str
    causes: tuple[Share, ...]
    nothing: str
    others: str
    unexplained: str
    readings: int
    up_to: str


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

    ``working``: what stands here, if anything, is not yet the answer to the newest readings. ``first`` only
    while it is worked out, ``meanwhile`` only while there is no answer here.
    """

    job: str
    here: str
    number: int
    found: Found | None
    first: First | None
    working: bool
    meanwhile: Meanwhile | None
    wrong: tuple[str, ...]
    lost: bool
    up_to: str
    closed: bool
    at_machine: bool


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
    return (*_about(ask), ask.job.chain_head, sheet_stamp(ask.job.sheet_name))


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
        found=None if told is None else _found(ask, told.answer),
        first=None if look is None else _first(ask.job.chain_head, look),
        working=working,
        meanwhile=_meanwhile(ask.job) if told is None else None,
        wrong=outcome.wrong if outcome else (),
        lost=outcome is not None and outcome.lost,
        up_to=when_said(told.up_to) if told and told.up_to else "",
        closed=ask.job.closed,
        at_machine=ask.at_machine,
    )


def _first(of: str, at: LookedAt) -> First:
    shown = ranking(at.look.causes, at.look.others)
    return First(
        of=of,
        causes=tuple(
            Share(group_says(one), likelihood(whole(one)), round(LENGTH * whole(one))) for one in shown.told
        ),
        nothing=likelihood(at.look.nothing_wrong),
        others=_if_any(shown.others),
        unexplained=_if_any(at.look.unexplained),
        readings=at.look.readings,
        up_to=when_said(at.up_to) if at.up_to else "",
    )


def _meanwhile(job: Job) -> Meanwhile:
    rows = (verdict_of(row) for row in job.judge().readings if row.stands and row.verdict == "outside")
    upcoming = () if job.closed else job.path().upcoming
    step, title = (upcoming[0].step, upcoming[0].title) if upcoming else ("", "")
    return Meanwhile(tuple(rows), job.uneven, step, title, step_reason(job, step) if step else "")


def _found(ask: Ask, answer: CausesAnswer) -> Found:
    begun = f"/jobs/{ask.number}"
    checks = tuple(Check(one, f"{begun}/{_begins(one)}") for one in next_checks(ask.job, answer.next_checks))
    apart = [apart_words(group) for group in answer.undivided]
    shown = ranking(answer.causes, answer.others)
    lead, share = _lead(answer, shown.told)
    return Found(
        lead=lead,
        lead_share=share,
        sound=lead == SOUND,
        readings=answer.readings,
        causes=tuple(_cause(one) for one in shown.told),
        nothing=likelihood(answer.nothing_wrong),
        others=_if_any(shown.others),
        unexplained=_if_any(answer.unexplained),
        clashes=tuple(
            Clash(one.words, likelihood(one.probability), slip_words(one), one.entry)
            for one in answer.clashes
        ),
        undivided=tuple("; or ".join(words) for words in apart if len(words) > 1),
        first=checks[0] if checks else None,
        checks=checks[1:],
        worth_doing=answer.worth_doing or "",
        repairs=tuple(_repair(one) for one in answer.repairs if one.probability >= LEAST_REPAIR)[:REPAIRS],
        left_out=tuple((why, tuple(what)) for why, what in left_out_because(answer.left_out).items()),
        notes=tuple(answer.notes),
        experience=experience_words(answer),
        hour=f"{answer.hour_of_work:g}",
    )


def _lead(answer: CausesAnswer, groups: Sequence[Sequence[CauseLine]]) -> tuple[str, str]:
    """The likeliest of all, in a sentence, and how likely."""
    top = whole(groups[0]) if groups else 0.0
    if answer.nothing_wrong >= max(MOST_LIKELY, top) or not groups:
        return SOUND, likelihood(answer.nothing_wrong)
    says = group_says(groups[0])
    start = "Most likely" if top >= MOST_LIKELY else "Not clear yet; likeliest is that"
    return f"{start} {says}", likelihood(top)


def _if_any(p: float) -> str:
    return likelihood(p) if p >= 0.005 else ""


def _cause(group: Sequence[CauseLine]) -> Cause:
    one = group[0]
    speaks_for, against = (list(_reasons(side)) for side in (one.for_, one.against))
    return Cause(
        says=group_says(group),
        how_bad=one.severity_words,
        share=likelihood(whole(group)),
        length=round(LENGTH * whole(group)),
        speaks_for=tuple(speaks_for[:REASONS]),
        against=tuple(against[:REASONS]),
        more=(*speaks_for[REASONS:], *against[REASONS:]),
        mended=tuple(one.if_mended),
        remedy=one.remedy or "",
    )


def _reasons(lines: list[ReasonLine]) -> Iterator[Reason]:
    """Those whose figures show a difference: one that shows none only fits in with the rest."""
    return (Reason(one.strength, one.words) for one in lines if not one.words.endswith(SAME))


def _repair(one: RepairLine) -> Repair:
    where = "" if one.cylinder is None else f", cylinder {one.cylinder}"
    cost = f"parts about {one.cost:g} in your money" if one.cost else "no parts"
    return Repair(f"{one.remedy}{where}", likelihood(one.probability), one.minutes, cost, one.source)


def _begins(one: NextCheck) -> str:
    if not one.through:
        return f"steps/{one.step}"
    swaps = "".join(f"&swap={quote_plus(swap)}" for swap in one.swaps)
    return f"catch?through={one.through}&opening={quote_plus(one.opening)}{swaps}#new-catch"


IN_JOB = (Line("What may be wrong", "/causes"),)
PAGES = (Page("/jobs/{number:int}/causes", show), Page("/jobs/{number:int}/causes/found", found))
