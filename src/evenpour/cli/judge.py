"""``evenpour judge``: every reading held against its limit."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.job.answers import JudgeAnswer, JudgedReading
from evenpour.job.wording import likelihood

OVERTAKEN = {
    "newer": ("(earlier)", "a newer reading of the same counts instead."),
    "part_changed": ("(of the old part)", "what was read has been changed since, and not been read again."),
}


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
    """Readings as a table; below it where the limits come from, and what would settle the open ones."""
    if not rows:
        return
    sources = show.Sources()
    telling = _telling(rows)
    show.table(
        ([_name(row, telling), _value(row), _verdict(row), _limit(row, sources)] for row in rows),
        ["reading", "value", "verdict", "limit"],
    )
    show.line()
    sources.show()
    if any("±" in row.shown for row in rows):
        show.wrapped(show.DOUBT)
    for reason in dict.fromkeys(row.overtaken for row in rows if row.overtaken is not None):
        show.wrapped(f"{OVERTAKEN[reason][0]}: {OVERTAKEN[reason][1]}")
    for words in _remarks(rows):
        show.wrapped(f"- {words}", hang="  ")


def _telling(rows: list[JudgedReading]) -> dict[tuple[str, int | None], list[str]]:
    """For what was read more than once: the conditions in which the readings differ."""
    groups: dict[tuple[str, int | None], list[JudgedReading]] = {}
    for row in rows:
        groups.setdefault((row.what, row.cylinder), []).append(row)
    return {
        what: [
            name
            for name in dict.fromkeys(name for row in group for name in row.conditions)
            if len({row.conditions.get(name) for row in group}) > 1
        ]
        for what, group in groups.items()
    }


def _name(row: JudgedReading, telling: dict[tuple[str, int | None], list[str]]) -> str:
    cylinder = f", cylinder {row.cylinder}" if row.cylinder is not None else ""
    differs = [name for name in telling[row.what, row.cylinder] if name in row.conditions]
    gone = f" {OVERTAKEN[row.overtaken][0]}" if row.overtaken else ""
    said = "".join(f", {name} {row.conditions[name]}".replace("_", " ") for name in differs)
    return f"{row.title}{cylinder}{said}{gone}"


def _value(row: JudgedReading) -> str:
    """Repeats taken in one go count as one reading; else its figure would be one that nobody read."""
    return f"{row.shown}, mean of {row.n}" if row.n > 1 else row.shown


def _verdict(row: JudgedReading) -> str:
    """The word, and how sure it is; what was looked at is as it was seen."""
    mark = show.MARKS[row.verdict]
    if row.p_within is None or (row.limit is not None and row.limit.allowed is not None):
        return mark
    if row.verdict == "cannot_tell":
        return f"{mark}, {likelihood(row.p_within)} within"
    return f"{mark}, {likelihood(max(row.p_within, 1.0 - row.p_within))} sure"


def _limit(row: JudgedReading, sources: show.Sources) -> str:
    return f"{row.limit.words} {sources.mark(row.limit.source)}" if row.limit else "-"


def _remarks(rows: list[JudgedReading]) -> list[str]:
    """What is to be said of readings that stand, once for all cylinders of which the same is true."""
    about: dict[tuple[str, str], list[int]] = {}
    for row in rows:
        settle = [f"to settle it: {row.settle}"] if row.settle else []
        for words in (*settle, *row.notes) if row.stands else ():
            about.setdefault((row.title, words), []).extend([row.cylinder] if row.cylinder else [])
    return [f"{title}{_cylinders(numbers)}: {words}" for (title, words), numbers in about.items()]


def _cylinders(numbers: list[int]) -> str:
    said = ", ".join(map(str, sorted(set(numbers))))
    return f", cylinder{'s' if ',' in said else ''} {said}" if said else ""
