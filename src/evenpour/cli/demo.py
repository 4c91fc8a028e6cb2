"""``evenpour demo``: the demo job from start to handover."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from evenpour.cli import show

FOLDER = Path("demo-out")


@click.command("demo")
@click.option("--no-serve", is_flag=True, help="End after the answer; also SERVE=0.")
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
    _pages(stay=not no_serve and os.environ.get("SERVE") != "0" and sys.stdout.isatty())


def _pages(*, stay: bool) -> None:
    """The same job as pages: named, and on a terminal served until somebody ends it."""
    from evenpour.web.serving import PORT

    store = FOLDER / "jobs.db"
    if not stay:
        show.wrapped(f"Pages: EVENPOUR_STORE={store} evenpour serve, http://127.0.0.1:{PORT}/")
        return
    from evenpour.job.store import Store
    from evenpour.web.serving import address_of, bound, serve

    with bound() as opened, Store(store) as jobs:
        serve(jobs, opened, lambda: show.line(f"Its pages: {address_of(opened)}jobs/1  (Ctrl-C ends)"))
