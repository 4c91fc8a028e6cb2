"""Every reading of the job, held against its limit: by the day it was read, or what is outside first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from starlette.responses import Response

from evenpour.job import times
from evenpour.job.answers import JudgedReading
from evenpour.job.catch.uneven import UnevenCatch
from evenpour.job.photos import Photo, by_subject
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.routes import Page
from evenpour.web.saving import said_before
from evenpour.web.verdicts import Said, Verdict, verdict_of
from evenpour.web.words import day

OUTSIDE = "outside"  # in the address: what is outside its limit first
NO_TIME = "At a time not noted"
BY_VERDICT = ("Outside its limit", "It cannot be told", "Within its limit", "Without a limit on the sheet")


@dataclass(frozen=True, slots=True)
class Readings:
    """Everything readings.html may use.

    ``groups`` are those that count, each with its heading, a day or a verdict; ``older`` no longer do.
    ``uneven``: the catches that are outside, told on a page of their own.
    """

    groups: tuple[tuple[str, tuple[Verdict, ...]], ...]
    older: tuple[Verdict, ...]
    outside_first: bool
    outside: int
    uneven: tuple[UnevenCatch, ...]
    photos: dict[str, tuple[Photo, ...]]
    said: Said | None


def show(ask: Ask) -> Response:
    """Those that count, then those that no longer do."""
    # The order in time, whatever their order on the sheet; of one time, what was entered last.
    latest = list(reversed(ask.job.judge().readings))
    latest.sort(key=lambda row: _read_at(row.at), reverse=True)
    now = [row for row in latest if row.stands]
    outside_first = ask.query.get("first") == OUTSIDE
    page = Readings(
        groups=_by_verdict(now) if outside_first else _by_day(now),
        older=tuple(verdict_of(row) for row in latest if not row.stands),
        outside_first=outside_first,
        outside=sum(row.verdict == OUTSIDE for row in now),
        uneven=ask.job.uneven,
        photos=by_subject(ask.job.photos()),
        said=said_before(ask),
    )
    return ask.page("readings.html", page, title="Readings")


Groups = tuple[tuple[str, tuple[Verdict, ...]], ...]


def _by_day(rows: Sequence[JudgedReading]) -> Groups:
    return _grouped(rows, lambda row: day(row.at) if row.at else NO_TIME)


def _by_verdict(rows: Sequence[JudgedReading]) -> Groups:
    groups = dict(_grouped(rows, _verdict))
    return tuple((title, groups[title]) for title in BY_VERDICT if title in groups)


def _verdict(row: JudgedReading) -> str:
    if not row.limit:
        return BY_VERDICT[3]
    return {"outside": BY_VERDICT[0], "within": BY_VERDICT[2]}.get(row.verdict, BY_VERDICT[1])


def _grouped(rows: Sequence[JudgedReading], title: Callable[[JudgedReading], str]) -> Groups:
    groups: dict[str, list[Verdict]] = {}
    for row in rows:
        groups.setdefault(title(row), []).append(verdict_of(row))
    return tuple((name, tuple(group)) for name, group in groups.items())


def _read_at(at: str | None) -> datetime:
    """When it was; what nobody dated comes last."""
    return times.instant(at) if at else datetime(1, 1, 2, tzinfo=UTC)


IN_JOB = (Line("Readings", "/readings"),)
PAGES = (Page("/jobs/{number:int}/readings", show),)
