"""Running the pages on this machine until somebody stops them."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable

import uvicorn

from evenpour.errors import Refused
from evenpour.job.catalogue import catalogue
from evenpour.job.shop import Shop
from evenpour.job.store import Store
from evenpour.web.app import app_for
from evenpour.web.rendering import warm_up

LOOPBACK = "127.0.0.1"
PORT = 8642


def bound(port: int | None = None) -> socket.socket:
    """A socket on this machine's own address: on *port*, or on the usual one, or on any free one.

    Raises:
        Refused: *port* was asked for and is taken.
    """
    for wanted in (PORT, 0) if port is None else (port,):
        # The protocol is named, or asyncio would leave small answers waiting 40 ms for company (Nagle).
        opened = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            opened.bind((LOOPBACK, wanted))
            opened.listen()  # whoever asks before the pages answer waits, instead of being turned away
        except OSError as error:
            opened.close()
            if wanted == (0 if port is None else port):
                reasons = [error.strerror or "", "Another program, or evenpour itself, may be using it."]
                raise Refused(f"Port {wanted} cannot be used.", reasons) from None
        else:
            return opened
    raise AssertionError("unreachable")


def address_of(opened: socket.socket) -> str:
    """Where a browser finds the pages."""
    return f"http://127.0.0.1:{opened.getsockname()[1]}/"


def serve(store: Store, opened: socket.socket, say: Callable[[], None]) -> None:
    """Serve the store's jobs until interrupted; *say* is called once the pages answer."""
    catalogue()
    warm_up()
    config = uvicorn.Config(
        app_for(Shop(store)),
        log_level="warning",
        server_header=False,
        timeout_graceful_shutdown=2,
        lifespan="on",
    )
    server = _Server(config, say)
    with contextlib.suppress(KeyboardInterrupt):  # that is how it is ended
        server.run(sockets=[opened])


class _Server(uvicorn.Server):
    """Says when it answers."""

    def __init__(self, config: uvicorn.Config, say: Callable[[], None]) -> None:
        super().__init__(config)
        self.say = say

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self.say()
