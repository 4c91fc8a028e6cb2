"""``evenpour catch``: how evenly the outlets pour, and which part is off."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.job.answers import CatchAnswer, RunAnswer
from evenpour.job.wording import catch_verdict, doubt_words, key_words, part_name, surely_off

SPREAD = "Spread: the largest pour less the smallest, in per cent of their mean."


@click.command("catch")
@show.job_argument
@show.answer_options
def command(job: str, as_json: bool, units: str | None) -> int:
    """Show how evenly the outlets pour in JOB, and which part is off."""
    from evenpour.job import open_job

    answer = open_job(job, units=units).catch()
    if as_json:
        show.print_json(answer)
    else:
        print_catch(answer)
        show.notice(answer.notice)
    return int(is_uneven(answer))


def is_uneven(answer: CatchAnswer) -> bool:
    """Whether a catch that counts is uneven, or a part that is fitted now is surely off."""
    return answer.verdict == "outside" or bool(surely_off(answer))


def print_catch(answer: CatchAnswer) -> None:
    """The runs, how even each kind is, the parts in doubt, and the next catch."""
    if answer.runs:
        show.table((_run(run) for run in answer.runs), ["catch", "time", "caught, from port 1 on"])
        for words in dict.fromkeys(words for run in answer.runs for words in run.notes):
            show.wrapped(words)
        show.line()
    for key, spread in answer.spread_by_run.items():
        show.wrapped(f"{key_words(key)}: {_even(answer, key, spread)}", hang="  ")
    if answer.spread_by_run:
        show.wrapped(f"{SPREAD} {show.DOUBT}")
    if answer.repeat_scatter is not None:
        show.wrapped(f"Repeats of one catch scatter by about {show.per_cent(answer.repeat_scatter)}.")
    for run in answer.runs:
        if run.sticks_out:
            show.wrapped(f"Catch {run.catch + 1}: port {run.sticks_out.position} sticks out from the others.")
    doubtful = doubt_words(answer)
    if doubtful:
        show.heading("Parts in doubt")
        for words in doubtful:
            show.wrapped(f"- {words}", hang="  ")
    for group in answer.undivided:
        names = " or ".join(part_name(one) for one in group)
        show.wrapped(f"Cannot be told apart yet: {names}.")
    for suspect in answer.suspect_amounts:
        offer = f" Was it {suspect.offer}?" if suspect.offer else ""
        show.wrapped(f"? Catch {suspect.catch + 1}, port {suspect.position}: {suspect.why}{offer}")
    for words in answer.notes:
        show.wrapped(words)
    if answer.next_catch:
        after = answer.next_catch
        swaps = f", {' and '.join(after.swaps)} exchanged" if after.swaps else ""
        show.heading("Next catch")
        show.wrapped(f"{key_words(f'{after.through}:{after.opening}')}{swaps}: {after.why}", "  ")


def _run(run: RunAnswer) -> list[str]:
    swaps = f"  ({' and '.join(run.swaps)} exchanged)" if run.swaps else ""
    times = dict.fromkeys(f"{duration:g} s" for duration in run.durations)
    dropped = " (does not count)" if run.discarded else ""
    return [
        f"{run.catch + 1} {key_words(f'{run.through}:{run.opening}')}{dropped}",
        ", ".join(times),
        f"{', '.join(amount or 'lost' for amount in run.shown)}{swaps}",
    ]


def _even(answer: CatchAnswer, key: str, spread: float) -> str:
    limit, p = answer.limit_by_run[key], answer.even_by_run[key]
    words = f"spread {show.per_cent(spread)} ± {show.per_cent(2 * answer.u_by_run[key])}"
    if limit is None or p is None:
        return f"{words}; the sheet has no limit here"
    verdict, sure = catch_verdict(answer, key)
    loud = verdict.upper() if verdict == "uneven" else verdict
    return f"{words}, limit {show.per_cent(limit, 0)}: {loud}, {sure}"
