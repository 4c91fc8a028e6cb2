"""What stands on a job: its entries with all corrections applied, in the order of the car's time.

Two passes. First the corrections, in sequence: each says what the entry it names should have said, or that it
should not stand; the last one wins, and a correction can itself be corrected or withdrawn. Then what stands,
in order of (``at``, sequence). An entry without a time stands right behind the one that arrived before it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from evenpour.errors import UnknownName, unknown
from evenpour.job import times
from evenpour.job.entries import Entry

SHOW: Final = "evenpour job show JOB"
_BEFORE_ALL: Final = datetime(1, 1, 2, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Standing:
    """An entry as it stands now.

    Attributes:
        rank: Its place in the order, from 0.
        entry: The entry as it was entered.
        kind: Its kind, which no correction changes.
        content: Its content now.
        at: Its time now; ``None`` where nobody said.
        corrected_by: Ids of the corrections of it that stand, in sequence; the last one is what it says now.
    """

    rank: int
    entry: Entry
    kind: str
    content: Mapping[str, Any]
    at: str | None
    corrected_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """An entry that stands no more; the record still shows it.

    Attributes:
        entry: The entry as it was entered.
        by: The id of the correction that withdrew it.
        reason: Why, as the correction says.
    """

    entry: Entry
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class Folded:
    """What a journal comes to.

    Attributes:
        standing: What stands, in order; corrections are not among it.
        withdrawn: What was withdrawn (corrections too), in sequence.
    """

    standing: tuple[Standing, ...]
    withdrawn: tuple[Withdrawn, ...]


@dataclass(frozen=True, slots=True)
class _Now:
    """What one entry says after its corrections."""

    entry: Entry
    content: Mapping[str, Any]
    at: str | None
    corrected_by: tuple[str, ...]
    withdrawn: Withdrawn | None


def fold(entries: Sequence[Entry]) -> Folded:
    """What stands after all entries of one job.

    Args:
        entries: In any order; only their sequence numbers count.
    Raises:
        UnknownName: a correction names an entry that is not there.
    """
    now = _corrected(sorted(entries, key=lambda entry: entry.seq))
    in_order = [one for one in _in_order(now) if one.withdrawn is None]
    standing = tuple(
        Standing(rank, one.entry, one.entry.kind, one.content, one.at, one.corrected_by)
        for rank, one in enumerate(in_order)
    )
    return Folded(standing, tuple(one.withdrawn for one in now if one.withdrawn is not None))


def _corrected(entries: Sequence[Entry]) -> list[_Now]:
    """Every entry with its corrections applied, in sequence.

    A correction stands behind what it mends. So, from the last entry to the first, whatever mends an entry is
    settled before the entry itself is reached.
    """
    ids = {entry.id for entry in entries}
    mending: dict[str, list[_Now]] = {}
    settled: list[_Now] = []
    for entry in reversed(entries):
        corrections = mending.get(entry.id, [])[::-1]
        one = _after(entry, corrections)
        settled.append(one)
        if entry.kind == "correction" and one.withdrawn is None:
            of = str(one.content["of"])
            if of not in ids:
                raise _unknown(entry, of, ids)
            mending.setdefault(of, []).append(one)
    return settled[::-1]


def _after(entry: Entry, corrections: Sequence[_Now]) -> _Now:
    content, at, withdrawn = entry.content, entry.at, None
    for correction in corrections:
        said = correction.content
        if said.get("withdrawn") is True:
            withdrawn = Withdrawn(entry, correction.entry.id, str(said.get("reason", "")))
            continue
        withdrawn = None
        content = {name: value for name, value in said["new"].items() if name != "at"}
        at = said["new"].get("at", at)
    return _Now(entry, content, at, tuple(one.entry.id for one in corrections), withdrawn)


def _in_order(now: Sequence[_Now]) -> list[_Now]:
    """By time, then sequence; a withdrawn entry still holds its place, so that no other one moves."""
    keyed: list[tuple[datetime, int, _Now]] = []
    reached = _BEFORE_ALL
    for one in now:
        if one.entry.kind == "correction":  # the time of a correction says nothing about the car
            continue
        if one.at is not None:
            reached = times.instant(one.at)
        keyed.append((reached, one.entry.seq, one))
    return [one for _, _, one in sorted(keyed, key=lambda key: key[:2])]


def _unknown(entry: Entry, of: str, ids: set[str]) -> UnknownName:
    return unknown(f"of (in {entry.id})", of, sorted(ids), kind="id of an entry of this job", listed_by=SHOW)
