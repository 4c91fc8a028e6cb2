"""``evenpour serve``: the pages, for a browser on this machine."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.errors import Refused


@click.command("serve")
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    help="Where they answer; else 8642, or any free one if that is taken.",
)
@click.option("--share", is_flag=True, help="Let phones on the same network in; not there yet.")
def command(port: int | None, share: bool) -> None:
    """Serve the pages of the stored jobs to browsers on this machine, until Ctrl-C."""
    if share:
        raise Refused(
            "Sharing with phones on the network is not there yet.",
            ["Without --share the pages answer on this machine alone."],
        )
    from evenpour.job.store import Store
    from evenpour.web.serving import address_of, bound, serve

    with bound(port) as opened, Store() as store:
        serve(store, opened, lambda: show.line(f"The pages: {address_of(opened)}  (Ctrl-C ends)"))
    show.line("Ended. Everything entered is kept.")
