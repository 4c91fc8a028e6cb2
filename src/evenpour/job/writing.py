"""Job files out: the same entries always give the same bytes."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from evenpour.job import chain
from evenpour.job.entries import Entry
from evenpour.job.forms import KINDS, OWN_ID, SINGLE, field_names

FORMAT: Final = "evenpour-job/1"

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_LAST: Final = ("who", "note", "photo")


def write_toml(entries: Sequence[Entry]) -> str:
    """A job as TOML, one table for each entry, in sequence.

    Entries that a store has taken carry ``entered`` and are vouched for by ``chain``.
    """
    blocks = [
        f"format = {_value(FORMAT)}\n" + (f"chain = {_value(_head(entries))}\n" if _head(entries) else "")
    ]
    for entry in entries:
        header = f"[{entry.kind}]" if entry.kind in SINGLE else f"[[{entry.kind}]]"
        lines = [f"{_key(name)} = {_written(name, value)}" for name, value in fields(entry).items()]
        blocks.append("\n".join([header, *lines]) + "\n")
    return "\n".join(blocks)


def write_json(entries: Sequence[Entry]) -> str:
    """A job as JSON, entries listed by kind; their sequence is that of ``entered``."""
    whole: dict[str, Any] = {"format": FORMAT}
    if _head(entries):
        whole["chain"] = _head(entries)
    for kind in KINDS:
        found = [fields(entry) for entry in entries if entry.kind == kind]
        if found:
            whole[kind] = found[0] if kind in SINGLE else found
    return json.dumps(whole, ensure_ascii=False, indent=2) + "\n"


def fields(entry: Entry) -> dict[str, Any]:
    """An entry as one table of a job file: its own fields in the form's order, then id and times."""
    content = _in_order(entry.kind, entry.content)
    content["entry" if entry.kind in OWN_ID else "id"] = entry.id
    if entry.at is not None:
        content["at"] = entry.at
    if entry.entered is not None:
        content["entered"] = entry.entered
    return content


def _head(entries: Sequence[Entry]) -> str:
    """The hash that vouches for what a store has taken; hand-written entries have no such witness."""
    if not entries or any(entry.entered is None for entry in entries):
        return ""
    return chain.head(entries)


def _in_order(kind: str, content: Mapping[str, Any]) -> dict[str, Any]:
    known = [name for name in field_names(kind) if name not in _LAST and name in content]
    others = [name for name in content if name not in known and name not in _LAST]
    last = [name for name in _LAST if name in content]
    return {name: content[name] for name in (*known, *others, *last)}


def _written(name: str, value: Any) -> str:
    """A time of the entry itself stands bare, as TOML has times; everything else as :func:`_value`."""
    return str(value) if name in {"at", "entered"} else _value(value)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(name)} = {_value(one)}" for name, one in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(_value, value))}]"
    raise TypeError(f"an entry holds plain values, not {type(value).__name__}")


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else _value(name)
