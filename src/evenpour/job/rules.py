"""Rules inside one entry that look at more than one field, and the text of swaps."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from typing import Any, Final

from evenpour.errors import FieldProblem
from evenpour.job.complaints import Fault, Path, field_at, form_faults
from evenpour.job.forms import OWN_ID, SWAP, is_bare
from evenpour.job.unitless import without_unit

_SWAP = re.compile(SWAP, re.ASCII | re.IGNORECASE)
_MOST_TEXT = 20_000  # characters in one text; a longer one is a file pasted by mistake


def faults(kind: str, content: Mapping[str, Any]) -> list[Fault]:
    """Everything wrong with one content by itself, with paths inside the content.

    Args:
        kind: One of :data:`evenpour.job.forms.KINDS`.
        content: The entry's own fields, without the entry's id and times. A correction's ``new`` is looked at
            when the kind of what it mends is known: see ``known.py``.
    """
    found = list(_unsound((), content))
    if found:  # text that no file can hold: nothing more can be said about it safely
        return found
    found = form_faults(kind, content)
    if kind in _TOGETHER:
        found += _TOGETHER[kind](content)
    return found


def plain_content(kind: str, content: Mapping[str, Any]) -> dict[str, Any]:
    """The content as it is kept: fields without a value dropped, figures that need no unit as text."""
    kept = {name: value for name, value in content.items() if value is not None}
    if kind == "reading":
        what = kept.get("what")
        if is_bare(kept.get("value")) and isinstance(what, str) and what in without_unit():
            kept["value"] = repr(kept["value"])
        values = kept.get("values")
        if isinstance(values, list) and isinstance(what, str) and what in without_unit():
            kept["values"] = [repr(value) if is_bare(value) else value for value in values]
    if kind in {"reading", "catch"} and isinstance(kept.get("conditions"), Mapping):
        kept["conditions"] = _plain_conditions(kept["conditions"])
    day = kept.get("calibrated")
    if kind == "instrument" and isinstance(day, date) and not isinstance(day, datetime):
        kept["calibrated"] = day.isoformat()  # TOML has days of its own; what is kept is text
    return _plain_conditions(kept) if kind == "conditions" else kept


def _plain_conditions(conditions: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: repr(value) if is_bare(value) and name in without_unit() else value
        for name, value in conditions.items()
    }


def read_swap(text: str) -> tuple[str, int, int] | None:
    """``"line 3 with 5"`` as ``("line", 3, 5)``; ``None`` if it is written otherwise."""
    found = _SWAP.fullmatch(text)
    return (found[1].lower(), int(found[2]), int(found[3])) if found else None


def _unsound(path: Path, value: Any) -> Iterator[Fault]:
    if isinstance(value, str):
        if len(value) > _MOST_TEXT:
            yield path, FieldProblem(field_at(path), value, "is too long", allowed=f"{_MOST_TEXT} characters")
        elif not value.isprintable() and any(map(_no_letter, value)):
            yield (
                path,
                FieldProblem(
                    field_at(path),
                    ascii(value),
                    "holds control characters or half a character",
                    remedy="Type it again.",
                ),
            )
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _unsound((*path, name), name)
            yield from _unsound((*path, name), inner)
    elif isinstance(value, list):
        for count, inner in enumerate(value):
            yield from _unsound((*path, count), inner)


def _no_letter(character: str) -> bool:
    return unicodedata.category(character) in {"Cc", "Cs"} and character not in "\n\r\t"


def _reading(content: Mapping[str, Any]) -> Iterator[Fault]:
    given = [name for name in ("value", "values", "file") if content.get(name) is not None]
    if not given:
        yield ("value",), FieldProblem("value", None, "is missing from a reading")
    if "value" in given and "values" in given:
        yield (
            ("values",),
            FieldProblem(
                "values",
                None,
                "stand beside value",
                remedy="Write one value, or the list of repeats, not both.",
            ),
        )
    for name, trouble in (("rows", "stand without a file"), ("sha256", "stands without a file")):
        if content.get(name) is not None and "file" not in given:
            yield (name,), FieldProblem(name, content[name], trouble)


def _catch(content: Mapping[str, Any]) -> Iterator[Fault]:
    amounts = content.get("amounts")
    ports = len(amounts) if isinstance(amounts, list) and amounts else None
    if ports and all(amount == "" for amount in amounts or ()):
        yield (
            ("amounts",),
            FieldProblem("amounts", None, "are all lost", remedy="Write a note instead, and catch again."),
        )
    yield from _durations(content, ports)
    for name in ("containers", "tare"):
        listed = content.get(name)
        if ports and isinstance(listed, list) and len(listed) != ports:
            yield (name,), _uneven(name, len(listed), ports)
    swaps = content.get("swaps")
    for count, swap in enumerate(swaps if isinstance(swaps, list) else ()):
        if isinstance(swap, str) and swap.strip():
            yield from _swap(("swaps", count), swap, ports)


def _durations(content: Mapping[str, Any], ports: int | None) -> Iterator[Fault]:
    one, several = content.get("duration"), content.get("durations")
    if one is None and several is None:
        yield (
            ("duration",),
            FieldProblem(
                "duration",
                None,
                "is missing from a catch",
                allowed='duration = "60 s" for all, or durations = [...] with one for each container',
            ),
        )
    if one is not None and several is not None:
        yield (
            ("durations",),
            FieldProblem("durations", None, "stand beside duration", remedy="Write one of the two."),
        )
    if ports and isinstance(several, list) and several and len(several) != ports:
        yield ("durations",), _uneven("durations", len(several), ports)


def _uneven(name: str, count: int, ports: int) -> FieldProblem:
    return FieldProblem(
        name, None, f"holds {count} for {ports} amounts", allowed=f"{ports}, one for each port"
    )


def _swap(path: Path, text: str, ports: int | None) -> Iterator[Fault]:
    allowed = '"line 3 with 5" or "injector 2 with 4"'
    read = read_swap(text)
    if read is None:
        yield path, FieldProblem(field_at(path), text, "is no swap", allowed=allowed)
        return
    kind, first, second = read
    if first == second:
        yield path, FieldProblem(field_at(path), text, f"exchanges a {kind} with itself", allowed=allowed)
    for number in (first, second):
        if number < 1 or (ports is not None and number > ports):
            yield (
                path,
                FieldProblem(
                    field_at(path), text, f"names {kind} {number}", allowed=f"1 to {ports or 'the last'}"
                ),
            )


def _step(content: Mapping[str, Any]) -> Iterator[Fault]:
    if content.get("done") is False and content.get("reason") is None:
        yield (
            ("reason",),
            FieldProblem(
                "reason", None, "is missing from a step passed over", remedy="Say why it was not done."
            ),
        )


def _override(content: Mapping[str, Any]) -> Iterator[Fault]:
    given = [name for name in ("claim", "item") if content.get(name) is not None]
    if len(given) != 1:
        yield (
            (given[-1] if given else "claim",),
            FieldProblem(
                "claim",
                None,
                "and item stand together" if given else "is missing from an override",
                allowed="either claim or item",
            ),
        )


def _note(content: Mapping[str, Any]) -> Iterator[Fault]:
    if not any(content.get(name) is not None for name in ("text", "note", "photo")):
        yield ("text",), FieldProblem("text", None, "is missing from a note")


def _correction(content: Mapping[str, Any]) -> Iterator[Fault]:
    withdrawn, new = content.get("withdrawn"), content.get("new")
    if withdrawn is True and new is not None:
        yield (
            ("new",),
            FieldProblem(
                "new", None, "stands beside withdrawn", remedy="Withdraw the entry or mend it, not both."
            ),
        )
    if withdrawn is not True and new is None:
        yield (
            (),
            FieldProblem(
                "correction",
                None,
                "says nothing new",
                allowed="the whole new content, as new = { ... } or as own fields, or withdrawn = true",
            ),
        )


_TOGETHER: Final[Mapping[str, Callable[[Mapping[str, Any]], Iterator[Fault]]]] = {
    "reading": _reading,
    "catch": _catch,
    "step": _step,
    "override": _override,
    "note": _note,
    "correction": _correction,
}


def own_id(kind: str, content: Mapping[str, Any]) -> str | None:
    """The name of the instrument, step or caution an entry is about; ``None`` for other kinds."""
    found = content.get("id") if kind in OWN_ID else None
    return found if isinstance(found, str) else None
