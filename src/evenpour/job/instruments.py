"""What a workshop measures with: each instrument as it was last stated, and when it was last calibrated.

How long a calibration is good for is laid down by no rule that holds for every workshop; a year is common
practice, no source. A date that is older is said, and changes no verdict.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from evenpour.errors import Problem
from evenpour.job.entries import Entry
from evenpour.job.wording import day_said
from evenpour.measure.instruments import Instrument, instrument_from

if TYPE_CHECKING:
    from evenpour.job.store import Store

A_YEAR = 366  # days; common practice, no source
OLD = "longer ago than the year that is common practice"


@dataclass(frozen=True, slots=True)
class KnownInstrument:
    """An instrument and the jobs it was stated on, the newest first.

    ``range``, ``accuracy`` and ``division`` are as they were typed; ``calibrated`` is empty where nobody
    said; ``old`` if that is longer than a year before the day it is looked at. ``content`` is all that was
    stated, as an entry has it.
    """

    id: str
    kind: str
    range: str
    accuracy: str
    division: str
    calibrated: str
    old: bool
    note: str
    jobs: tuple[int, ...]
    content: Mapping[str, Any]

    @property
    def key(self) -> str:
        """What tells it from the others: its kind and its name."""
        return f"{self.kind.casefold()}, {self.id.casefold()}"


def calibrations(instruments: Iterable[Instrument], entries: Sequence[Entry]) -> dict[str, str]:
    """When each was last calibrated, in words, seen from the day of the newest entry."""
    on = max((day for one in entries if (day := _day(one.at or one.entered)) is not None), default=None)
    return {one.id: calibration_words(one.calibrated, on) for one in instruments if one.calibrated}


def calibration_words(calibrated: date, on: date | None) -> str:
    """``calibrated 1 March 2026``, and whether that is long ago on the day *on*."""
    words = f"calibrated {day_said(calibrated)}"
    if on is None:
        return words
    if calibrated > on:
        return f"{words}, after the day it was used"
    return f"{words}, {OLD}" if is_old(calibrated, on) else words


def is_old(calibrated: date, on: date) -> bool:
    """Whether a calibration is longer ago than a year."""
    return (on - calibrated).days > A_YEAR


def known_instruments(store: Store, jobs: Sequence[int], today: date) -> tuple[KnownInstrument, ...]:
    """What the jobs *jobs* (the newest first) measured with, by kind and name.

    The same gauge is stated on many jobs: what was said last counts, and all of its jobs are named.
    """
    place = {number: rank for rank, number in enumerate(jobs)}
    stated: dict[tuple[str, str], list[tuple[int, Mapping[str, Any]]]] = {}
    for number, content in sorted(store.instruments(jobs), key=lambda one: place[one[0]]):
        key = (str(content["kind"]).casefold(), str(content["id"]).casefold())
        stated.setdefault(key, []).append((number, content))
    return tuple(_known(stated[key], today) for key in sorted(stated))


def _known(stated: list[tuple[int, Mapping[str, Any]]], today: date) -> KnownInstrument:
    newest = stated[0][1]
    plain = {name: value for name, value in newest.items() if name not in ("who", "photo")}
    try:
        read: Instrument | None = instrument_from(plain)
    except Problem:
        read = None  # its own job says what is wrong with it
    calibrated = read.calibrated if read else None
    accuracy = f"class {newest['class']:g}" if "class" in newest else ""
    accuracy = accuracy or (f"± {newest['error']}" if "error" in newest else "")
    return KnownInstrument(
        id=str(newest["id"]),
        kind=str(newest["kind"]),
        range=str(newest.get("range", "")),
        accuracy=accuracy,
        division=str(newest.get("resolution", "")),
        calibrated=day_said(calibrated) if calibrated else "",
        old=calibrated is not None and is_old(calibrated, today),
        note=str(newest.get("note", "")),
        jobs=tuple(dict.fromkeys(number for number, _ in stated)),
        content={name: value for name, value in newest.items() if name not in ("who", "photo")},
    )


def _day(at: str | None) -> date | None:
    return datetime.fromisoformat(at).date() if at else None
