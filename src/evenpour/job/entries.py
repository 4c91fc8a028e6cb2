"""An entry of a job's journal: its envelope, and how drafts become entries."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from evenpour.errors import FieldProblem
from evenpour.job.hashes import START, entry_hash

_ID = re.compile(r"[^\x00-\x1f\x7f\ud800-\udfff]{1,200}")


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry before it has a place in a journal.

    Attributes:
        kind: "reading", "catch" ... (``forms.KINDS``).
        content: Its own fields as typed, without id and times; plain values only.
        id: Made by who sends it; ``None`` asks the store for one.
        at: When it was so on the car, as ``times.read_time`` writes it; ``None`` if nobody said.
        entered: When a store took it, as ``times.stamp`` writes it; ``None`` if none did yet.
    """

    kind: str
    content: Mapping[str, Any]
    id: str | None = None
    at: str | None = None
    entered: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry in its place.

    Attributes:
        seq: 1, 2, 3 ... in order of arrival.
        entered: ``None`` only where it was read from a file and no store has taken it yet.
        content: Its own fields as typed, without the entry's id and times. For instrument, step and caution
            the content's ``id`` names the thing, not the entry.
        previous: The hash of the entry before; ``""`` for the first.
        hash: SHA-256 over the canonical JSON of all the above but ``seq``.
    """

    seq: int
    id: str
    at: str | None
    entered: str | None
    kind: str
    content: Mapping[str, Any]
    previous: str
    hash: str


def following(draft: Draft, entry_id: str, entered: str | None, seq: int, previous: str) -> Entry:
    """The entry that *draft* becomes as number *seq* after the entry whose hash is *previous*."""
    content = dict(draft.content)
    return Entry(
        seq=seq,
        id=entry_id,
        at=draft.at,
        entered=entered,
        kind=draft.kind,
        content=content,
        previous=previous,
        hash=entry_hash(
            id=entry_id, at=draft.at, entered=entered, kind=draft.kind, content=content, previous=previous
        ),
    )


def linked(drafts: Iterable[Draft]) -> tuple[Entry, ...]:
    """The journal of drafts that all have an id, in this order."""
    entries: list[Entry] = []
    previous = START
    for seq, draft in enumerate(drafts, start=1):
        if draft.id is None:
            raise ValueError(f"draft {seq} has no id")
        entry = following(draft, draft.id, draft.entered, seq, previous)
        entries.append(entry)
        previous = entry.hash
    return tuple(entries)


def new_id(kind: str) -> str:
    """An id that no other sender makes: the kind, and 48 random bits."""
    return f"{kind}-{secrets.token_hex(6)}"


def checked_id(value: object, *, field: str = "id") -> str:
    """An id as sent.

    Raises:
        FieldProblem: it is no text, empty, longer than 200 characters or holds control characters.
    """
    if not isinstance(value, str):
        raise FieldProblem(field, value, "is no text", allowed='text in quotes, like "reading-3"')
    if not value.strip() or _ID.fullmatch(value) is None:
        raise FieldProblem(field, value, "is no id", allowed="1 to 200 letters, digits and signs")
    return value
