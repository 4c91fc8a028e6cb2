"""``evenpour demo``: the demo job from start to handover."""

from __future__ import annotations

from pathlib import Path

import click

from evenpour.cli import show

FOLDER = Path("demo-out")


@click.command("demo")
@click.option("--no-serve", is_flag=True, help="End after the answer.")
def command(no_serve: bool) -> None:
    """Walk through an invented job, from first look to handover."""
    from evenpour.job.demo import leave_file, play
    from evenpour.record.content import record_of
    from evenpour.record.writing import write_record

    FOLDER.mkdir(exist_ok=True)
    beat = None
    for number, beat in enumerate(play(FOLDER), start=1):
        show.line(click.style(f"{number}. {beat.title}", bold=True))
        if beat.says:
            show.wrapped(beat.says, "  ")
        for text in beat.lines:
            show.wrapped(text, "  > ", hang="    ")
    assert beat is not None
    record = record_of(beat.job)
    for ending in (".pdf", ".html"):
        write_record(record, FOLDER / f"record{ending}")
    file = leave_file(beat.job, FOLDER)
    show.wrapped(f"The record: {FOLDER / 'record.pdf'} (and .html). Play on: evenpour path {file}")
    show.wrapped(
        "All of it is invented. On a real engine its manual, local codes and licensed practice decide."
    )
