"""``evenpour catch``: how evenly the outlets pour, and which part is off."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.job.answers import CatchAnswer, RunAnswer

NOTICEABLE = 0.05


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
    return int(answer.verdict == "outside")


def print_catch(answer: CatchAnswer) -> None:
    """The runs, how even each kind is, the parts in doubt, and the next catch."""
    if answer.runs:
        show.table((_run(run) for run in answer.runs), ["catch", "time", "ml by port"])
    show.line()
    for key, spread in answer.spread_by_run.items():
        show.wrapped(f"{key_words(key)}: {_even(answer, key, spread)}")
    doubtful = sorted((part for part in answer.parts if part.p_off >= NOTICEABLE), key=lambda part: -part.p_off)
    if doubtful:
        show.heading("Parts in doubt")
        for part in doubtful:
            show.wrapped(
                f"- {part.part} {part.cylinder}: {part.deviation:+.1%} ± {2 * part.u:.1%}, "
                f"off with {show.sureness(part.p_off)}",
                "  ",
            )
    for group in answer.undivided:
        names = " or ".join(f"{one.part} {one.cylinder}" for one in group)
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
    show.notice(answer.notice)


def key_words(key: str) -> str:
    """``lines:idle`` as people say it."""
    through, opening = key.split(":", 1)
    named = f"{opening} opening" if opening.isalpha() else f"{opening} of lift"
    return f"{'Bare lines' if through == 'lines' else 'Through injectors'}, {named}"


def _run(run: RunAnswer) -> list[str]:
    amounts = "  ".join("lost" if amount is None else f"{amount:.1f}" for amount in run.amounts)
    swaps = f"  ({' and '.join(run.swaps)} exchanged)" if run.swaps else ""
    times = {f"{duration:g}" for duration in run.durations}
    dropped = " (does not count)" if run.discarded else ""
    return [
        f"{run.catch + 1} {key_words(f'{run.through}:{run.opening}')}{dropped}",
        f"{'/'.join(sorted(times))} s",
        f"{amounts}{swaps}",
    ]


def _even(answer: CatchAnswer, key: str, spread: float) -> str:
    limit, p = answer.limit_by_run[key], answer.even_by_run[key]
    words = f"true spread {spread:.1%} ± {2 * answer.u_by_run[key]:.1%}"
    if limit is None or p is None:
        return f"{words}; the sheet has no limit here"
    verdict = "even" if p >= 0.95 else "UNEVEN" if p <= 0.05 else "cannot tell"
    return f"{words}, limit {limit:.0%}: {verdict} ({show.sureness(p)} even)"
