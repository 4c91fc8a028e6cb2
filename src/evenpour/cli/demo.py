"""``evenpour demo``: the demo job from start to handover."""

from __future__ import annotations

from pathlib import Path

import click

from evenpour.cli import show

FOLDER = Path("demo-out")


@click.command("demo")
@click.option(
    "--no-serve", is_flag=True, help="End after the answer (there are no pages yet: it always does)."
)
def command(no_serve: bool) -> int:
    """Walk through an invented job, from first look to handover."""
    from evenpour.job.demo import play

    FOLDER.mkdir(exist_ok=True)
    for number, beat in enumerate(play(FOLDER), start=1):
        show.line(click.style(f"{number}. {beat.title}", bold=True))
        if beat.says:
            show.wrapped(beat.says, "   ")
        for text in beat.lines:
            show.wrapped(text, "   > ", hang="     ")
    return 0
