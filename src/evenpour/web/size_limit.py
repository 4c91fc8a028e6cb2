"""How much a page takes: what is larger is refused before it is read, in the words of a page.

Behind the door of the local network, so that a stranger learns nothing here either.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request

from evenpour.web.routes import Page, too_large
from evenpour.web.routes import route as route_of

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

LARGEST_BODY: Final = 1_000_000  # bytes; a catch is two thousand


class SizeLimit:
    """Lets through to *app* what is no larger than its page takes."""

    def __init__(self, app: ASGIApp, pages: Iterable[Page]) -> None:
        self.app = app
        self.large = tuple((route_of(page).path_regex, page) for page in pages if page.largest)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            request = Request(scope, receive)
            page = next((page for path, page in self.large if path.match(scope["path"])), None)
            most = page.largest if page else LARGEST_BODY
            if int(request.headers.get("content-length", "0")) > most:
                answer = await run_in_threadpool(too_large, request, most, page.smaller if page else "")
                await answer(scope, receive, send)
                return
        await self.app(scope, receive, send)
