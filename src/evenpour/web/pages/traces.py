"""Recordings: a file is chosen, its columns are shown as understood, and what it tells is charted and judged.

The file comes in pieces and waits on the server's disk; what was chosen about it stands in the address. To
read and fit it takes seconds, so that is done beside the server, and the page fetches it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from urllib.parse import urlencode

from starlette.responses import HTMLResponse, RedirectResponse, Response

from evenpour.errors import FieldProblem, Problem
from evenpour.job.answers import CautionLine
from evenpour.job.asking import AskedReading, Choice, asked_reading
from evenpour.job.causes.page import address_of
from evenpour.job.caution_told import cautions_told, was_read
from evenpour.job.entries import Draft
from evenpour.job.sheet.found import sheet_stamp
from evenpour.job.trace.answers import KeptRecording, PlotLine, TraceAnswer, TracePlot
from evenpour.job.trace.page import (
    RECORDINGS,
    Columns,
    Recording,
    TraceRead,
    checks_of,
    entries_of,
    note_on_a_page,
    on_a_page,
    read_trace,
    recording_of,
    take_in,
    understood,
    waiting_file,
)
from evenpour.job.trace.recordings import keep
from evenpour.job.trace.tracing import TraceAsked
from evenpour.job.wording import likelihood
from evenpour.record.charts import Chart
from evenpour.record.trace_chart import narrow_trace_chart
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.entry_forms import amount, conditions_in
from evenpour.web.problems import NOTHING_TYPED, ShownProblem, Typed, problems_shown
from evenpour.web.rendering import rendered
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_drafts, save_entry
from evenpour.web.verdicts import Verdict, verdict_of
from evenpour.web.work_room import NotYet, Outcome

FORM = "trace"
LARGEST: Final = 400_000_000  # bytes; five million rows of ten columns
SHORTEN: Final = "Cut it to the part that matters, or let the logger write fewer columns or fewer lines."
PATIENCE = 1.5  # s, for which a page that fetches is kept waiting before it asks again
TO_KEEP = 30.0  # s, for which keeping waits where a recording must be read once more
STATES = ("road_steady", "cruise", "fast_idle", "idle_warm", "full_load")
ODD = "“It is so”"  # in the words of what is only unlikely
ROWS = 20  # of the chart's table
Form = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Kept:
    """A recording that readings were made of."""

    told: KeptRecording
    title: str
    address: str


@dataclass(frozen=True, slots=True)
class Traces:
    """Everything traces.html may use."""

    here: str
    kinds: tuple[Recording, ...]
    kind: str
    kept: tuple[Kept, ...]
    forms: FormState


@dataclass(frozen=True, slots=True)
class Foretold:
    """What follows from the fit."""

    title: str
    shown: str
    span: str
    limit: str
    met: str


@dataclass(frozen=True, slots=True)
class Told:
    """What the recording tells, for trace_found.html."""

    answer: TraceAnswer
    chart: Chart
    verdicts: tuple[Verdict, ...]
    foretold: tuple[Foretold, ...]
    beyond: bool
    laws: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    table: tuple[PlotLine, ...]
    makes: int


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything trace.html may use.

    ``carried``: what the address says, for the form that keeps the readings; ``unclear``: it cannot be read
    before somebody has chosen; ``unread`` while there are cautions that nobody has read on this job: until
    then no reading is kept of it.
    """

    up: str
    here: str
    file: str
    size: str
    recording: Recording
    cautions: tuple[CautionLine, ...]
    unread: bool
    asked_address: str
    columns: Columns | None
    choices: tuple[Choice, ...]
    asked: AskedReading
    states: tuple[Choice, ...]
    found_address: str
    told: Told | None
    working: bool
    unclear: bool
    carried: tuple[tuple[str, str], ...]
    forms: FormState


def show(ask: Ask) -> Response:
    """The form for a file, and the recordings kept so far."""
    return _shown(ask, NOTHING_SENT)


def take(ask: Ask) -> Response:
    """A file: it is put by, and its page shown."""
    upload, kind = ask.upload, ask.form.get("kind", "")
    try:
        recording_of(kind)
        if upload is None:
            raise FieldProblem("file", None, "is missing", remedy="Choose the recording first.")
        token = take_in(upload.file, upload.filename or "")
    except Problem as problem:
        return _shown(ask, Sent(ask.typed(), tuple(problems_shown(problem)), 422))
    return RedirectResponse(f"{_here(ask)}/{token}?{urlencode({'kind': kind})}", status_code=303)


def show_one(ask: Ask) -> Response:
    """One recording: its columns at once, what it tells when that is worked out."""
    return _trace(ask, ask.query, NOTHING_SENT)


def keep_one(ask: Ask) -> Response:
    """Keep the readings made of it, and the recording with them; or that the cautions were read."""
    if ask.form.get("form") == "cautions":
        return save_entry(ask, _asked_address(ask), lambda ask, sent: _trace(ask, ask.query, sent))
    form, path = ask.form, waiting_file(ask.word("token"))
    read = _read(ask, form, path)
    kept = {entry.id for entry in ask.job.entries}
    if read.drafts and all(one.id in kept for one in read.drafts):
        return ask.saved(f"{_here(ask)}?entry={read.drafts[0].id}#said")  # by another device, or another time

    def entries() -> list[Draft]:
        return entries_of(read, form.get("at", "").strip() or None, form.get("who", ""), form.get("note", ""))

    def again(ask: Ask, sent: Sent) -> Response:
        return _trace(ask, form, sent)

    answer = save_drafts(ask, entries, _here(ask), again, named=read.drafts[0].id if read.drafts else None)
    if answer.status_code < 400:
        keep(path, read.answer)
    return answer


def found_one(ask: Ask) -> Response:
    """What a recording tells, alone, for a page that was shown before."""
    page = _page(ask, ask.query, wait=PATIENCE)
    return HTMLResponse(rendered("trace_found.html", page=page))


def chart_of(ask: Ask) -> Response:
    """The chart of a recording that was kept."""
    kept, place = ask.job.recordings(), int(ask.request.path_params["place"])
    charts = [_drawn(ask, kept[place].plot, f"t{place}")] if place < len(kept) else []
    return HTMLResponse(rendered("drawings.html", charts=charts))


def _here(ask: Ask) -> str:
    return f"/jobs/{ask.number}/traces"


def _shown(ask: Ask, sent: Sent) -> Response:
    titles = {one.kind: one.title for one in RECORDINGS}
    page = Traces(
        here=_here(ask),
        kinds=RECORDINGS,
        kind=ask.form.get("kind", "") or ask.query.get("kind", ""),
        kept=tuple(
            Kept(one, titles[one.kind], f"{_here(ask)}/kept/{place}")
            for place, one in enumerate(ask.job.recordings())
        ),
        forms=form_state(ask, "trace", sent),
    )
    return ask.page("traces.html", page, title="Recordings", status=sent.status)


def _trace(ask: Ask, form: Form, sent: Sent) -> Response:
    page = _page(ask, form, sent)
    status = 422 if page.forms.problems and sent.status < 400 else sent.status
    return ask.page("trace.html", page, title=page.file, status=status)


def _asked_address(ask: Ask) -> str:
    """The recording's page, with what its address says of it."""
    said = [(name, text) for name, text in ask.query.items() if _is_carried(name) and text]
    return f"{_here(ask)}/{ask.word('token')}?{urlencode(said)}"


def _page(ask: Ask, form: Form, sent: Sent = NOTHING_SENT, *, wait: float = 0.0) -> Trace:
    job, token = ask.job, ask.word("token")
    path, recording = waiting_file(token), recording_of(form.get("kind", ""))
    columns: Columns | None = None
    try:
        columns = understood(path, recording.kind, _stated(form), job.system)
        unclear = [shown for one in columns.problems for shown in _problems(one)]
    except Problem as problem:
        unclear = _problems(problem)
    outcome = None if unclear else _outcome(ask, form, path, wait=wait)
    wrong = [ShownProblem(words, odd=ODD in words) for words in outcome.wrong] if outcome else []
    carried = tuple((name, text) for name, text in form.items() if _is_carried(name) and text)
    read = sent.typed.has("cautions")
    typed = sent.typed if read else Typed(FORM, form) if form else NOTHING_TYPED
    cautions = tuple(cautions_told(recording.step, job.known, job.facts))
    unread = not all(was_read(one) for one in cautions)
    return Trace(
        up=_here(ask),
        here=f"{_here(ask)}/{token}",
        file=path.name,
        size=f"{path.stat().st_size / 1e6:.1f} MB" if path.stat().st_size > 1e5 else "",
        recording=recording,
        cautions=cautions,
        unread=unread,
        asked_address=_asked_address(ask),
        columns=columns,
        choices=tuple(_choices(columns)) if columns else (),
        asked=asked_reading(job, checks_of(recording.kind)[0]),
        states=tuple((name, name.replace("_", " ")) for name in STATES),
        found_address=f"{_here(ask)}/{token}/found?{urlencode(carried)}",
        told=_told(ask, outcome.found) if outcome and outcome.found else None,
        working=not unclear and outcome is None,
        unclear=bool(unclear),
        carried=carried,
        forms=form_state(ask, "trace", Sent(typed, (*sent.problems, *unclear, *wrong)), name_once=unread),
    )


def _problems(problem: Problem) -> list[ShownProblem]:
    return [shown for one in on_a_page(problem) for shown in problems_shown(one)]


def _is_carried(name: str) -> bool:
    named = ("kind", "rows", "missing", "started", "started-unit", "warm", "state", "instrument", "sure")
    return name in named or name.startswith(("column.", "unit.", "c.", "w."))


def _choices(columns: Columns) -> Iterator[Choice]:
    """The columns that may be used for anything: figures and times."""
    for one in columns.columns:
        if one.kind in ("figure", "clock"):
            yield str(one.number), f"{one.number} {one.head}".strip()


def _stated(form: Form) -> dict[str, str]:
    """What was chosen: a use to its column, with the unit where one was chosen too."""
    chosen = {name[7:]: text for name, text in form.items() if name.startswith("column.") and text}
    units = {name: form.get(f"unit.{name}", "") for name in chosen}
    return {name: f"{text}:{units[name]}" if units[name] else text for name, text in chosen.items()}


def _asked(ask: Ask, form: Form) -> TraceAsked:
    pairs = [f"{name}={text}" for name, text in conditions_in(form)]
    pairs += [f"with={form['instrument']}"] if form.get("instrument") else []
    return TraceAsked(
        kind=form.get("kind", ""),
        words=pairs,
        columns=[f"{name}={text}" for name, text in _stated(form).items()],
        rows=form.get("rows", "").strip() or None,
        missing=[form["missing"].strip()] if form.get("missing", "").strip() else [],
        started=amount(form, "started") or None,
        warm=form.get("warm") == "yes",
        state=form.get("state") or None,
        sure=form.get("sure") == "yes",
        units=ask.preferences.units,
    )


def _outcome(ask: Ask, form: Form, path: Path, *, wait: float) -> Outcome | None:
    """What came of reading it; None while that is being done."""
    room, asked = ask.drawing_room.work, _asked(ask, form)
    key = ("trace", ask.number, path, repr(asked), ask.job.chain_head, sheet_stamp(ask.job.sheet_name))
    found = room.found(key)
    if found is None:
        room.begin(("trace", path), key, read_trace, address_of(ask.shop.store), ask.number, path, asked)
        if wait:
            with suppress(NotYet):
                return room.wait(key, wait)
    return found


def _read(ask: Ask, form: Form, path: Path) -> TraceRead:
    """The same, waited for: what was shown is kept.

    Raises:
        FieldProblem: it cannot be read, or takes too long.
    """
    outcome = _outcome(ask, form, path, wait=TO_KEEP)
    read: TraceRead | None = outcome.found if outcome else None
    if read is None:
        words = " ".join(outcome.wrong) if outcome else "is still being read"
        raise FieldProblem("recording", None, words, remedy="Load its page again.")
    return read


def _drawn(ask: Ask, plot: TracePlot, name: str) -> Chart:
    digest = hashlib.sha256(plot.model_dump_json().encode()).hexdigest()
    return ask.drawing_room.draw(("trace", digest, name), narrow_trace_chart, plot, name)


def _told(ask: Ask, read: TraceRead) -> Told:
    answer = read.answer
    return Told(
        answer=answer,
        chart=_drawn(ask, answer.plot, "t"),
        verdicts=tuple(verdict_of(row) for row in answer.readings),
        foretold=tuple(_foretold(answer)),
        beyond=any(one.beyond for one in answer.predictions),
        laws=tuple((law.title, likelihood(law.probability)) for law in answer.fit.laws),
        notes=tuple(note_on_a_page(words) for words in answer.notes),
        table=tuple(answer.plot.line[:: max(1, len(answer.plot.line) // ROWS)]),
        makes=len(read.drafts),
    )


def _foretold(answer: TraceAnswer) -> Iterator[Foretold]:
    for one in answer.predictions:
        note = f" ({one.note})" if one.note else ""
        met = "" if one.p is None else f"{likelihood(one.p)} likely met"
        title = f"{'* ' if one.beyond else ''}{one.title}{note}"
        yield Foretold(title, one.shown, one.range_shown, one.limit or "–", met)


IN_JOB = (Line("Recordings", "/traces"),)
PAGES = (
    Page("/jobs/{number:int}/traces", show, take, largest=LARGEST, smaller=SHORTEN),
    Page("/jobs/{number:int}/traces/kept/{place:int}", chart_of),
    Page("/jobs/{number:int}/traces/{token}", show_one, keep_one),
    Page("/jobs/{number:int}/traces/{token}/found", found_one),
)
