"""What is asked of every request, and said with every answer, so that no other page can act through ours.

The pages need no password on their own machine, and a paired phone carries its own; so whatever a browser
fetches for another site must be told apart from what the person does here. A request must name this server as
its host (a name that was bent to this address is refused), and what changes anything must come from one of
our own pages.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

CSP: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
# A record is a file of its own: it has its style inside it, and nothing in it may run.
RECORD_CSP: Final = "; ".join(
    ("sandbox", "default-src 'none'", "style-src 'unsafe-inline'", "img-src data:", "font-src data:")
)
HEADERS: Final = {
    "content-security-policy": CSP,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), microphone=(), geolocation=(), payment=(), usb=()",
    "cache-control": "no-cache",
}
# Browsers heed these only where nobody can read along, and complain of them elsewhere.
ONLY_IN_SECRET: Final = frozenset({"cross-origin-opener-policy"})
OWN_MACHINE: Final = ("127.0.0.1", "localhost", "[::1]")
SAFE_METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS"})


class Guard:
    """Lets in what may come in, and puts the headers on what goes out.

    Args:
        app: What answers.
        hosts: The names this server answers to, without a port.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str]) -> None:
        self.app = app
        self.hosts = frozenset(name.lower() for name in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)

        async def out(message: Message) -> None:
            if message["type"] == "http.response.start":
                said = MutableHeaders(scope=message)
                for name, value in self._headers(scope["scheme"]).items():
                    said.setdefault(name, value)
            await send(message)

        refusal = self._refused(scope, headers)
        await (refusal or self.app)(scope, receive, out)

    def _headers(self, scheme: str) -> Mapping[str, str]:
        if scheme == "https" or not self.hosts.isdisjoint(OWN_MACHINE):
            return HEADERS
        return {name: value for name, value in HEADERS.items() if name not in ONLY_IN_SECRET}

    def _refused(self, scope: Scope, headers: Headers) -> PlainTextResponse | None:
        if _name(headers.get("host", "")) not in self.hosts:
            return _no(421, "This server does not answer to that name.")
        if scope["method"] in SAFE_METHODS:
            return None
        if not same_origin(headers, scope["scheme"]):
            return _no(403, "Entries are taken from this server's own pages only.")
        length = headers.get("content-length", "")
        if not length.isdigit():
            return _no(411, "How long it is must be said first.")
        return None


def same_origin(headers: Headers, scheme: str = "http") -> bool:
    """Whether a browser says that the request comes from a page of this server.

    ``Sec-Fetch-Site`` is sent by browsers and cannot be set by a page; where it is missing (older ones, and
    addresses without https other than this machine's own) ``Origin`` must name this host.
    """
    site = headers.get("sec-fetch-site")
    if site is not None and site not in ("same-origin", "none"):
        return False
    origin = headers.get("origin")
    if origin is None:
        return site is not None
    return origin == f"{scheme}://{headers.get('host', '')}"


def is_ours(address: str) -> bool:
    """Whether an address is a path on this server, and none that a browser would take for another place."""
    return re.fullmatch(r"/(?![/\\])[A-Za-z0-9/_.~%-]*", address) is not None


def _name(host: str) -> str:
    """A host without its port: ``[::1]:8642`` is ``[::1]``."""
    return (host.rpartition("]")[0] + "]" if host.startswith("[") else host.partition(":")[0]).lower()


def _no(status: int, words: str) -> PlainTextResponse:
    return PlainTextResponse(f"{words}\n", status_code=status)
