"""The catches: what each port poured, how even that is, which part is off, the catch that tells most next."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import HTMLResponse, Response

from evenpour.job.advice import advice, beside_catches, put_right_first
from evenpour.job.answers import CatchAnswer, NextCatchAnswer, RunAnswer
from evenpour.job.asking import Choice
from evenpour.job.catch.page import AskedCatches, asked_catches
from evenpour.job.caution_told import was_read
from evenpour.job.exchanges import exchanged_now, swap_words
from evenpour.job.job import Job
from evenpour.job.port_words import exchange_words
from evenpour.job.step_page import Exchanging, exchanging
from evenpour.job.wording import catch_verdict, doubt_words, key_words, part_name
from evenpour.record.charts import Chart, flow_charts
from evenpour.record.panels import FLOW_UNITS
from evenpour.record.words import spread_words
from evenpour.web.ask import Ask
from evenpour.web.catch_form import HOW_THEY_HANG, Wanted, catch_drafts, wanted, wanted_address
from evenpour.web.contents import Line
from evenpour.web.rendering import rendered
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_drafts, save_entry

ONE_ACROSS = 1


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of catch: how even it is."""

    name: str
    spread: str
    limit: str
    verdict: str
    sure: str
    uneven: bool


@dataclass(frozen=True, slots=True)
class Caught:
    """One run, as typed."""

    number: int
    kind: str
    answer: RunAnswer
    times: str


@dataclass(frozen=True, slots=True)
class Catching:
    """Everything catch.html may use.

    ``unread`` while there are cautions that nobody has read on this job: until then nothing is entered here.
    ``exchange`` says what the catch asked for wants exchanged, ``exchanging`` how; ``wanted_address`` keeps
    it over the reading of the cautions. ``standing`` is exchanged since an earlier catch, and asked about.
    ``beside``: why the job's first page advises another thing.
    """

    answer: CatchAnswer
    kinds: tuple[Kind, ...]
    runs: tuple[Caught, ...]
    doubt: tuple[str, ...]
    undivided: tuple[str, ...]
    next_words: str
    next_address: str
    beside: str
    asked: AskedCatches
    wanted: Wanted
    wanted_address: str
    standing: str
    hanging: tuple[Choice, ...]
    exchange: str
    exchanging: Exchanging | None
    unread: bool
    drawings: tuple[Chart, ...] | None
    drawings_address: str
    flow_unit: str
    forms: FormState


def show(ask: Ask) -> Response:
    """The catches and the form."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """One more catch, with where exchanged parts hang; or that the cautions were read: what was asked for
    still is then.
    """
    read = ask.form.get("kind") == "caution"
    if read:
        return save_entry(ask, wanted_address(ask), _shown)
    return save_drafts(ask, lambda: catch_drafts(ask), f"/jobs/{ask.number}/catch", _shown, kind="catch")


def drawings(ask: Ask) -> Response:
    """The drawings alone, for a page that was shown before they were ready."""
    job = ask.job
    answer, units = job.catch(), job.system
    charts = ask.drawing_room.draw(
        _key(ask), flow_charts, answer.runs, answer.limit_by_run, units, ONE_ACROSS
    )
    return HTMLResponse(rendered("drawings.html", charts=charts))


def _key(ask: Ask) -> tuple[object, ...]:
    return ("flow", ask.number, ask.job.chain_head, ask.job.system)


def _shown(ask: Ask, sent: Sent) -> Response:
    job = ask.job
    answer = job.catch()
    chosen = wanted(ask, answer)
    how = exchanging(job, chosen.through, chosen.opening) if chosen.swaps else None
    asked = asked_catches(job, how.step.step if how else "")
    unread = not all(was_read(one) for one in asked.cautions) and not job.closed
    page = Catching(
        answer=answer,
        kinds=tuple(_kind(answer, key) for key in _newest_first(answer)),
        runs=tuple(_caught(run) for run in reversed(answer.runs)),
        doubt=tuple(doubt_words(answer)),
        undivided=tuple(" or ".join(part_name(one) for one in group) for group in answer.undivided),
        next_words=_next_words(job, answer.next_catch),
        next_address=_next_address(ask.number, answer.next_catch),
        beside=_beside(ask, answer.next_catch),
        asked=asked,
        wanted=chosen,
        wanted_address=wanted_address(ask),
        standing=exchange_words(job.sheet, [swap_words(one) for one in exchanged_now(job)]),
        hanging=HOW_THEY_HANG,
        exchange=exchange_words(
            job.sheet, [f"{kind} {one} with {other}" for kind, one, other in chosen.swaps]
        ),
        exchanging=how,
        unread=unread,
        drawings=ask.drawing_room.kept(_key(ask)),
        drawings_address=f"/jobs/{ask.number}/catch/drawings",
        flow_unit=FLOW_UNITS[job.system],
        forms=form_state(ask, "catch", sent, name_once=unread),
    )
    return ask.page("catch.html", page, title="Catches", status=sent.status)


def _newest_first(answer: CatchAnswer) -> list[str]:
    """The kinds of catch that were judged, that of the newest run first."""
    order = dict.fromkeys(
        f"{run.through}:{run.opening}" for run in reversed(answer.runs) if not run.discarded
    )
    return sorted(answer.spread_by_run, key=list(order).index)


def _kind(answer: CatchAnswer, key: str) -> Kind:
    """How even it is."""
    limit = answer.limit_by_run[key]
    verdict, sure = catch_verdict(answer, key)
    return Kind(
        name=key_words(key),
        spread=spread_words(answer.spread_by_run[key], answer.u_by_run[key]),
        limit="no limit on the sheet" if limit is None else f"at most {100.0 * limit:g} %",
        verdict=verdict,
        sure=sure,
        uneven=verdict == "uneven",
    )


def _caught(run: RunAnswer) -> Caught:
    times = ", ".join(dict.fromkeys(f"{duration:g} s" for duration in run.durations))
    return Caught(run.catch + 1, key_words(f"{run.through}:{run.opening}"), run, times)


def _next_words(job: Job, following: NextCatchAnswer | None) -> str:
    if following is None:
        return ""
    swaps = f", {exchange_words(job.sheet, following.swaps)} exchanged" if following.swaps else ""
    return f"{key_words(f'{following.through}:{following.opening}')}{swaps}"


def _beside(ask: Ask, following: NextCatchAnswer | None) -> str:
    """Why this page advises another thing than the job's first page."""
    if following is None:
        return ""
    now = advice(ask.job, ask.shop.store)
    swaps, mended = tuple(following.swaps), put_right_first(ask.job)
    return beside_catches(now, following.through, following.opening, swaps, mended)


def _next_address(number: int, following: NextCatchAnswer | None) -> str:
    if following is None:
        return ""
    swaps = "".join(f"&swap={swap.replace(' ', '+')}" for swap in following.swaps)
    return f"/jobs/{number}/catch?through={following.through}&opening={following.opening}{swaps}#new-catch"


IN_JOB = (Line("Catches", "/catch"),)
PAGES = (Page("/jobs/{number:int}/catch", show, save), Page("/jobs/{number:int}/catch/drawings", drawings))
