"""Every reading of the job, held against its limit."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from evenpour.job.photos import Photo, by_subject
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.routes import Page
from evenpour.web.verdicts import Verdict, verdict_of


@dataclass(frozen=True, slots=True)
class Readings:
    """Everything readings.html may use; the newest first."""

    now: tuple[Verdict, ...]
    older: tuple[Verdict, ...]
    photos: dict[str, tuple[Photo, ...]]


def show(ask: Ask) -> Response:
    """Those that count, then those that no longer do."""
    rows = [verdict_of(row) for row in reversed(ask.job.judge().readings)]
    now, older = (tuple(row for row in rows if row.stands is stands) for stands in (True, False))
    return ask.page("readings.html", Readings(now, older, by_subject(ask.job.photos())), title="Readings")


IN_JOB = (Line("Readings", "/readings"),)
PAGES = (Page("/jobs/{number:int}/readings", show),)
