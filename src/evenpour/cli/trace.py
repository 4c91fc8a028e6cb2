"""``evenpour trace``: what a log of pressures, or of a drive, tells."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from evenpour.cli import show
from evenpour.cli.judge import print_rows
from evenpour.cli.trace_chart import lines_of
from evenpour.job.wording import likelihood

if TYPE_CHECKING:
    from evenpour.job.answers import AddAnswer
    from evenpour.job.trace.answers import Prediction, TraceAnswer, TraceColumn

LARGE = 20_000_000  # bytes, from which reading takes long enough for a bar
EXAMPLES = """
\b
  evenpour trace holding.csv --kind holding --sheet flat-six
  evenpour trace holding.csv --kind holding --job 3 valve=open with=gauge who=AB
  evenpour trace log.csv --kind holding --sheet flat-six --column pressure=3
  evenpour trace warm.csv --kind warm_up --sheet flat-six voltage=12.1V valve=open
  evenpour trace drive.csv --kind running --sheet flat-six --warm --chart drive.svg
  evenpour trace drive.csv --kind running --sheet flat-six --rows 120-90000
"""


@click.command("trace", epilog=EXAMPLES)
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("words", nargs=-1, metavar="[NAME=VALUE ...]")
@click.option("--kind", required=True, metavar="holding|warm_up|running", help="What was recorded.")
@click.option("--job", help="A job file, or a stored job's number; the latter keeps the readings.")
@click.option("--sheet", help="The sheet to hold it against, where there is no job.")
@click.option("--column", "columns", multiple=True, metavar="USE=N[:UNIT]", help="Which column is what.")
@click.option("--rows", metavar="A-B", help="Lines of the file that count.")
@click.option("--missing", multiple=True, metavar="WORD", help="A further word for: nothing was read.")
@click.option("--started", metavar="TIME", help="Pump stopped, or heater on, so long after the first row.")
@click.option("--warm", is_flag=True, help="The engine was warm throughout.")
@click.option("--state", help="How the engine ran throughout: road_steady, fast_idle ...")
@click.option("--chart", type=click.Path(path_type=Path), metavar="FILE.svg", help="Write the chart.")
@click.option("--at", help="When it was so on the car, like 2026-05-03T10:12; now, if not given.")
@click.option("--sure", is_flag=True, help="It is so, odd as it looks.")
@show.answer_options
def command(
    file: Path,
    words: tuple[str, ...],
    kind: str,
    job: str | None,
    sheet: str | None,
    columns: tuple[str, ...],
    rows: str | None,
    missing: tuple[str, ...],
    started: str | None,
    warm: bool,
    state: str | None,
    chart: Path | None,
    at: str | None,
    sure: bool,
    as_json: bool,
    units: str | None,
) -> int:
    """Read a log, fit it, and say what it tells.

    FILE is a CSV of any form: its delimiter, decimal mark, heads and units are found, and a column that is
    not clear is asked about. NAME=VALUE states conditions as for add.
    """
    from evenpour.job.trace.tracing import TraceAsked, trace

    asked = TraceAsked(
        kind=kind.replace("-", "_"),
        job=job,
        sheet=sheet,
        words=words,
        columns=columns,
        rows=rows,
        missing=missing,
        started=started,
        warm=warm,
        state=state,
        at=at,
        sure=sure,
        units=units,
    )
    with _bar(file) as progress:
        answer = trace(file, asked, progress)
    if chart is not None:
        from evenpour.record.trace_chart import write_trace_chart

        write_trace_chart(answer.plot, chart)
    if as_json:
        show.print_json(answer)
    else:
        _print(answer, job, chart)
    stale = answer.added is not None and bool(answer.added.went_stale)
    return int(stale or any(row.stands and row.verdict == "outside" for row in answer.readings))


@contextmanager
def _bar(file: Path) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on the terminal while a large file is read; none where nobody looks."""
    if not sys.stderr.isatty() or not file.is_file() or file.stat().st_size < LARGE:
        yield None
        return
    with click.progressbar(length=file.stat().st_size, label="Reading", file=sys.stderr) as bar:

        def told(done: int, of: int) -> None:
            bar.update(done - bar.pos)

        yield told


def _print(answer: TraceAnswer, job: str | None, chart: Path | None) -> None:
    show.cautions(answer.cautions, job)
    show.line()
    show.wrapped(f"{answer.file}, {answer.rows}: {answer.samples} readings.")
    show.table((_column(one) for one in answer.columns), ["column", "unit", "used as", "why"])
    for note in answer.notes:
        show.wrapped(f"- {note}", hang="  ")
    show.line()
    for text in lines_of(answer.plot, show.width()):
        show.line(text)
    show.heading("What it follows")
    show.wrapped(answer.fit.law_words)
    if len(answer.fit.laws) > 1:
        show.table([law.title, likelihood(law.probability)] for law in answer.fit.laws)
        show.line()
    beside = any(one.note for one in answer.fit.parameters)
    show.table(
        (
            [one.title, one.shown, one.range_shown, *([one.note or "-"] if beside else [])]
            for one in answer.fit.parameters
        ),
        ["", "value", "19 times in 20", *(["healthy engines"] if beside else [])],
    )
    for note in answer.fit.notes:
        show.wrapped(note)
    if answer.predictions:
        show.heading("What follows from it")
        show.table(
            (_prediction(one) for one in answer.predictions), ["", "value", "19 times in 20", "limit", ""]
        )
        if any(one.beyond for one in answer.predictions):
            show.wrapped("*: beyond the end of the recording, foretold by the law alone.")
    if answer.readings:
        show.heading("Readings made of it")
        print_rows(answer.readings)
    if answer.added is not None and job is not None:
        _print_added(answer.added, answer.kept, job)
    if chart is not None:
        show.line(f"Chart written to {chart}.")
    show.notice(answer.notice)


def _column(one: TraceColumn) -> list[str]:
    head = f" {one.name}" if one.name else ""
    return [f"{one.number}{head}", one.unit or "-", (one.used_as or "-").replace("_", " "), one.why]


def _prediction(one: Prediction) -> list[str]:
    note = f" ({one.note})" if one.note else ""
    met = "" if one.p is None else f"{likelihood(one.p)} likely met"
    return [
        f"{'*' if one.beyond else ''}{one.title}{note}",
        one.shown,
        one.range_shown,
        one.limit or "-",
        met,
    ]


def _print_added(added: AddAnswer, kept: list[str], job: str) -> None:
    show.line()
    show.wrapped(f"Kept in job {job} as {', '.join(kept)}, with the file's hash and lines.", hang="  ")
    for claim in added.went_stale:
        show.wrapped(f"STALE now: {claim.says}: {claim.why}", hang="  ")
    for step in added.mend:
        show.wrapped(f"To put it right, or to find out: {step.title} [{step.step}]", hang="  ")
