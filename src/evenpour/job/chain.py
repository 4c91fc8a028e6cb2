"""The chain of hashes through a job's entries: an entry changed, added or left out later shows."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from evenpour.job.entries import Entry

START = ""  # what the first entry has in place of the hash before it


def canonical(plain: Any) -> str:
    """The one JSON text of plain values: keys sorted, no spaces, text as it was typed (not normalised).

    Raises:
        ValueError: a number is not finite.
    """
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def entry_hash(
    *, id: str, at: str | None, entered: str | None, kind: str, content: Mapping[str, Any], previous: str
) -> str:
    """SHA-256, as hex, over the canonical JSON (UTF-8) of what an entry says and the hash before it.

    The sequence number is left out: the hash before stands for it. The job's number is left out, so that the
    chain survives a change of store.
    """
    said = {
        "id": id,
        "at": at,
        "entered": entered,
        "kind": kind,
        "content": content,
        "previous": previous,
    }
    return hashlib.sha256(canonical(said).encode()).hexdigest()


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
