"""From a log to what it tells: read, fitted, held against a sheet, and, in a stored job, kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from evenpour.errors import FieldProblem, unknown
from evenpour.job.adding import add_all
from evenpour.job.answers import JudgedReading, Word
from evenpour.job.catalogue import catalogue
from evenpour.job.caution_told import cautions_told
from evenpour.job.opening import is_number, own_store, stored_job
from evenpour.job.times import read_time
from evenpour.job.trace.answers import Prediction, TraceAnswer, TraceColumn
from evenpour.job.trace.bench import Bench, bench, judged, refuse_unused
from evenpour.job.trace.columns import ROLES, Column, TraceKind
from evenpour.job.trace.file import Progress
from evenpour.job.trace.found import Asking, FoundIn
from evenpour.job.trace.holding import found_in_holding
from evenpour.job.trace.input import Asked, Recorded, recorded
from evenpour.job.trace.recordings import keep
from evenpour.job.trace.running import found_in_running
from evenpour.job.trace.warm_up import found_in_warm_up
from evenpour.job.typed_words import whole
from evenpour.measure.units import parse

KINDS: Final[Mapping[TraceKind, Callable[[Asking], FoundIn]]] = {
    "holding": found_in_holding,
    "warm_up": found_in_warm_up,
    "running": found_in_running,
}
CHECKS: Final[Mapping[TraceKind, tuple[str, ...]]] = {
    "holding": ("holding_pressure",),
    "warm_up": ("control_pressure_warm", "control_pressure_cold"),
    "running": ("exhaust_lambda",),
}
WORST: Final[tuple[Word, ...]] = ("outside", "cannot_tell", "within")


@dataclass(frozen=True, slots=True)
class TraceAsked:
    """What a person asks of a log.

    Attributes:
        kind: "holding", "warm_up" or "running".
        job: A job file, or a stored job's number; then what was read goes into it.
        sheet: A sheet's name, where there is no job.
        words: Conditions and fields as for ``evenpour add``: ``voltage=12.1V with=gauge who=AB``.
        columns: ``use=column`` as typed: "pressure=3", "time=1:ms".
        rows: "120-2400": lines of the file that count.
        missing: Further words that stand where nothing was read.
        started: When the pump stopped or the heater was switched on, after the first row, as typed.
        warm: The engine was warm throughout.
        state: How it ran throughout.
        at: When it was so on the car.
        sure: It is so, odd as it looks.
        units: The user's system of units; ``None`` keeps the file's own.
    """

    kind: str
    job: str | None = None
    sheet: str | None = None
    words: Sequence[str] = ()
    columns: Sequence[str] = ()
    rows: str | None = None
    missing: Sequence[str] = ()
    started: str | None = None
    warm: bool = False
    state: str | None = None
    at: str | None = None
    sure: bool = False
    units: str | None = None


def trace(path: Path, asked: TraceAsked, progress: Progress | None = None) -> TraceAnswer:
    """What a log tells; with a stored job, its readings are kept there, and the file beside the store.

    Raises:
        Problem: the file, a column or a word cannot be understood, or the job may not take it.
    """
    answer, found = trace_on(path, asked, bench(asked.job, asked.sheet, asked.words, asked.units), progress)
    if asked.job is not None and is_number(asked.job) and found.drafts:
        return _kept(path, answer, found, int(asked.job), asked)
    return answer


def trace_on(
    path: Path, asked: TraceAsked, at_bench: Bench, progress: Progress | None = None
) -> tuple[TraceAnswer, FoundIn]:
    """What a log tells on a bench that is set up, and the readings that would be made of it; none is kept.

    Raises:
        Problem: the file, a column or a word cannot be understood.
    """
    if asked.kind not in KINDS:
        raise unknown("kind", asked.kind, KINDS, kind="kind of trace")
    kind: TraceKind = asked.kind  # type: ignore[assignment]
    refuse_unused(at_bench, CHECKS[kind])
    state = _state(asked.state)  # what was typed comes before a file that may be long
    started = parse(asked.started, "time", field="started").value if asked.started else None
    at = read_time(asked.at, now=datetime.now(UTC)) if asked.at else None
    read = recorded(path, kind, _reading_of(asked, at_bench), progress)
    asking = Asking(
        recorded=read,
        bench=at_bench,
        at=at,
        sure=asked.sure,
        started=started,
        warm=asked.warm,
        state=state,
    )
    found = KINDS[kind](asking)
    return _answer(kind, read, at_bench, found, judged(at_bench, found.drafts)), found


def _reading_of(asked: TraceAsked, at_bench: Bench) -> Asked:
    instrument = at_bench.instrument
    return Asked(
        columns=dict(_use_and_column(one, asked.kind) for one in asked.columns),
        lines=_lines(asked.rows),
        missing=tuple(asked.missing),
        scale=instrument.scale if instrument else None,
        air_pressure=at_bench.air_pressure,
    )


def _use_and_column(text: str, kind: str) -> tuple[str, str]:
    use, equals, column = text.partition("=")
    if not equals or not column.strip():
        uses = ", ".join(role.name for role in ROLES[kind])  # type: ignore[index]
        raise FieldProblem("column", text, "does not say which column", allowed=f"USE=NUMBER, of {uses}",
                           remedy="Write it like --column pressure=3 or --column pressure=3:psi")  # fmt: skip
    return use.strip(), column.strip()


def _lines(rows: str | None) -> tuple[int, int] | None:
    if rows is None:
        return None
    first, last = (whole(side) for side in rows.partition("-")[::2])
    if first is None or last is None:
        raise FieldProblem("rows", rows, "names no lines", allowed="first and last line, like 120-2400")
    return first, last


def _state(state: str | None) -> str | None:
    choices = catalogue().kinds["state"].choices
    if state is not None and state not in choices:
        raise unknown("state", state, choices, kind="state of the engine")
    return state


def _answer(
    kind: TraceKind, read: Recorded, at_bench: Bench, found: FoundIn, rows: list[JudgedReading]
) -> TraceAnswer:
    return TraceAnswer(
        kind=kind,
        file=read.file,
        sha256=read.sha256,
        rows=read.rows_words,
        samples=int(read.time.size),
        columns=[_column(one) for one in read.columns],
        fit=found.fit,
        verdict=_worst(rows),
        readings=rows,
        predictions=_as_judged(found.predictions, rows) if kind == "holding" else list(found.predictions),
        plot=found.plot,
        notes=[*read.notes, *found.notes],
        cautions=cautions_told(
            found.step, at_bench.known, at_bench.job.facts if at_bench.job.number else None
        ),
        sheet=at_bench.sheet.id,
        notice=at_bench.sheet.notice,
    )


def _as_judged(predictions: Sequence[Prediction], rows: Sequence[JudgedReading]) -> list[Prediction]:
    """What was read within the recording is as likely within its limit as its verdict says: one figure."""
    read = {row.conditions.get("after", "").partition(" ± ")[0]: row.p_within for row in rows}
    found = []
    for one in predictions:
        moment = one.title.removeprefix("pressure ").removesuffix(" after the stop")
        p = read.get(moment) if one.name == "pressure" and not one.beyond else None
        found.append(one if p is None or one.p is None else one.model_copy(update={"p": p}))
    return found


def _column(one: Column) -> TraceColumn:
    return TraceColumn(
        number=one.number,
        name=one.head,
        unit=one.unit.text if one.unit else None,
        quantity=one.dimension or ("time" if one.kind == "clock" else None),
        used_as=one.role or None,
        why=one.why,
    )


def _worst(rows: Sequence[JudgedReading]) -> Word:
    said = {row.verdict for row in rows}
    return next((word for word in WORST if word in said), "cannot_tell")


def _kept(path: Path, answer: TraceAnswer, found: FoundIn, number: int, asked: TraceAsked) -> TraceAnswer:
    """The same, with the readings in the job and the file beside it."""
    with own_store() as store:
        job = stored_job(store, number, units=asked.units)
        added = add_all(store, number, found.drafts, sure=asked.sure, units=asked.units, before=job)
    keep(path, answer)
    rows = added.readings
    return answer.model_copy(
        update={
            "readings": rows,
            "verdict": _worst(rows),
            "added": added,
            "kept": [draft.id for draft in found.drafts if draft.id],
        }
    )
