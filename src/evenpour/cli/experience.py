"""``evenpour experience``: what your own closed jobs say about how common causes are."""

from __future__ import annotations

from pathlib import Path

import click

from evenpour.cli import show
from evenpour.cli.groups import Group
from evenpour.job.causes.experience_answers import ExperienceAnswer, ExperienceLine, TakenAnswer

FEW = 12  # causes shown unless all are asked for


@click.group("experience", cls=Group, invoke_without_command=True)
@click.option("--all", "whole", is_flag=True, help="Every cause, not only the commonest.")
@show.json_option
@click.pass_context
def command(context: click.Context, whole: bool, as_json: bool) -> None:
    """What your own closed jobs say about how common causes are.

    A job closed with its confirmed cause makes that cause a little more to be expected on your next cars.
    """
    if context.invoked_subcommand is not None:
        return
    from evenpour.job.causes.experience import experience

    answer = experience()
    if as_json:
        show.print_json(answer)
        return
    _print(answer, whole=whole)


@command.command("forget")
@show.json_option
def forget(as_json: bool) -> None:
    """Count only jobs that are closed from now on.

    The journals stay as they are, and `remember` takes it back.
    """
    from evenpour.job.causes import experience

    _done(experience.forget(), as_json=as_json)


@command.command("remember")
@show.json_option
def remember(as_json: bool) -> None:
    """Take the last `forget` back."""
    from evenpour.job.causes import experience

    _done(experience.remember(), as_json=as_json)


@command.command("export")
@click.argument("file", type=click.Path(path_type=Path))
@show.json_option
def export(file: Path, as_json: bool) -> None:
    """Write your counts to FILE for another workshop.

    It holds how often each cause was confirmed: no names, no cars, no dates.
    """
    from evenpour.job.causes.experience import export_counts

    _done(export_counts(file), as_json=as_json)


@command.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@show.json_option
def import_(file: Path, as_json: bool) -> None:
    """Take another workshop's counts in from FILE; the same ones never count twice."""
    from evenpour.job.causes.experience import import_counts

    _done(import_counts(file), as_json=as_json)


def _done(answer: TakenAnswer, *, as_json: bool) -> None:
    if as_json:
        show.print_json(answer)
        return
    others = f", and {answer.other_jobs} of other workshops" if answer.other_jobs else ""
    show.wrapped(f"{answer.words}.")
    show.wrapped(f"Counting now: {answer.jobs} of your own closed jobs{others}.")


def _print(answer: ExperienceAnswer, *, whole: bool) -> None:
    if not answer.jobs and not answer.other_jobs:
        show.wrapped(
            "No closed job counts yet; what follows is common practice, no source. Close a job with the "
            "cause that was confirmed, and it counts: evenpour job close JOB --cause pump_weak"
        )
    else:
        others = f" and {answer.other_jobs} of other workshops" if answer.other_jobs else ""
        show.wrapped(
            f"{answer.jobs} of your own closed jobs{others} count; the shipped figures count as "
            f"{answer.worth:.0f} jobs."
        )
    show.heading("How common it is thought to be before anything is read")
    lines = answer.lines if whole else [one for one in answer.lines[:FEW] if not _told(one)]
    told = [] if whole else [one for one in answer.lines if _told(one)]
    rows = [_row(one) for one in (*told, *lines, answer.two_at_once)]
    show.table(rows, ["cause", "shipped", "own jobs", "others'", "now"])
    left = len(answer.lines) - len(told) - len(lines)
    if left:
        show.line(f"and {left} rarer ones: evenpour experience --all")
    for words in answer.not_counted:
        show.wrapped(f"Not counted: {words}.", hang="  ")


def _told(one: ExperienceLine) -> bool:
    return one.own + one.others > 0


def _row(one: ExperienceLine) -> list[str]:
    return [
        f"{one.title} ({one.cause})",
        show.per_cent(one.shipped),
        str(one.own or "-"),
        str(one.others or "-"),
        show.per_cent(one.now),
    ]
