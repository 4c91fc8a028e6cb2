"""Every reading of the job, held against its limit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from starlette.responses import Response

from evenpour.job import times
from evenpour.job.photos import Photo, by_subject
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.routes import Page
from evenpour.web.verdicts import Verdict, verdict_of


@dataclass(frozen=True, slots=True)
class Readings:
    """Everything readings.html may use; what was read last comes first."""

    now: tuple[Verdict, ...]
    older: tuple[Verdict, ...]
    photos: dict[str, tuple[Photo, ...]]


def show(ask: Ask) -> Response:
    """Those that count, then those that no longer do."""
    # The order in time, whatever their order on the sheet; of one time, what was entered last.
    latest = list(reversed(ask.job.judge().readings))
    latest.sort(key=lambda row: _read_at(row.at), reverse=True)
    rows = [verdict_of(row) for row in latest]
    now, older = (tuple(row for row in rows if row.stands is stands) for stands in (True, False))
    return ask.page("readings.html", Readings(now, older, by_subject(ask.job.photos())), title="Readings")


def _read_at(at: str | None) -> datetime:
    """When it was; what nobody dated comes last."""
    return times.instant(at) if at else datetime(1, 1, 2, tzinfo=UTC)


IN_JOB = (Line("Readings", "/readings"),)
PAGES = (Page("/jobs/{number:int}/readings", show),)
