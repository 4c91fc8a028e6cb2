"""``evenpour job``: the store of jobs."""

from __future__ import annotations

from pathlib import Path

import click

from evenpour.cli import show
from evenpour.cli.groups import Group
from evenpour.job.answers import ClosingAnswer, HistoryLine


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
@show.json_option
def new(sheet: str, as_json: bool, **said: str | None) -> None:
    """Begin a job on an engine of SHEET."""
    from evenpour.job import new_job
    from evenpour.job.shop_answers import JobNumber

    number = new_job({"sheet": sheet, **{name: text for name, text in said.items() if text}})
    if as_json:
        show.print_json(JobNumber(job=number))
        return
    show.line(f"Job {number} begun. Next: evenpour path {number}")


@command.command("list")
@click.argument("search", required=False, default="")
@show.json_option
def list_(search: str, as_json: bool) -> None:
    """The stored jobs, newest first; SEARCH in car, workshop, sheet."""
    from evenpour.job import listed_jobs
    from evenpour.job.shop_answers import JobLine, JobsAnswer

    jobs = [
        JobLine(
            job=one.number,
            car=one.car or None,
            sheet=one.sheet,
            state="closed" if one.closed else "open",
            entries=one.entries,
        )
        for one in listed_jobs(search)
    ]
    if as_json:
        show.print_json(JobsAnswer(jobs=jobs))
    elif jobs:
        rows = ([str(one.job), one.car or "-", one.sheet, one.state, str(one.entries)] for one in jobs)
        show.table(rows, ["job", "car", "sheet", "state", "entries"])
    else:
        show.line("No job found." if search else "No job yet. Begin one with: evenpour job new SHEET")


@command.command("show")
@show.job_argument
@show.json_option
def show_(job: str, as_json: bool) -> None:
    """The journal of a job in words, with the id of every entry."""
    from evenpour.job import open_job
    from evenpour.job.shop_answers import JournalAnswer

    opened = open_job(job)
    answer = JournalAnswer(entries=opened.history(), corrections=opened.corrections())
    if as_json:
        show.print_json(answer)
        return
    for one in (*answer.entries, *answer.corrections):
        show.wrapped(_entry(one), hang="  ")


def _entry(one: HistoryLine) -> str:
    gone = f" (WITHDRAWN: {one.withdrawn})" if one.withdrawn else ""
    mended = f" (corrected by {', '.join(one.corrected_by)})" if one.corrected_by and not gone else ""
    at = one.at[:16].replace("T", " ") if one.at else ""
    told = " ".join(part for part in (at, one.who) if part)
    return f"{f'{told}: ' if told else ''}{one.words}{mended}{gone} [{one.entry}]"


@command.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@show.json_option
def import_(file: Path, as_json: bool) -> None:
    """Take a job file into the store, whole or not at all."""
    from evenpour.job import import_job, import_photos
    from evenpour.job.shop_answers import JobNumber

    number = import_job(file)
    there, missing = import_photos(number, file)
    if as_json:
        show.print_json(JobNumber(job=number))
        return
    show.line(f"Imported as job {number}. Next: evenpour path {number}")
    _say_of_photos(there, missing, file)


@command.command("export")
@click.argument("job")
@click.option(
    "-o", "target", type=click.Path(path_type=Path), help="A .toml, .json or .csv file; else TOML is printed."
)
@show.json_option
def export(job: str, target: Path | None, as_json: bool) -> None:
    """Write a job to a file, or print it.

    A .toml or .json file holds all of it and can be imported again; .csv holds its readings and catches.
    """
    from evenpour.job import export_job, write_export
    from evenpour.job.shop_answers import WrittenAnswer

    if target is None:
        click.echo(export_job(job, ".json" if as_json else ".toml"), nl=False)
        return
    there, missing = write_export(job, target)
    if as_json:
        show.print_json(WrittenAnswer(file=str(target)))
    else:
        show.line(f"Wrote {target}.")
        _say_of_photos(there, missing, target)


def _say_of_photos(there: int, missing: int, file: Path) -> None:
    """A job file names photos; the pictures lie in a folder beside it."""
    from evenpour.job.photos import folder_beside, photos_folder

    if there or missing:
        gone = f", {missing} missing" if missing else ""
        show.wrapped(f"Photos: {there}{gone}; folder {folder_beside(file)}.")
    if missing:
        show.wrapped(f"A missing one is shown once its file lies in {photos_folder()}.")


@command.command("close")
@click.argument("job")
@click.option(
    "--cause",
    "causes",
    multiple=True,
    help="What was wrong: pump_weak, injector_restricted[4] ...; may be given again. Or none, or not_found.",
)
@click.option("--cylinder", type=int, default=None, help="The cylinder of the first.")
@click.option("--suspected", is_flag=True, help="It was not confirmed; nothing is learned from it.")
@click.option("--who", default=None, help="Who hands the car over.")
@show.json_option
def close(
    job: str, as_json: bool, causes: tuple[str, ...], suspected: bool, **said: str | int | None
) -> None:
    """Close a job; refused while anything is left on the car or stale.

    So it is while a caution is unread. A car may go before everything is proved; then that is said. A
    confirmed cause counts for your next cars: see evenpour experience.
    """
    from evenpour.job import close_job

    told = {name: value for name, value in said.items() if value is not None}
    answer = close_job(job, told, causes, suspected=suspected)
    if as_json:
        show.print_json(answer)
    else:
        if answer.closing is not None:
            _print_closing(answer.closing)
        show.line(f"Job {job} is closed. Print its record with: evenpour record {job} -o record.pdf")


def _print_closing(closing: ClosingAnswer) -> None:
    are = "is" if closing.proved == 1 else "are"
    proved = f"{closing.proved} of {closing.stages} stages {are} proved"
    if closing.handed_over:
        show.line(f"Handed over: {proved}.")
    else:
        show.line(f"Closed, but not finished: {proved}.")
        show.wrapped(f"Missing first: {closing.missing[0]}.", hang="  ")
