"""What vouches for an entry: the hash over what it says and the hash before it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

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
