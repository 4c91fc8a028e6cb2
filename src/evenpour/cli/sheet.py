"""``evenpour sheet``: list, show, copy and check engine sheets."""

from __future__ import annotations

from pathlib import Path

import click

from evenpour.cli import show
from evenpour.cli.groups import Group


@click.group("sheet", cls=Group)
def command() -> None:
    """List, show, copy and check engine sheets."""


@command.command("list")
def list_() -> None:
    """The shipped sheets and your own."""
    from evenpour.job.sheets import listed

    show.table(([one.name, one.title, one.origin] for one in listed()), ["sheet", "engine", "where from"])


@command.command("show")
@click.argument("name")
@show.answer_options
def show_(name: str, as_json: bool, units: str | None) -> None:
    """Every value and limit of a sheet, with where it comes from."""
    from evenpour.job.sheets import sheet_told

    answer = sheet_told(name, units or "metric")
    if as_json:
        show.print_json(answer)
        return
    show.heading(f"{answer.title} ({answer.sheet}), {answer.cylinders} cylinders")
    show.wrapped(f"Fitted: {', '.join(answer.devices).replace('_', ' ')}.")
    show.heading("Limits")
    show.table(([one.title, one.shown, one.source] for one in answer.limits), ["what", "limit", "where from"])
    show.heading("Values")
    show.table(([one.title, one.shown, one.source] for one in answer.values), ["what", "value", "where from"])
    show.notice(answer.notice)


@command.command("copy")
@click.argument("name")
@click.argument("new")
@click.option("-o", "target", type=click.Path(path_type=Path), help="Write it there; else into your sheet folder.")
def copy(name: str, new: str, target: Path | None) -> None:
    """Start a sheet of your own, NEW, from the sheet NAME; no file is overwritten."""
    from evenpour.job.sheets import copy_sheet

    path, unchecked = copy_sheet(name, new, target)
    show.wrapped(f"Wrote {path}. Replace its {unchecked} values and limits one by one from the engine's manual, "
                 f"each with its page as source; then: evenpour sheet check {target or new}")  # fmt: skip


@command.command("check")
@click.argument("name")
def check(name: str) -> int:
    """Find what is impossible, missing or not yet checked in a sheet (a name or a path)."""
    from evenpour.job.sheets import find_sheet

    sheet = find_sheet(name)
    show.line(f"{sheet.id}: no mistake found, {len(sheet.values)} values and {len(sheet.limits)} limits.")
    if sheet.unchecked:
        show.wrapped(f"Not yet checked against the manual: {', '.join(sheet.unchecked).replace('_', ' ')}.")
    return 0
