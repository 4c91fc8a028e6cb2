"""``evenpour screw``: every move of the mixture screw, where it stands, and its starting point."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.job.screw.answers import ScrewAnswer, ScrewLine, ScrewMark
from evenpour.job.taken_apart import turned_words
from evenpour.measure.units import shown

LAST_BIT = {"lean": "clockwise", "rich": "anticlockwise"}


@click.command("screw")
@show.job_argument
@show.answer_options
def command(job: str, as_json: bool, units: str | None) -> None:
    """Show every move of the mixture screw of JOB, its starting point, and its next move.

    The next move is worked out from what the warm idle read: CO, lambda, or the mean duty.
    """
    from evenpour.job import open_job
    from evenpour.job.screw.answer import screw_answer

    answer = screw_answer(open_job(job, units=units))
    if as_json:
        show.print_json(answer)
        return
    show.cautions(answer.cautions, job)
    _print(answer)
    show.notice(answer.notice)


def _print(answer: ScrewAnswer) -> None:
    show.line()
    if answer.ledger:
        show.table(
            (_move(line) for line in answer.ledger), ["when", "turned", "in all", "last bit", "by", "note"]
        )
        show.line()
    else:
        show.line("No move of the mixture screw yet.")
    for gone in answer.withdrawn:
        show.wrapped(f"Withdrawn: {turned_words(gone.typed)} ({gone.reason}).")
    if answer.ledger:
        place = f"{_where(answer.total_turns)} of " if answer.total_turns else ""
        show.wrapped(f"It stands {place}{answer.counted_from}.")
        if any(line.reversed for line in answer.ledger):
            show.wrapped(
                f"Play first: where the direction changes, about {shown(answer.play, 'angle')} of play "
                "(assumed) is taken up before the lever moves."
            )
    if answer.marks:
        show.heading("Marks")
        show.table((_mark(mark) for mark in answer.marks), ["mark", "from where it stands now", "found", ""])
        show.wrapped(show.DOUBT)
    if answer.knowledge or answer.left_out:
        show.heading("What the readings tell")
        for words in answer.knowledge:
            show.wrapped(words)
        for words in answer.left_out:
            show.wrapped(f"Left out: {words}.")
    show.heading("To do")
    for words in answer.instructions:
        show.wrapped(f"- {words}", hang="  ")
    if answer.why_no_advice:
        show.wrapped(f"No move is advised: {answer.why_no_advice}.")


def _move(line: ScrewLine) -> list[str]:
    """One row; a direction that changed says so, for the play comes first then."""
    last = LAST_BIT[line.approach] if line.approach else line.way.replace("none", "-")
    note = [line.note, f"mark: {line.mark}" if line.mark else "", "corrected" if line.corrected_by else ""]
    return [
        line.said,
        turned_words(line.typed),
        _where(line.total) if line.total else "0",
        f"{last}, play first" if line.reversed else last,
        line.who,
        "; ".join(filter(None, note)),
    ]


def _mark(mark: ScrewMark) -> list[str]:
    place = _where(mark.from_here) if mark.from_here else "here"
    doubt = f" ± {shown(2.0 * mark.u, 'angle')}" if mark.u else ""
    return [mark.title, f"{place}{doubt}" if not mark.void else "-", mark.said, mark.void or ""]


def _where(turns: float) -> str:
    way = "clockwise" if turns > 0.0 else "anticlockwise"
    return f"{shown(abs(turns), 'angle')} {way}"
