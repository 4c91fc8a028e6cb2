"""How answers are printed: as JSON, or as lines and tables for people."""

from __future__ import annotations

import functools
import os
import textwrap
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Protocol

import click

from evenpour.errors import unknown

SYSTEMS = ("metric", "us", "imperial")
WIDTH = 100
MARKS = {"within": "within", "outside": "OUTSIDE", "cannot_tell": "cannot tell"}


class AsJson(Protocol):
    """An answer that writes itself as JSON."""

    def model_dump_json(self, *, indent: int) -> str: ...


def job_argument(command: Callable[..., Any]) -> Callable[..., Any]:
    """The JOB every reading command takes."""
    return click.argument("job")(command)


def answer_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--json`` and ``--units``."""

    @click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
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
    click.echo(f"\n{click.style(text, bold=True)}")


def wrapped(text: str, indent: str = "", *, hang: str | None = None) -> None:
    """Text broken into lines, the further ones indented alike, or by *hang*."""
    for part in text.splitlines() or [""]:
        click.echo(
            textwrap.fill(part, WIDTH, initial_indent=indent, subsequent_indent=indent if hang is None else hang)
        )


def table(rows: Iterable[Sequence[str]], titles: Sequence[str] = ()) -> None:
    """Columns set side by side, the last one wrapped."""
    from rich.console import Console
    from rich.table import Table

    laid = Table(box=None, pad_edge=False, show_header=bool(titles), header_style="bold", padding=(0, 2, 0, 0))
    for number, title in enumerate(titles or next(iter(rows := list(rows)), ())):
        laid.add_column(title if titles else "", overflow="fold", no_wrap=number == 0)
    for row in rows:
        laid.add_row(*row)
    Console(highlight=False, markup=False, width=_width()).print(laid)


def _width() -> int:
    try:
        return min(max(os.get_terminal_size().columns, 60), 140)
    except OSError:
        return 110


def sureness(p: float | None) -> str:
    """A probability in per cent that never claims to be certain."""
    if p is None:
        return ""
    if p > 0.995:
        return "over 99 %"
    if p < 0.005:
        return "under 1 %"
    return f"{p:.0%}".replace("%", " %")


def notice(text: str) -> None:
    """What the sheet says of itself, at the foot of every answer."""
    click.echo(f"\n{click.style(text, dim=True)}")
