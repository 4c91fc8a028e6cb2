"""The bay book: every job of the workshop, newest first, and a search."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.responses import Response

from evenpour.job.shop import Leaf
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.routes import Page


@dataclass(frozen=True, slots=True)
class BayBook:
    """Everything bay_book.html may use."""

    search: str
    leaf: Leaf
    newer: str
    older: str


def show(ask: Ask) -> Response:
    """A page of the list; ``q`` searches, ``leaf`` turns the page."""
    search = ask.query.get("q", "").strip()
    leaf = ask.shop.jobs(search, leaf_wanted(ask))
    page = BayBook(
        search=search,
        leaf=leaf,
        newer=leaf_address("/", search, leaf.number - 1) if leaf.number > 1 else "",
        older=leaf_address("/", search, leaf.number + 1) if leaf.number < leaf.last else "",
    )
    return ask.page("bay_book.html", page, title="The bay book")


def leaf_wanted(ask: Ask) -> int:
    """The page of a list that the address names; the first where it names none."""
    wanted = ask.query.get("leaf", "1")
    return int(wanted) if wanted.isascii() and wanted.isdigit() and len(wanted) < 7 else 1


def leaf_address(path: str, search: str, leaf: int) -> str:
    """The address of a page of a list."""
    return f"{path}?" + urlencode({**({"q": search} if search else {}), "leaf": leaf})


IN_SHOP = (Line("The bay book", "/"),)
PAGES = (Page("/", show),)
