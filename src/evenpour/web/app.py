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

from evenpour.web.contents import pages
from evenpour.web.drawing_room import DrawingRoom
from evenpour.web.rendering import STATIC
from evenpour.web.routes import failed, not_found, routes
from evenpour.web.security import Guard

if TYPE_CHECKING:
    from starlette.types import Scope

    from evenpour.job.shop import Shop

OWN_MACHINE = ("127.0.0.1", "localhost", "[::1]")


class Kept(StaticFiles):
    """Our own files: their address changes with them, so a browser may keep them for good."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file, with word on how long it may be kept."""
        response = await super().get_response(path, scope)
        versioned = b"v=" in scope.get("query_string", b"")
        response.headers["cache-control"] = "public, max-age=31536000, immutable" if versioned else "no-cache"
        return response


def app_for(shop: Shop, hosts: Iterable[str] = OWN_MACHINE) -> Starlette:
    """The pages over one shop.

    Args:
        hosts: The names the server answers to, without a port.
    """
    drawing_room = DrawingRoom()

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        yield
        drawing_room.close()

    app = Starlette(
        routes=[*routes(pages()), Mount("/static", Kept(directory=STATIC), name="static")],
        middleware=[Middleware(Guard, hosts=hosts), Middleware(GZipMiddleware, minimum_size=800)],
        exception_handlers={HTTPException: not_found, Exception: failed},
        lifespan=life,
    )
    app.state.shop = shop
    app.state.drawing_room = drawing_room
    return app
