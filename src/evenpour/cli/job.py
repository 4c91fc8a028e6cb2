"""``evenpour job``: the store of jobs."""

from __future__ import annotations

from pathlib import Path

import click

from evenpour.cli import show
from evenpour.cli.groups import Group


@click.group("job", cls=Group)
def command() -> None:
    """Begin, list, show, import, export and close stored jobs."""


@command.command("new")
@click.argument("sheet")
@click.option("--car", default=None, help="What the car is called.")
@click.option("--chassis", default=None, help="Its chassis number.")
@click.option("--mileage", default=None, help="As the dial shows it.")
@click.option("--workshop", default=None, help="Who works on it.")
@click.option("--who", default=None, help="Who opens the job.")
def new(sheet: str, **said: str | None) -> None:
    """Begin a job on an engine of SHEET."""
    from evenpour.job import new_job

    number = new_job({"sheet": sheet, **{name: text for name, text in said.items() if text}})
    show.line(f"Job {number} begun. Next: evenpour path {number}")


@command.command("list")
@click.argument("search", required=False, default="")
def list_(search: str) -> None:
    """The stored jobs, newest first; SEARCH looks in car, workshop and sheet."""
    from evenpour.job import listed_jobs

    rows = [
        [str(one.number), one.car or "-", one.sheet, "closed" if one.closed else "open", str(one.entries)]
        for one in listed_jobs(search)
    ]
    if rows:
        show.table(rows, ["job", "car", "sheet", "state", "entries"])
    else:
        show.line("No job found." if search else "No job yet. Begin one with: evenpour job new SHEET")


@command.command("show")
@click.argument("job")
def show_(job: str) -> None:
    """The journal of a job in words, with the id of every entry."""
    from evenpour.job import open_job

    for one in (opened := open_job(job)).history():
        gone = f" — WITHDRAWN: {one.withdrawn}" if one.withdrawn else ""
        mended = f" (corrected by {', '.join(one.corrected_by)})" if one.corrected_by and not gone else ""
        who = f" {one.who}" if one.who else ""
        show.wrapped(f"{(one.at or '-')[:16].replace('T', ' ')}{who}  {one.words}{mended}{gone}  [{one.entry}]")
    for one in opened.corrections():
        show.wrapped(f"{(one.at or '-')[:16].replace('T', ' ')} {one.who}  {one.words}  [{one.entry}]")


@command.command("import")
@click.argument("file", type=click.Path(path_type=Path))
def import_(file: Path) -> None:
    """Take a job file into the store, whole or not at all."""
    from evenpour.job import import_job

    number = import_job(file)
    show.line(f"Imported as job {number}. Next: evenpour path {number}")


@command.command("export")
@click.argument("job")
@click.option("-o", "target", type=click.Path(path_type=Path), help="A .toml, .json or .csv file; else TOML is printed.")
def export(job: str, target: Path | None) -> None:
    """Write a job as a file: .toml or .json hold all of it, .csv its readings and catches."""
    from evenpour.job import export_job, write_export

    if target is None:
        click.echo(export_job(job, ".toml"), nl=False)
        return
    write_export(job, target)
    show.line(f"Wrote {target}.")


@command.command("close")
@click.argument("job")
@click.option("--cause", default=None, help="The cause that was found, if one was.")
@click.option("--cylinder", type=int, default=None, help="Its cylinder.")
@click.option("--who", default=None, help="Who hands the car over.")
def close(job: str, **said: str | int | None) -> None:
    """Hand the car over: refused while something is left on it, stale, or a caution unread."""
    from evenpour.job import close_job

    close_job(job, {name: value for name, value in said.items() if value is not None})
    show.line(f"Job {job} is closed. Print its record with: evenpour record {job} -o record.pdf")
