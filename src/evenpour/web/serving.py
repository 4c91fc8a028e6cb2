"""Running the pages until somebody stops them: on this machine, and if so asked on the local network."""

from __future__ import annotations

import contextlib
import errno
import socket
import threading
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import uvicorn

from evenpour.errors import Refused
from evenpour.job.catalogue import catalogue
from evenpour.job.shop import Shop
from evenpour.job.store import Store
from evenpour.web.app import app_for, shared_app_for
from evenpour.web.drawing_room import DrawingRoom
from evenpour.web.rendering import warm_up

if TYPE_CHECKING:
    from starlette.applications import Starlette

    from evenpour.web.certificate import OwnCertificate
    from evenpour.web.sharing import Sharing

LOOPBACK = "127.0.0.1"
PORT = 8642
CIPHERS = "ECDHE+AESGCM:ECDHE+CHACHA20"  # for TLS 1.2; those of 1.3 are all sound
MOST_AT_ONCE = 100  # connections from the network; each open page holds one or two for a moment


def bound(port: int | None = None, address: str = LOOPBACK, usual: int = PORT) -> socket.socket:
    """A socket on one address of this machine: on *port*, or on the usual one, or on any free one.

    Raises:
        Refused: *port* was asked for and is taken, or *address* is none of this machine's.
    """
    for wanted in (usual, 0) if port is None else (port,):
        # The protocol is named, or asyncio would leave small answers waiting 40 ms for company (Nagle).
        opened = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            opened.bind((address, wanted))
            opened.listen()  # whoever asks before the pages answer waits, instead of being turned away
        except OSError as error:
            opened.close()
            if error.errno == errno.EADDRNOTAVAIL:
                reasons = ["See the network settings for the addresses it has now."]
                raise Refused(f"This machine does not have the address {address}.", reasons) from None
            if wanted == (0 if port is None else port):
                reasons = [error.strerror or "", "Another program, or evenpour itself, may be using it."]
                raise Refused(f"Port {wanted} cannot be used.", reasons) from None
        else:
            return opened
    raise AssertionError("unreachable")


def address_of(opened: socket.socket, scheme: str = "http") -> str:
    """Where a browser finds the pages."""
    host, port = opened.getsockname()[:2]
    return f"{scheme}://{host}:{port}/"


def serve(
    store: Store,
    opened: socket.socket,
    say: Callable[[], None],
    *,
    shared: socket.socket | None = None,
    sharing: Sharing | None = None,
    certificate: OwnCertificate | None = None,
) -> None:
    """Serve the store's jobs until interrupted; *say* is called once the pages answer.

    Args:
        opened: The socket for browsers on this machine.
        shared, sharing: The socket for paired phones, and who they are; both or none.
        certificate: With it the shared pages are encrypted.
    """
    catalogue()
    shop, drawing_room = Shop(store), DrawingRoom()
    config = _config(app_for(shop, sharing=sharing, drawing_room=drawing_room), lifespan="on")
    warm_up()
    server = _Server(config, say)
    with contextlib.ExitStack() as also:
        if shared is not None and sharing is not None:
            also.enter_context(
                beside(shared_app_for(shop, sharing, drawing_room), shared, certificate=certificate)
            )
        with contextlib.suppress(KeyboardInterrupt):  # that is how it is ended
            server.run(sockets=[opened])


@contextlib.contextmanager
def beside(
    app: Starlette, opened: socket.socket, *, certificate: OwnCertificate | None = None
) -> Iterator[None]:
    """Serve *app* on a socket in a thread of its own, for as long as the context lasts.

    The two servers share no socket, so that what is meant for this machine never answers on the network.
    """
    server = uvicorn.Server(_config(app, lifespan="off", certificate=certificate, most=MOST_AT_ONCE))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [opened]}, daemon=True)
    thread.start()
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(10)


def _config(
    app: Starlette, *, lifespan: str, certificate: OwnCertificate | None = None, most: int | None = None
) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        log_level="warning",
        server_header=False,
        proxy_headers=False,  # nobody stands between: whoever says otherwise is not believed
        timeout_graceful_shutdown=2,
        lifespan="on" if lifespan == "on" else "off",
        ws="none",
        limit_concurrency=most,
        ssl_certfile=certificate.certificate if certificate else None,
        ssl_keyfile=certificate.key if certificate else None,
        ssl_ciphers=CIPHERS,
    )


class _Server(uvicorn.Server):
    """Says when it answers."""

    def __init__(self, config: uvicorn.Config, say: Callable[[], None]) -> None:
        super().__init__(config)
        self.say = say

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self.say()
