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
@show.json_option
def list_(as_json: bool) -> None:
    """The shipped sheets and your own."""
    from evenpour.job.sheet.found import listed
    from evenpour.job.shop_answers import SheetListed, SheetsAnswer

    if as_json:
        sheets = [SheetListed(sheet=one.name, title=one.title, origin=one.origin) for one in listed()]
        show.print_json(SheetsAnswer(sheets=sheets))
        return
    show.table(([one.name, one.title, one.origin] for one in listed()), ["sheet", "engine", "where from"])


@command.command("show")
@click.argument("name")
@show.answer_options
def show_(name: str, as_json: bool, units: str | None) -> None:
    """Every value and limit of a sheet, with where it comes from."""
    from evenpour.job.sheet.found import sheet_told

    answer = sheet_told(name, units or "metric")
    if as_json:
        show.print_json(answer)
        return
    show.heading(f"{answer.title} ({answer.sheet}), {answer.cylinders} cylinders")
    fitted = ", ".join(answer.devices).replace("_", " ") or "nothing that differs between such engines"
    show.wrapped(f"Fitted: {fitted}.")
    sources = show.Sources()
    for title, lines in (("Limits", answer.limits), ("Values", answer.values)):
        show.heading(title)
        show.table(
            ([one.title, f"{one.shown} {sources.mark(one.origin)}", one.note] for one in lines),
            ["what", title.lower().removesuffix("s"), "note"],
        )
    show.line()
    sources.show()
    show.notice(answer.notice)


@command.command("copy")
@click.argument("name")
@click.argument("new")
@click.option(
    "-o", "target", type=click.Path(path_type=Path), help="Write it there; else into your sheet folder."
)
@show.json_option
def copy(name: str, new: str, target: Path | None, as_json: bool) -> None:
    """Start a sheet of your own, NEW, from the sheet NAME.

    No file is overwritten.
    """
    from evenpour.job.sheet.found import copy_sheet
    from evenpour.job.shop_answers import WrittenAnswer

    path, unchecked = copy_sheet(name, new, target)
    if as_json:
        show.print_json(WrittenAnswer(file=str(path), unchecked=list(unchecked)))
        return
    show.wrapped(
        f"Wrote {path}. Replace its {len(unchecked)} values and limits one by one from the engine's manual, "
        f"each with its page as source; then: evenpour sheet check {target or new}"
    )


@command.command("check")
@click.argument("name")
@show.json_option
def check(name: str, as_json: bool) -> None:
    """Find mistakes in a sheet, and what is not yet checked.

    NAME is a shipped sheet, one of your own, or a path.
    """
    from evenpour.job.sheet.found import find_sheet
    from evenpour.job.shop_answers import SheetChecked

    sheet = find_sheet(name)
    if as_json:
        counts = {"values": len(sheet.values), "limits": len(sheet.limits)}
        show.print_json(SheetChecked(sheet=sheet.id, unchecked=list(sheet.unchecked), **counts))
        return
    show.wrapped(f"{sheet.id}: no mistake found, {len(sheet.values)} values and {len(sheet.limits)} limits.")
    if sheet.unchecked:
        show.wrapped(f"Not yet checked against the manual: {', '.join(sheet.unchecked).replace('_', ' ')}.")
