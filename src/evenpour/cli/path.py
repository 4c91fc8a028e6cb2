"""``evenpour path``: where the job stands, and what comes next."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.job.answers import NextAnswer, PathAnswer, PutBackAnswer, StepTold
from evenpour.job.wording import cylinder_list

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
    from evenpour.job import is_number

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
    following = [one for one in answer.next if not one.repeat][
        : MOST_NEXT // 2 if answer.repeat else MOST_NEXT
    ]
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
        undecided = [(claim, one.step) for one in (*answer.repeat, *following) for claim in one.unsettled]
        for claim, name in undecided[:1] if is_number(job) else ():
            on = f"evenpour add {job} override {claim} who=YOUR-NAME reason=WHY"
            over = f"evenpour add {job} passed {name} reason=WHY"
            show.wrapped(f"Where nothing settles it: {on}; or pass the step over: {over}", hang="  ")
        show.wrapped(f"A step whole, cautions first: evenpour path {job} --step STEP", hang="  ")
    show.notice(answer.notice)


def _short(text: str, most: int = 95) -> str:
    """A line's worth of it; ``--step`` tells the whole."""
    return text if len(text) <= most else text[: most - 1].rsplit(" ", 1)[0] + " …"


def print_put_back(items: list[PutBackAnswer]) -> None:
    """The put-back list, or that it is empty."""
    if not items:
        show.line("  empty")
    groups: dict[tuple[str, ...], list[PutBackAnswer]] = {}
    for item in items:
        alike = (item.item, item.words, item.since_said, item.overridden or "")
        groups.setdefault(alike, []).append(item)
    for group in groups.values():
        item = group[0]
        left = f" (stays: {item.overridden})" if item.overridden else ""
        hang = "".join(f"; that of cylinder {one.cylinder} is {one.hangs}" for one in group if one.hangs)
        show.wrapped(f"- {_item(group)}, since {item.since_said}{left}{hang}", "  ", hang="    ")


def _item(group: list[PutBackAnswer]) -> str:
    """What is to be done with it, and the words that take it off the list."""
    item = group[0]
    do = item.words or f"put back: {item.name}"
    if item.cylinder is None:
        return f"{do} [{item.item}]"
    if len(group) == 1:
        return f"{do}, cylinder {item.cylinder} [{item.item} {item.cylinder}]"
    numbers = cylinder_list([one.cylinder for one in group if one.cylinder is not None])
    return f"{do}, cylinders {numbers} [{item.item} CYLINDER]"


def print_next(steps: list[NextAnswer]) -> None:
    """Steps worth doing, with why, and what the gauges cannot do; what several wait for is said once."""
    told = [one.why for one in steps]  # what a step of the list itself brings about is said there
    needs = dict.fromkeys(need for one in steps for need in one.unmet if need not in told)
    if needs:
        show.wrapped("First, for these steps:", "  ")
    for need in needs:
        show.wrapped(f"* {_short(need, 190)}", "    ", hang="      ")
    foreseen: set[str] = set()
    for one in steps:
        cylinders = f"cylinder{'s' if len(one.cylinders) > 1 else ''} {', '.join(map(str, one.cylinders))}"
        where = f", {cylinders}" if one.cylinders else ""
        show.wrapped(f"- {one.title}{where} [{one.step}], {one.minutes} min", "  ", hang="    ")
        show.wrapped(_short(one.why, 190 if one.repeat else 95), "    ")
        for words in one.unsettled.values():
            show.wrapped(f"read already, but it cannot be told: {words}", "    ")
        for words in one.foresee:
            if words not in foreseen:
                show.wrapped(words, "    ")
            foreseen.add(words)
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
    if told.worked_out_by:
        where = job if told.worked_out_by == "screw" else f"--job {job}"
        log = " (from a log)" if "FILE" in told.worked_out_by else ""
        show.wrapped(f"Worked out{log} by: evenpour {told.worked_out_by} {where}")
    for words in told.foresee:
        show.wrapped(words)
    show.notice(told.notice)
