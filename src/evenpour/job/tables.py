"""Entries as CSV, for one's own analysis: one row for each reading, container or entry."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

from evenpour.job.fold import Standing

_NUMBER = re.compile(r"\s*([+\-−]?\d+(?:[.,]\d+)?)\s*(.*?)\s*", re.ASCII | re.DOTALL)
_BEGIN: Final = ("rank", "at")
_END: Final = ("instrument", "who", "note", "id", "corrected_by")
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet would compute instead of show


def readings_csv(standing: Iterable[Standing]) -> str:
    """Readings as they stand: what was typed, and figure and unit apart where it is one figure.

    Columns: rank, at, what, cylinder, value, number, unit, conditions, instrument, who, note, id,
    corrected_by. Repeats give one row each.
    """
    rows: list[list[object]] = []
    for one in standing:
        if one.kind != "reading":
            continue
        content = one.content
        typed = content["values"] if "values" in content else [content.get("value", "")]
        rows += [
            [
                *_begin(one),
                content["what"],
                content.get("cylinder", ""),
                value,
                *_apart(str(value)),
                _conditions(content),
                *_end(one),
            ]
            for value in typed
        ]
    return _csv(
        (*_BEGIN, "what", "cylinder", "value", "number", "unit", "conditions", *_END),
        rows,
    )


def catches_csv(standing: Iterable[Standing]) -> str:
    """Catches as they stand, one row for each port; a lost amount is an empty cell.

    Columns: rank, at, catch (counted from 0), through, opening, port, amount, number, unit, duration, swaps,
    discard, conditions, instrument, who, note, id, corrected_by.
    """
    rows: list[list[object]] = []
    caught = [one for one in standing if one.kind == "catch"]
    for count, one in enumerate(caught):
        content = one.content
        amounts = content["amounts"]
        durations = content.get("durations", [content.get("duration", "")] * len(amounts))
        rows += [
            [
                *_begin(one),
                count,
                content["through"],
                content["opening"],
                port,
                amount,
                *_apart(amount),
                duration,
                "; ".join(content.get("swaps", ())),
                "yes" if content.get("discard") else "",
                _conditions(content),
                *_end(one),
            ]
            for port, (amount, duration) in enumerate(zip(amounts, durations, strict=True), start=1)
        ]
    return _csv(
        (
            *_BEGIN,
            "catch",
            "through",
            "opening",
            "port",
            "amount",
            "number",
            "unit",
            "duration",
            "swaps",
            "discard",
            "conditions",
            *_END,
        ),
        rows,
    )


def _begin(one: Standing) -> tuple[object, ...]:
    return one.rank, one.at or ""


def _end(one: Standing) -> Iterator[object]:
    yield from (one.content.get(name, "") for name in ("instrument", "who", "note"))
    yield from (one.entry.id, " ".join(one.corrected_by))


def _apart(text: str) -> tuple[str, str]:
    """Figure and unit of a plain decimal quantity; two empty cells for a choice, a fraction or a range."""
    found = _NUMBER.fullmatch(text)
    if found is None or any(sign in found[2] for sign in "0123456789±"):
        return "", ""
    return found[1].replace(",", ".").replace("−", "-"), found[2]


def _conditions(content: Mapping[str, Any]) -> str:
    return "; ".join(f"{name} = {value}" for name, value in content.get("conditions", {}).items())


def _csv(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(header)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def _cell(value: object) -> object:
    """Text that a spreadsheet would take for a formula gets an apostrophe; figures with units do not."""
    if isinstance(value, str) and value.startswith(_FORMULA) and _NUMBER.fullmatch(value) is None:
        return f"'{value}"
    return value
