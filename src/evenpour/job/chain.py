"""The chain of hashes through a job's entries: an entry changed, added or left out later shows."""

from __future__ import annotations

from collections.abc import Iterable

from evenpour.job.entries import Entry
from evenpour.job.hashes import START, entry_hash


def head(entries: Iterable[Entry]) -> str:
    """The last hash, which vouches for all entries before it; ``""`` for none."""
    last = START
    for entry in entries:
        last = entry.hash
    return last


def verify(entries: Iterable[Entry]) -> tuple[str, ...]:
    """Where the chain breaks, in words; empty if it holds.

    Args:
        entries: All entries of one job in order of their sequence.
    """
    reasons = []
    previous = START
    for count, entry in enumerate(entries, start=1):
        if entry.seq != count:
            reasons.append(f"entry {entry.id!r} has sequence number {entry.seq} where {count} was due")
        if entry.previous != previous:
            reasons.append(f"entry {entry.id!r} does not follow the entry before it")
        if entry.hash != entry_hash(
            id=entry.id,
            at=entry.at,
            entered=entry.entered,
            kind=entry.kind,
            content=entry.content,
            previous=entry.previous,
        ):
            reasons.append(f"entry {entry.id!r} is not what was entered")
        previous = entry.hash
    return tuple(reasons)
