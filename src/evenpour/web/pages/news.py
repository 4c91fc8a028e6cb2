"""What came in from elsewhere since a page was loaded: asked every few seconds by every open page."""

from __future__ import annotations

from starlette.responses import JSONResponse, Response

from evenpour.web.ask import Ask
from evenpour.web.routes import Page

MOST = 5


def show(ask: Ask) -> Response:
    """The journal's head, and in words what came after the one that the page knows."""
    known = ask.query.get("after", "")
    head = ask.shop.head(ask.number)
    said: list[str] = []
    if known and known != head:
        job = ask.job
        hashes = [entry.hash for entry in job.entries]
        fresh = {entry.id for entry in job.entries[hashes.index(known) + 1 :]} if known in hashes else set()
        lines = [line for line in (*job.history(), *job.corrections()) if line.entry in fresh]
        said = [f"{line.who}: {line.words}" if line.who else line.words for line in lines[-MOST:]]
    return JSONResponse({"head": head, "said": said})


PAGES = (Page("/jobs/{number:int}/news", show),)
