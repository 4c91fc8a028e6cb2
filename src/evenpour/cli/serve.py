"""``evenpour serve``: the pages, for a browser on this machine, and for paired phones if so asked."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from evenpour.cli import show

if TYPE_CHECKING:
    from evenpour.web.sharing import Sharing


@click.command("serve")
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    help="Where they answer; else 8642, or any free one if that is taken.",
)
@click.option("--share", is_flag=True, help="Let paired phones on the local network in as well.")
@click.option("--https", is_flag=True, help="With --share: encrypt it, with a certificate of one's own.")
@click.option("--address", help="With --share: this machine's address to share at, if it has several.")
def command(port: int | None, share: bool, https: bool, address: str | None) -> None:
    """Serve the pages of the stored jobs to browsers on this machine, until Ctrl-C.

    Nothing on the network can reach them without --share. With it, a phone gets in that has typed the pairing
    code once; codes and paired phones stand on the page “Sharing”, on this machine alone.
    """
    if not share and (https or address):
        raise click.UsageError(f"{'--https' if https else '--address'} goes with --share.")
    if share:
        _shared(port, address, https=https)
        return
    from evenpour.job.store import Store
    from evenpour.web.serving import address_of, bound, serve

    with bound(port) as opened, Store() as store:
        serve(store, opened, lambda: show.line(f"The pages: {address_of(opened)}  (Ctrl-C ends)"))
    show.line("Ended. Everything entered is kept.")


def _shared(port: int | None, address: str | None, *, https: bool) -> None:
    from evenpour.job.store import Store
    from evenpour.web.certificate import certificate_for
    from evenpour.web.local_network import local_address
    from evenpour.web.serving import address_of, bound, serve
    from evenpour.web.sharing import Sharing

    host = local_address(address)
    with bound(port) as opened:
        own = opened.getsockname()[1]
        with bound(port, host, usual=own) as shared, Store() as store:
            certificate = certificate_for(host) if https else None
            fingerprint = certificate.fingerprint if certificate else ""
            sharing = Sharing(host, address_of(shared, "https" if https else "http").rstrip("/"), fingerprint)
            serve(
                store,
                opened,
                lambda: _said(address_of(opened), sharing),
                shared=shared,
                sharing=sharing,
                certificate=certificate,
            )
    show.line("Ended. Everything entered is kept; paired phones stay paired.")


def _said(own: str, sharing: Sharing) -> None:
    from evenpour.web.pairing_codes import HOLDS
    from evenpour.web.qr import printed
    from evenpour.web.sharing import CLOSE_IT, OPEN_TALK

    code = sharing.codes.current()
    show.line(f"The pages: {own}  (Ctrl-C ends)")
    show.line(f"For paired phones on this network: {sharing.address}/")
    if code is not None:
        if sys.stdout.isatty():
            show.line(printed(sharing.link(code)))
        show.line(f"Pairing code: {code.shown}  (for one phone, within {HOLDS / 60:.0f} minutes)")
    show.wrapped(f"The next codes, and who is paired: {own}sharing")
    if sharing.encrypted:
        show.wrapped("The phone warns of the certificate, once. Compare its SHA-256 fingerprint first:")
        show.line(f"  {sharing.fingerprint}")
    else:
        show.wrapped(f"{OPEN_TALK} {CLOSE_IT}")
