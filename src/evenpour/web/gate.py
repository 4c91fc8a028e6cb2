"""The door of the pages on the local network: a paired phone passes, anybody else is asked for a code.

What lies behind is not told to a stranger: every address answers the same. Only our own style and type are
handed out, which hold nothing of the workshop.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from evenpour.errors import Problem, Refused
from evenpour.web.local_network import is_near
from evenpour.web.preferences import A_YEAR, preferences_of
from evenpour.web.problems import NOTHING_TYPED, ShownProblem, Typed, problems_shown
from evenpour.web.rendering import rendered
from evenpour.web.security import is_ours
from evenpour.web.sharing import OPEN_TALK, Sharing

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

COOKIE: Final = "evenpour_phone"
PAIR: Final = "/pair"
CLOSED: Final = "evenpour-door"  # a header by which a script of ours knows that the device is not paired
# What the asking page itself uses.
FOR_ALL: Final = re.compile(r"/static/(?:page\.css|icon\.svg|fonts/[A-Za-z-]+\.woff2)")
LONGEST_FORM: Final = 2_000  # bytes


@dataclass(frozen=True, slots=True)
class PairPage:
    """Everything pair.html may use; ``go`` is the address that was asked for."""

    address: str
    theme: str
    open_talk: str
    code: str
    name: str
    go: str
    typed: Typed
    problems: tuple[ShownProblem, ...]
    paired: bool


class Gate:
    """Lets paired phones through to *app*."""

    def __init__(self, app: ASGIApp, sharing: Sharing) -> None:
        self.app = app
        self.sharing = sharing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope, receive)
        client = request.client
        if client is None or not is_near(client.host):
            answer: Response = PlainTextResponse("Only the local network is let in.\n", status_code=403)
        elif FOR_ALL.fullmatch(request.url.path) and request.method in ("GET", "HEAD"):
            await self.app(scope, receive, send)
            return
        else:
            paired = self.sharing.phones.known(request.cookies.get(COOKIE, ""))
            if paired and request.url.path != PAIR:
                await self.app(scope, receive, send)
                return
            answer = await self._answer(request, paired)
        await answer(scope, receive, send)

    async def _answer(self, request: Request, paired: bool) -> Response:
        if request.url.path != PAIR:
            wanted = request.url.path if request.method == "GET" else ""
            return self._asks(request, Typed("pair", {"go": wanted}), status=403)
        if request.method == "POST":
            if int(request.headers.get("content-length", "0")) > LONGEST_FORM:
                return PlainTextResponse("That is more than a code.\n", status_code=413)
            async with request.form(max_files=0, max_fields=8) as fields:
                form = {name: value for name, value in fields.items() if isinstance(value, str)}
            return await run_in_threadpool(self._pairs, request, form)
        return self._asks(request, NOTHING_TYPED, paired=paired)

    def _pairs(self, request: Request, form: dict[str, str]) -> Response:
        name = " ".join(form.get("name", "").split())
        try:
            if name:  # a code is not spent on a phone that has no name yet
                self.sharing.codes.spend(form.get("code", ""))
            token = self.sharing.phones.pair(name)
        except Problem as problem:
            status = 409 if isinstance(problem, Refused) else 422
            return self._asks(request, Typed("pair", form), tuple(problems_shown(problem)), status=status)
        go = form.get("go", "")
        answer = RedirectResponse(go if is_ours(go) else "/", status_code=303)
        answer.set_cookie(
            COOKIE, token, max_age=A_YEAR, httponly=True, samesite="strict", secure=self.sharing.encrypted
        )
        return answer

    def _asks(
        self,
        request: Request,
        typed: Typed,
        problems: tuple[ShownProblem, ...] = (),
        *,
        status: int = 200,
        paired: bool = False,
    ) -> Response:
        chosen = preferences_of(request.cookies)
        page = PairPage(
            address=self.sharing.address,
            theme=chosen.theme,
            open_talk="" if self.sharing.encrypted else OPEN_TALK,
            code=request.query_params.get("code", "")[:20],
            name=chosen.who,
            go=typed.values.get("go", ""),
            typed=typed,
            problems=problems,
            paired=paired,
        )
        return HTMLResponse(
            rendered("pair.html", page=page),
            status_code=status,
            headers={"cache-control": "no-store", CLOSED: "closed"},
        )
