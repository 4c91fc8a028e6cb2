"""``evenpour path``: where the job stands, and what comes next."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.job.answers import NextAnswer, PathAnswer, PutBackAnswer

WORDS = {"proved": "proved", "open": "open", "stale": "STALE", "blocked": "blocked", "overridden": "overridden"}
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
        show.print_json(told) if as_json else print_step(told)
        return 0
    answer = opened.path()
    if as_json:
        show.print_json(answer)
    else:
        _print(answer)
    stale = any(claim.state == "stale" for claim in answer.claims)
    return int(stale or bool(answer.outside))


def _print(answer: PathAnswer) -> None:
    show.table(
        ([stage.title, WORDS[stage.state], stage.short] for stage in answer.stages),
        ["stage", "state", ""],
    )
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
    show.notice(answer.notice)


def _short(text: str, most: int = 220) -> str:
    return text if len(text) <= most else text[: most - 1].rsplit(" ", 1)[0] + " …"


def print_put_back(items: list[PutBackAnswer]) -> None:
    """The put-back list, or that it is empty."""
    if not items:
        show.line("  empty")
    for item in items:
        left = f" (stays: {item.overridden})" if item.overridden else ""
        show.wrapped(f"- {item.name}, since {item.since}: {item.words or 'put it back'}{left}", "  ")


def print_next(steps: list[NextAnswer]) -> None:
    """Steps worth doing, with why, and what the gauges cannot do."""
    for one in steps:
        where = f", cylinder {', '.join(map(str, one.cylinders))}" if one.cylinders else ""
        show.wrapped(f"- {one.title}{where} [{one.step}], {one.minutes} min", "  ")
        show.wrapped(_short(one.why), "    ")
        for words in (*(f"first: {need}" for need in one.unmet), *one.foresee):
            show.wrapped(words, "    ")
        if one.cautions:
            show.wrapped(f"read first: {', '.join(one.cautions)}", "    ")


def print_step(told: object) -> None:
    """One step: caution first."""
    from evenpour.job.answers import StepTold

    assert isinstance(told, StepTold)
    show.heading(f"{told.title}  [{told.step}]  {told.minutes:g} min")
    for caution in told.cautions:
        show.wrapped(f"CAUTION, {caution.title.lower()}: {caution.text}")
    show.line()
    show.wrapped(told.how)
    show.line()
    show.wrapped(f"Why: {told.why}")
    if told.look_out:
        show.wrapped(f"Look out: {told.look_out}")
    show.wrapped(f"Lay ready: {', '.join(told.tools)}")
    for words in told.foresee:
        show.wrapped(words)
    show.notice(told.notice)
