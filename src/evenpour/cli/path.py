"""``evenpour path``: where the job stands, and what comes next."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.job.answers import NextAnswer, PathAnswer, PutBackAnswer, StepTold

WORDS = {
    "proved": "proved",
    "open": "open",
    "stale": "STALE",
    "blocked": "blocked",
    "overridden": "overridden",
}
MOST_NEXT = 6


@click.command("path")
@show.job_argument
@click.option("--step", "step", help="Show one step whole: how it is done, why, and what to look out for.")
@show.answer_options
def command(job: str, step: str | None, as_json: bool, units: str | None) -> int:
    """Show what is proved, what went stale, and what comes next in JOB."""
    from evenpour.job import open_job

    opened = open_job(job, units=units)
    if step is not None:
        told = opened.step(step)
        if as_json:
            show.print_json(told)
        else:
            print_step(told, job)
        return 0
    answer = opened.path()
    if as_json:
        show.print_json(answer)
    else:
        _print(answer, job)
    stale = any(claim.state == "stale" for claim in answer.claims)
    return int(stale or bool(answer.outside))


def _print(answer: PathAnswer, job: str) -> None:
    show.table(
        ([stage.title, WORDS[stage.state], stage.short] for stage in answer.stages),
        ["stage", "state", ""],
    )
    if answer.outside:
        show.heading("Outside their limits")
        for words in answer.outside:
            show.wrapped(f"- {words}", "  ", hang="    ")
    show.heading("To put back")
    print_put_back(answer.put_back)
    for words in answer.questions:
        show.wrapped(f"? {words}")
    if answer.repeat:
        show.heading(f"To repeat, {answer.repeat_minutes} minutes in all")
        print_next(answer.repeat)
    following = [one for one in answer.next if not one.repeat][:MOST_NEXT]
    if following:
        show.heading("Next")
        print_next(following)
    said = {words for one in (*answer.repeat, *following) for words in one.foresee}
    beforehand = [words for words in answer.foresee if words not in said]
    if beforehand:
        show.heading("Before these are read")
        for words in beforehand:
            show.wrapped(f"- {words}", "  ", hang="    ")
    if answer.repeat or following:
        show.line()
        show.wrapped(f"A step whole, cautions first: evenpour path {job} --step STEP", hang="  ")
    show.notice(answer.notice)


def _short(text: str, most: int = 220) -> str:
    return text if len(text) <= most else text[: most - 1].rsplit(" ", 1)[0] + " …"


def print_put_back(items: list[PutBackAnswer]) -> None:
    """The put-back list, or that it is empty."""
    if not items:
        show.line("  empty")
    for item in items:
        left = f" (stays: {item.overridden})" if item.overridden else ""
        typed = " ".join([item.item, *([str(item.cylinder)] if item.cylinder else [])])
        words = f"- {item.name} [{typed}], since {item.since_said}: {item.words or 'put it back'}{left}"
        show.wrapped(words, "  ", hang="    ")


def print_next(steps: list[NextAnswer]) -> None:
    """Steps worth doing, with why, and what the gauges cannot do."""
    for one in steps:
        cylinders = f"cylinder{'s' if len(one.cylinders) > 1 else ''} {', '.join(map(str, one.cylinders))}"
        where = f", {cylinders}" if one.cylinders else ""
        show.wrapped(f"- {one.title}{where} [{one.step}], {one.minutes} min", "  ", hang="    ")
        show.wrapped(_short(one.why), "    ")
        for words in (*(f"first: {need}" for need in one.unmet), *one.foresee):
            show.wrapped(words, "    ")
        if one.cautions:
            show.wrapped(f"read first: {', '.join(one.cautions)}", "    ")


def print_step(told: StepTold, job: str) -> None:
    """One step: caution first."""
    from evenpour.job import is_number

    show.heading(f"{told.title} [{told.step}], {told.minutes:g} min")
    for caution in told.cautions:
        read = f" (read by {caution.read_by})" if caution.read_by else ""
        show.wrapped(f"CAUTION, {caution.title}{read} [{caution.id}]: {caution.text}")
    unread = [caution.id for caution in told.cautions if not caution.read_by]
    if unread and is_number(job):
        show.wrapped(f"When you have read it: evenpour add {job} read {unread[0]} who=YOUR-NAME", hang="  ")
    show.line()
    show.wrapped(told.how)
    show.line()
    show.wrapped(f"Why: {told.why}")
    if told.look_out:
        show.wrapped(f"Look out: {told.look_out}")
    if told.tools:
        show.wrapped(f"Lay ready: {', '.join(told.tools)}.")
    if told.checks:
        show.wrapped(f"To enter: {', '.join(told.checks)}.")
    for words in told.foresee:
        show.wrapped(words)
    show.notice(told.notice)
