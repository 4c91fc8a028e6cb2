"""``evenpour judge``: every reading held against its limit."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.job.answers import JudgeAnswer, JudgedReading


@click.command("judge")
@show.job_argument
@show.answer_options
def command(job: str, as_json: bool, units: str | None) -> int:
    """Judge every reading of JOB against its limits."""
    from evenpour.job import open_job

    answer = open_job(job, units=units).judge()
    if as_json:
        show.print_json(answer)
    else:
        _print(answer)
    return int(any(row.stands and row.verdict == "outside" for row in answer.readings))


def _print(answer: JudgeAnswer) -> None:
    if not answer.readings:
        show.line("No reading yet.")
    print_rows(answer.readings)
    show.notice(answer.notice)


def print_rows(rows: list[JudgedReading]) -> None:
    """Readings as a table, and below it what would settle the open ones."""
    if rows:
        show.table(
            ([_name(row), row.shown, _verdict(row), _limit(row)] for row in rows),
            ["reading", "value (k = 2)", "verdict", "limit, and where it comes from"],
        )
    for row in rows:
        for words in _remarks(row):
            show.wrapped(f"{_name(row)}: {words}", "  ")


def _name(row: JudgedReading) -> str:
    cylinder = f" {row.cylinder}" if row.cylinder is not None else ""
    return f"{row.title}{cylinder}{'' if row.stands else ' (earlier)'}"


def _verdict(row: JudgedReading) -> str:
    sure = show.sureness(row.p_within)
    return f"{show.MARKS[row.verdict]}{f', {sure} within' if sure and row.verdict != 'outside' else ''}"


def _limit(row: JudgedReading) -> str:
    return f"{row.limit.words} ({row.limit.source})" if row.limit else "-"


def _remarks(row: JudgedReading) -> list[str]:
    said = [f"to settle it: {row.settle}"] if row.settle and row.stands else []
    return [*said, *(row.notes if row.stands else [])]
