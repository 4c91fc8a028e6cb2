"""A sheet in sections, as its author parted it: a comment that stands by itself heads what follows."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from evenpour.data.toml_lines import toml_lines
from evenpour.job.sheet.edit import Key

NAMED = {"devices": "What is fitted", "values": "Values", "limit": "Limits"}
LONGEST = 120  # characters of a comment that heads; a longer one is a remark
_HEADER = re.compile(r"\s*\[\[?\s*(\w+)")


@dataclass(frozen=True, slots=True)
class Section:
    """A heading, and what stands under it in the order of the file."""

    title: str
    keys: tuple[Key, ...]


def sections(text: str, plain: Mapping[str, Any]) -> tuple[Section, ...]:
    """The devices, then the values, then the limits, each under the headings of the file.

    Args:
        text: The sheet's TOML text.
        plain: What it says.
    """
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").split("\n")
    headings = _headings(lines)
    at = toml_lines("\n".join(lines))
    found: dict[tuple[str, str], list[Key]] = {}
    for key in _keys(plain):
        if key in at:
            table = str(key[0])
            heading = headings[at[key] - 1] if table != "devices" else ""
            found.setdefault((table, heading or NAMED[table]), []).append(key)
    values = {title for table, title in found if table != "limit"}
    return tuple(
        Section(f"{title}, limits" if table == "limit" and title in values else title, tuple(keys))
        for (table, title), keys in found.items()
    )


def _keys(plain: Mapping[str, Any]) -> Iterator[Key]:
    for table in ("devices", "values"):
        for name in plain.get(table, {}):
            yield (table, name)
    for place in range(len(plain.get("limit", []))):
        yield ("limit", place)


def _headings(lines: list[str]) -> list[str]:
    """The heading above each line; empty where none stands."""
    found, heading, table, after_break, pending = [], "", "", True, ""
    for line in lines:
        said = line.strip()
        header = _HEADER.match(line)
        if said.startswith("#"):
            if after_break and (words := said.lstrip("# ").rstrip(". ")) and len(words) <= LONGEST:
                pending = f"{words[:1].upper()}{words[1:]}".partition(": ")[0]
            after_break = False
        elif header is not None:
            if header[1] != table:
                heading, table = "", header[1]
            heading, pending = pending or heading, ""
            after_break = True
        elif said:
            heading, pending = pending or heading, ""
            after_break = False
        else:
            after_break = True
        found.append(heading)
    return found
