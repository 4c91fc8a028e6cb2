"""What the workshop measures with: every instrument that its jobs state, and when it was last calibrated."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from evenpour.job.instruments import KnownInstrument
from evenpour.job.shop import Leaf
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.pages.bay_book import leaf_address, leaf_wanted
from evenpour.web.routes import Page


@dataclass(frozen=True, slots=True)
class Instruments:
    """Everything instruments.html may use."""

    search: str
    leaf: Leaf
    known: tuple[KnownInstrument, ...]
    newer: str
    older: str


def show(ask: Ask) -> Response:
    """The instruments of a page of jobs; ``q`` searches the jobs, ``leaf`` turns the page."""
    search = ask.query.get("q", "").strip()
    leaf, known = ask.shop.instruments(search, leaf_wanted(ask))
    page = Instruments(
        search=search,
        leaf=leaf,
        known=known,
        newer=leaf_address("/instruments", search, leaf.number - 1) if leaf.number > 1 else "",
        older=leaf_address("/instruments", search, leaf.number + 1) if leaf.number < leaf.last else "",
    )
    return ask.page("instruments.html", page, title="Instruments")


IN_SHOP = (Line("Instruments", "/instruments"),)
PAGES = (Page("/instruments", show),)
