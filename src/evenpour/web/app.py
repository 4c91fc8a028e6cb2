"""The pages as one application: routes, files of ours, the guard in front."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from evenpour.web.drawing_room import DrawingRoom
from evenpour.web.gate import Gate
from evenpour.web.rendering import STATIC
from evenpour.web.routes import failed, not_found, pages, routes
from evenpour.web.security import OWN_MACHINE, Guard
from evenpour.web.size_limit import SizeLimit

if TYPE_CHECKING:
    from starlette.types import Scope

    from evenpour.job.shop import Shop
    from evenpour.web.sharing import Sharing


class Kept(StaticFiles):
    """Our own files: their address changes with them, so a browser may keep them for good."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file, with word on how long it may be kept."""
        response = await super().get_response(path, scope)
        versioned = b"v=" in scope.get("query_string", b"")
        response.headers["cache-control"] = "public, max-age=31536000, immutable" if versioned else "no-cache"
        return response


def app_for(
    shop: Shop,
    hosts: Iterable[str] = OWN_MACHINE,
    *,
    sharing: Sharing | None = None,
    drawing_room: DrawingRoom | None = None,
) -> Starlette:
    """The pages over one shop, for browsers on the machine itself.

    Args:
        hosts: The names the server answers to, without a port.
        sharing: What the page about sharing shows; none where nothing is shared.
        drawing_room: Where charts are drawn; one of its own if not given.
    """
    return _app(shop, hosts, [], drawing_room or DrawingRoom(), sharing)


def shared_app_for(shop: Shop, sharing: Sharing, drawing_room: DrawingRoom) -> Starlette:
    """The same pages for paired phones on the local network, but for those meant for the machine alone."""
    return _app(shop, [sharing.host], [Middleware(Gate, sharing=sharing)], drawing_room, sharing)


def _app(
    shop: Shop,
    hosts: Iterable[str],
    doors: list[Middleware],
    drawing_room: DrawingRoom,
    sharing: Sharing | None,
) -> Starlette:
    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        yield
        drawing_room.close()

    at_machine = not doors
    shown = [page for page in pages() if at_machine or not page.at_machine]
    app = Starlette(
        routes=[*routes(shown), Mount("/static", Kept(directory=STATIC), name="static")],
        middleware=[
            Middleware(Guard, hosts=hosts),
            *doors,
            Middleware(SizeLimit, pages=shown),
            Middleware(GZipMiddleware, minimum_size=800),
        ],
        exception_handlers={HTTPException: not_found, Exception: failed},
        lifespan=life,
    )
    app.state.shop = shop
    app.state.drawing_room = drawing_room
    app.state.sharing = sharing
    app.state.at_machine = at_machine
    return app
