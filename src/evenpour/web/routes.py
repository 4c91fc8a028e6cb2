"""How a page is declared, and how a request reaches it: parsed here, answered in a thread."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.convertors import IntegerConvertor, register_url_convertor
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import Route

from evenpour.errors import FieldProblem, Problem, Refused, UnknownName
from evenpour.web.ask import Ask
from evenpour.web.contents import modules
from evenpour.web.problems import problems_shown

if TYPE_CHECKING:
    from starlette.requests import Request

Answer = Callable[[Ask], Response]
MOST_FIELDS = 400
SHORTER = "Go back and send less of it at once."
LONGEST_FIELD = 2_000_000  # bytes; a photo that a script made small is the longest


class _Number(IntegerConvertor):
    """``{number:int}``: Python refuses to read thousands of digits as a number, so no address has them."""

    regex = "[0-9]{1,40}"


register_url_convertor("int", _Number())


@dataclass(frozen=True, slots=True)
class Page:
    """One address: what shows it, and what takes what is sent to it.

    Args:
        path: As Starlette writes it: ``/jobs/{number:int}/steps/{step}``.
        show: Answers GET.
        save: Answers POST; none for a page that takes nothing.
        at_machine: Whether only a browser on the machine that serves may ask for it.
        largest: Bytes that may be sent to it, where a form of it takes a file (one, in ``ask.upload``).
        smaller: What to do about a file that is larger, in words.
    """

    path: str
    show: Answer
    save: Answer | None = None
    at_machine: bool = False
    largest: int = 0
    smaller: str = ""


@dataclass(frozen=True, slots=True)
class ErrorPage:
    """Everything error.html may use; ``back`` leads to the form that it was sent from."""

    heading: str
    words: tuple[str, ...]
    back: str = ""


def pages() -> Iterator[Page]:
    """Every page of every module."""
    for module in modules():
        yield from module.PAGES


def route(page: Page) -> Route:
    """The route of a page."""
    methods = ["GET"] if page.save is None else ["GET", "POST"]
    return Route(page.path, partial(_answered, page), methods=methods)


def routes(pages: Iterable[Page]) -> list[Route]:
    """The routes of several, in order."""
    return [route(page) for page in pages]


async def _answered(page: Page, request: Request) -> Response:
    if request.method != "POST" or page.save is None:
        return await run_in_threadpool(_guarded, page.show, Ask(request, {}))
    files = 1 if page.largest else 0
    async with request.form(max_files=files, max_fields=MOST_FIELDS, max_part_size=LONGEST_FIELD) as fields:
        form = {name: value for name, value in fields.items() if isinstance(value, str)}
        upload = next((value for value in fields.values() if isinstance(value, UploadFile)), None)
        return await run_in_threadpool(_guarded, page.save, Ask(request, form, upload))


def _guarded(act: Answer, ask: Ask) -> Response:
    try:
        return act(ask)
    except Problem as problem:
        return problem_page(ask, problem)


def problem_page(ask: Ask, problem: Problem) -> Response:
    """A page for what a person can mend, where no form could show it."""
    status, heading = 422, "This cannot be shown as it stands"
    if isinstance(problem, UnknownName) or (isinstance(problem, FieldProblem) and problem.field == "job"):
        status, heading = 404, "There is no such page"
    elif isinstance(problem, Refused):
        status, heading = 409, "This may not be done now"
    words = tuple(one.words for one in problems_shown(problem))
    if not _can_be_opened(ask):
        ask.request.scope["path_params"] = {}  # then the page stands outside of any job
    return ask.page("error.html", ErrorPage(heading, words), title=heading, status=status)


def _can_be_opened(ask: Ask) -> bool:
    try:
        return ask.in_job and bool(ask.job)
    except Problem:
        return False


async def not_found(request: Request, error: Exception) -> Response:
    """For an address that no page has, and a way of asking that a page does not know."""
    status = error.status_code if isinstance(error, HTTPException) else 404
    words = {404: "No page has this address.", 405: "This page takes nothing sent to it."}
    said = words.get(status, "This was not understood.")
    request.scope["path_params"] = {}
    page = ErrorPage("There is no such page" if status == 404 else "That did not work", (said,))
    return await run_in_threadpool(
        lambda: Ask(request, {}).page("error.html", page, title=page.heading, status=status)
    )


def too_large(request: Request, most: int, smaller: str) -> Response:
    """For what is larger than the *most* bytes that its page takes; *smaller* is what to do about it."""
    words = (f"At most {most / 1e6:.0f} MB are taken here, and nothing was kept.", smaller or SHORTER)
    page = ErrorPage("That is too large", words, request.url.path)
    request.scope["path_params"] = {}
    return Ask(request, {}).page("error.html", page, title=page.heading, status=413)


async def failed(request: Request, error: Exception) -> Response:
    """For a fault of ours: said plainly, with nothing lost that was acknowledged before."""
    traceback.print_exception(error, file=sys.stderr)
    request.scope["path_params"] = {}
    page = ErrorPage(
        "The tool failed",
        (
            "This is a fault of the tool and none of yours. What was saved before is safe.",
            "Go back and try again; where the server runs, it has written down what happened.",
        ),
    )
    return await run_in_threadpool(
        lambda: Ask(request, {}).page("error.html", page, title=page.heading, status=500)
    )
