"""What was entered, newest first, with what was corrected; every entry can be mended from here."""

from __future__ import annotations

from dataclasses import dataclass, replace

from starlette.responses import Response

from evenpour.job.answers import HistoryLine
from evenpour.job.photos import Photo, by_subject
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.routes import Page
from evenpour.web.saving import said_before
from evenpour.web.verdicts import Said
from evenpour.web.words import day


@dataclass(frozen=True, slots=True)
class Day:
    """One day's entries; ``name`` is empty for those whose time nobody noted."""

    name: str
    lines: tuple[HistoryLine, ...]


@dataclass(frozen=True, slots=True)
class History:
    """Everything history.html may use; ``reasons`` say why an entry was corrected, by the correction's id."""

    days: tuple[Day, ...]
    reasons: dict[str, str]
    head: str
    entries: int
    photos: dict[str, tuple[Photo, ...]]
    said: Said | None


def show(ask: Ask) -> Response:
    """The journal in words."""
    job = ask.job
    days: dict[str, list[HistoryLine]] = {}
    for line in reversed(job.history()):
        days.setdefault(day(line.at) if line.at else "", []).append(line)
    page = History(
        days=tuple(Day(name, tuple(lines)) for name, lines in days.items()),
        reasons={line.entry: _reason(line) for line in job.corrections()},
        head=job.chain_head,
        entries=len(job.entries),
        photos=by_subject(replace(one, about=one.entry) for one in job.photos()),
        said=said_before(ask),
    )
    return ask.page("history.html", page, title="History")


def _reason(line: HistoryLine) -> str:
    """``Corrected by Ines: misread``; its words begin with the id of what it corrects."""
    by = f" by {line.who}" if line.who else ""
    return f"Corrected{by}: {line.words.partition(': ')[2]}"


IN_JOB = (Line("History", "/history"),)
PAGES = (Page("/jobs/{number:int}/history", show),)
