"""Times of entries: read from a file or a form, kept with their offset, put in order.

A time without an offset is taken as this computer's local time, and the offset it had on that day is written
beside it from then on. So a file written by hand in the workshop means what the clock on the wall showed.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta

from evenpour.errors import FieldProblem, OutOfRange, Questioned

FIRST_YEAR = 1950  # the kind of engine this is about is younger
LAST_YEAR = 2200  # keeps arithmetic with offsets inside what datetime can hold
AHEAD = timedelta(days=1)  # a clock may run in another zone than it says, not further

_WRITTEN = re.compile(
    r"(\d{4}-\d\d-\d\d)[Tt ](\d\d:\d\d(?::\d\d)?)(?:[.,](\d+))?\s*([Zz]|[+\-]\d\d:?\d\d)?", re.ASCII
)
_REMEDY = "Write day and time of day, like 2026-05-03T10:12:00 or 2026-05-03T10:12:00+02:00."


def read_time(value: object, *, field: str = "at", now: datetime | None = None) -> str:
    """The one written form of a time: ISO 8601 with its offset, fractions only where there are some.

    Args:
        value: A date and time from TOML, or text.
        field: The field's name for complaints.
        now: The latest moment known, with offset; a time more than a day after it is questioned. ``None``
            asks nothing (for entries that were accepted once).
    Raises:
        FieldProblem: it is no date with a time of day.
        OutOfRange: before 1950 or after 2200.
        Questioned: more than a day ahead.
    """
    moment = _moment(value, field)
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise OutOfRange(
            field,
            _typed(value),
            "is no time for this work",
            allowed=f"{FIRST_YEAR} to {LAST_YEAR}",
            remedy="Is the year right?",
        )
    if moment.tzinfo is None:
        moment = moment.astimezone()
    offset = moment.utcoffset() or timedelta(0)
    if offset % timedelta(minutes=1):  # local mean time of the fifties: no file form can write it
        moment = moment.astimezone(UTC)
    if now is not None and moment - now > AHEAD:
        raise Questioned(
            field,
            _typed(value),
            "lies in the future",
            allowed=f"up to {now.isoformat(timespec='minutes')}",
            remedy="Are the day and the year right, and this computer's clock?",
        )
    return moment.isoformat()


def read_entered(value: object, *, field: str = "entered") -> str:
    """As :func:`read_time`, in UTC with microseconds: the store's own time stamps."""
    return stamp(datetime.fromisoformat(read_time(value, field=field)))


def stamp(moment: datetime) -> str:
    """A moment as the store writes it: UTC, always with six decimals, so that text order is time order."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def next_stamp(last: str | None, moment: datetime) -> str:
    """The stamp for *moment*, or one microsecond after *last* where that is later: strictly increasing."""
    if last is not None:
        moment = max(moment.astimezone(UTC), datetime.fromisoformat(last) + timedelta(microseconds=1))
    return stamp(moment)


def instant(text: str) -> datetime:
    """The moment of a text made by :func:`read_time`; moments of different offsets compare rightly."""
    return datetime.fromisoformat(text)


def local_now() -> str:
    """Now, to the second, with this computer's offset."""
    return read_time(datetime.now().astimezone().replace(microsecond=0))


def _moment(value: object, field: str) -> datetime:
    if isinstance(value, datetime):
        return value
    if isinstance(value, date):
        raise FieldProblem(field, _typed(value), "has no time of day", remedy=_REMEDY)
    if isinstance(value, time):
        raise FieldProblem(field, _typed(value), "has no day", remedy=_REMEDY)
    if not isinstance(value, str):
        raise FieldProblem(field, value, "is no date and time", remedy=_REMEDY)
    found = _WRITTEN.fullmatch(value.strip())
    if found is None:
        raise FieldProblem(field, value, "is no date and time", remedy=_REMEDY)
    day, clock, fraction, offset = found.groups()
    decimals = f".{fraction[:6]:0<6}" if fraction else ""
    clock = clock if len(clock) == 8 else f"{clock}:00"
    try:
        return datetime.fromisoformat(f"{day}T{clock}{decimals}{(offset or '').upper()}")
    except ValueError:
        raise FieldProblem(field, value, "is no day or time that exists", remedy=_REMEDY) from None


def _typed(value: object) -> object:
    return value.isoformat() if isinstance(value, (date, time)) else value
