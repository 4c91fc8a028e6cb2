"""``evenpour causes``: what may be wrong, why, and which check to make next."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.cli.waiting import progress
from evenpour.job.cause_answers import CauseLine, CausesAnswer, NextCheckLine

LEAST_SAID = 0.02  # probability under which a cause takes no line of its own
REASONS = 3


@click.command("causes")
@show.job_argument
@show.answer_options
def command(job: str, as_json: bool, units: str | None) -> int:
    """Explain all readings of JOB together: what may be wrong, why, and the check that tells most."""
    from evenpour.job import open_job
    from evenpour.job.causes_kept import kept_answer

    opened = open_job(job, units=units)
    with progress() as tell:
        answer = kept_answer(opened, tell=tell)
    if as_json:
        show.print_json(answer)
    else:
        print_causes(answer)
        show.notice(answer.notice)
    return 0


def print_causes(answer: CausesAnswer) -> None:
    """Clashes first, then the causes with their reasons, what cannot be told apart, and what to do next."""
    for clash in answer.clashes:
        slips = f" A slip? {' '.join(one[0].upper() + one[1:] for one in clash.slips)}" if clash.slips else ""
        show.wrapped(
            f"? {clash.words[0].upper()}{clash.words[1:]} ({show.per_cent(clash.probability, 0)}).{slips}"
        )
    show.heading("What may be wrong")
    for line in answer.causes:
        if line.probability >= LEAST_SAID:
            _cause(line)
    rest = answer.others
    show.wrapped(f"{_share(answer.nothing_wrong)}  nothing that is known here is wrong")
    if rest >= 0.01:
        show.wrapped(f"{_share(rest)}  any of the other causes")
    if answer.unexplained >= 0.01:
        show.wrapped(f"{_share(answer.unexplained)}  something that is not known here: the readings clash")
    for group in answer.undivided:
        names = " or ".join(_name(one.cause, one.cylinder) for one in group)
        show.wrapped(f"These readings cannot tell apart: {names}.")
    if answer.next_checks:
        show.heading("Checks that tell most for their time")
        for number, one in enumerate(answer.next_checks, start=1):
            _next(number, one)
    if answer.worth_doing:
        show.heading("Worth doing now, before more checks")
        show.wrapped(answer.worth_doing + ".", "  ")
    if answer.experience:
        show.wrapped(f"{answer.experience}.")
    for words in answer.left_out:
        show.wrapped(f"Not counted: {words}.")
    for words in answer.notes:
        show.wrapped(words)


def _share(p: float) -> str:
    return f"{100.0 * p:3.0f} %"


def _name(cause: str, cylinder: int | None) -> str:
    words = cause.replace("_", " ")
    return words if cylinder is None else f"{words}, cylinder {cylinder}"


def _cause(line: CauseLine) -> None:
    show.wrapped(f"{_share(line.probability)}  {line.says}, {line.severity_words}", hang="       ")
    for reason in line.for_[:REASONS]:
        show.wrapped(f"speaks for it {reason.strength}: {reason.words}", "       + ", hang="         ")
    for reason in line.against[:REASONS]:
        show.wrapped(f"speaks against it {reason.strength}: {reason.words}", "       - ", hang="         ")
    if line.remedy:
        show.wrapped(f"remedy: {line.remedy}", "       ")


def _next(number: int, one: NextCheckLine) -> None:
    state = f" ({one.state})" if one.state else ""
    show.wrapped(f"{number}. {one.why}{state}, about {one.minutes:.0f} min", hang="   ")
