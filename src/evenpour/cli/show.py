"""How answers are printed: as JSON, or as lines and tables for people."""

from __future__ import annotations

import functools
import os
import re
import shutil
import string
import textwrap
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Protocol

import click

from evenpour.errors import unknown

SYSTEMS = ("metric", "us", "imperial")
MARKS = {"within": "within", "outside": "OUTSIDE", "cannot_tell": "cannot tell"}
LONGEST_LINE = 100  # longer lines of text read badly, however wide the screen
LONGEST_ROW = 140
NARROWEST = 40  # below this nothing is folded further; the terminal breaks the lines then
NO_TERMINAL = 110
GAP = "  "
_TOGETHER = re.compile(
    r"(?<=\d) (?=(?:%|°|[A-Za-zΩµ]{1,3}\b|±))|(?<=±) (?=\d)|(?<=US) (?=fl)|(?<=imp) (?=fl)|(?<=fl) (?=oz)"
)
DOUBT = (
    "± is the doubt: about 19 times in 20 the truth lies that close or closer (k = 2; more for few repeats)."
)


class AsJson(Protocol):
    """An answer that writes itself as JSON."""

    def model_dump_json(self, *, indent: int) -> str: ...


def job_argument(command: Callable[..., Any]) -> Callable[..., Any]:
    """The JOB every reading command takes."""
    return click.argument("job")(command)


def json_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--json``"""
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")(command)


def answer_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--json`` and ``--units``."""

    @json_option
    @click.option(
        "--units", metavar="metric|us|imperial", help="Units to show; also EVENPOUR_UNITS. Else as typed."
    )
    @functools.wraps(command)
    def wrapped(*args: Any, units: str | None, **kwargs: Any) -> Any:
        return command(*args, units=units_chosen(units), **kwargs)

    return wrapped


def units_chosen(units: str | None) -> str | None:
    """The system of units asked for, or set in the environment; None: as typed."""
    chosen = units or os.environ.get("EVENPOUR_UNITS") or None
    if chosen is not None and chosen not in SYSTEMS:
        raise unknown("units", chosen, SYSTEMS, kind="system of units")
    return chosen


def print_json(answer: AsJson) -> None:
    """One JSON object on standard output."""
    click.echo(answer.model_dump_json(indent=2))


def line(text: str = "") -> None:
    """One line, as it is."""
    click.echo(text)


def heading(text: str) -> None:
    """A heading, set apart."""
    click.echo()
    for part in _folded(text, min(_width(), LONGEST_LINE)):
        click.echo(click.style(part, bold=True))


def wrapped(text: str, indent: str = "", *, hang: str | None = None) -> None:
    """Text broken into lines, the further ones indented alike, or by *hang*."""
    for part in text.splitlines() or [""]:
        further = indent if hang is None else hang
        for folded in _folded(part, min(_width(), LONGEST_LINE), indent, further):
            click.echo(folded)


def table(rows: Iterable[Sequence[str]], titles: Sequence[str] = ()) -> None:
    """Columns set side by side, folded where the terminal is too narrow for them."""
    laid = [list(row) for row in rows]
    if not laid:
        return
    columns = list(zip(*([list(titles)] if titles else []), *laid, strict=True))
    widths = _fitted([max(map(len, column)) for column in columns])
    if titles:
        for text in _row(titles, widths):
            click.echo(click.style(text, bold=True))
    for row in laid:
        for text in _row(row, widths):
            click.echo(text)


def _row(cells: Sequence[str], widths: Sequence[int]) -> Iterable[str]:
    """The lines of one row; none ends in blanks."""
    folded = [_folded(cell, width) for cell, width in zip(cells, widths, strict=True)]
    for number in range(max(map(len, folded))):
        parts = (cell[number] if number < len(cell) else "" for cell in folded)
        yield GAP.join(f"{part:{width}}" for part, width in zip(parts, widths, strict=True)).rstrip()


def _folded(text: str, width: int, indent: str = "", further: str = "") -> list[str]:
    """Lines of at most *width*, a figure never parted from its unit; no text is one empty line."""
    glued = _TOGETHER.sub("\N{NO-BREAK SPACE}", text)
    lines = textwrap.wrap(
        glued, width, initial_indent=indent, subsequent_indent=further, break_on_hyphens=False
    )
    return [one.replace("\N{NO-BREAK SPACE}", " ") for one in lines] or [""]


def _fitted(widths: Sequence[int]) -> list[int]:
    """Column widths that fit beside each other: the widest give way first."""
    room = min(_width(), LONGEST_ROW) - len(GAP) * (len(widths) - 1)
    widest = max(widths)
    while widest > 8 and sum(min(width, widest) for width in widths) > room:
        widest -= 1
    return [max(1, min(width, widest)) for width in widths]


def width() -> int:
    """How wide the terminal is, in letters."""
    return _width()


def _width() -> int:
    return max(shutil.get_terminal_size((NO_TERMINAL, 24)).columns, NARROWEST)


class Sources:
    """Where limits come from, each said once below the table and named in it by a letter."""

    def __init__(self) -> None:
        self._marks: dict[str, str] = {}

    def mark(self, source: str) -> str:
        """``[a]``"""
        letters = string.ascii_lowercase
        number = len(self._marks)
        new = letters[number] if number < len(letters) else f"{letters[number % 26]}{number // 26}"
        return f"[{self._marks.setdefault(source, new)}]"

    def show(self) -> None:
        """The key to the marks."""
        for source, mark in self._marks.items():
            wrapped(f"[{mark}] {source}", hang="    ")


class Caution(Protocol):
    """What can hurt, and who has read it."""

    @property
    def id(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def text(self) -> str: ...
    @property
    def read_by(self) -> str | None: ...


def cautions(told: Iterable[Caution], job: str | None) -> None:
    """First of all, and in full until somebody of the *job* has read them."""
    for one in told:
        if one.read_by:
            wrapped(f"CAUTION, {one.title} (read by {one.read_by})")
            continue
        wrapped(f"CAUTION, {one.title} [{one.id}]: {one.text}")
        if job is not None and job.isdigit():
            wrapped(f"When you have read it: evenpour add {job} read {one.id} who=YOUR-NAME", hang="  ")


def per_cent(share: float, decimals: int = 1) -> str:
    """A share in per cent: ``1.2 %``."""
    return f"{share:.{decimals}%}".replace("%", " %")


def notice(text: str) -> None:
    """What the sheet says of itself, at the foot of every answer."""
    click.echo()
    for part in _folded(text, min(_width(), LONGEST_LINE)):
        click.echo(click.style(part, dim=True))
