"""What a sheet may state: the table of its values and devices, made from data.

The reader of sheets, their schema and their texts all follow this one table.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from evenpour.errors import FieldProblem, OutOfRange, unknown
from evenpour.measure.plain import flag_of, only, text_of, texts_of
from evenpour.measure.units import DIMENSIONS, parse, parse_rate

FORMAT = "evenpour-sheet/1"
PLAIN_KINDS = ("number", "whole", "text", "order", "density", "choice", "choices")

Value = float | int | str | tuple[int, ...] | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ValueKind:
    """One value a sheet may state.

    Attributes:
        takes: A dimension, or one of :data:`PLAIN_KINDS`.
        range: Hard ends in SI; outside is impossible. ``None`` where there are none.
        range_text: The ends as the data state them.
        only: The device it belongs to; ``None`` for every engine.
    """

    id: str
    title: str
    takes: str
    choices: tuple[str, ...]
    range: tuple[float, float] | None
    range_text: str
    required: bool
    only: str | None

    @property
    def dimension(self) -> str | None:
        """The kind of quantity; ``None`` for numbers, words and lists."""
        return self.takes if self.takes in DIMENSIONS else None


@dataclass(frozen=True, slots=True)
class DeviceKind:
    """A device that some engines have; *checks* make sense only where it is fitted."""

    id: str
    title: str
    checks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetForm:
    """All values and devices a sheet may name."""

    values: Mapping[str, ValueKind]
    devices: Mapping[str, DeviceKind]

    def device_of(self, check: str) -> DeviceKind | None:
        """The device without which *check* makes no sense."""
        return next((device for device in self.devices.values() if check in device.checks), None)


_Named = TypeVar("_Named", ValueKind, DeviceKind)


def sheet_form(plain: Mapping[str, Any]) -> SheetForm:
    """The form from its data, ``sheet_values.toml``.

    Raises:
        FieldProblem: the data themselves are wrong.
    """
    only(plain, ("device", "value"), "the table of sheet values")
    devices = _by_id(_device(table) for table in plain["device"])
    values = _by_id(_value_kind(table) for table in plain["value"])
    for value in values.values():
        if value.only is not None and value.only not in devices:
            raise unknown("only", value.only, devices, kind="device")
    return SheetForm(values, devices)


def read_value(kind: ValueKind, stated: object) -> Value:
    """One value of a sheet, as stated under ``is``.

    Returns:
        SI for quantities (a density in kg/m³), an int, a word, or a tuple.
    Raises:
        FieldProblem: wrong unit, no such word, or outside what is possible.
    """
    if kind.takes in ("choice", "choices"):
        words = _words(kind, stated)
        return words if kind.takes == "choices" else words[0]
    if kind.takes == "order":
        return _order(kind, stated)
    if kind.takes == "text":
        if not isinstance(stated, str) or not stated.strip():
            raise FieldProblem(kind.id, stated, "is no text")
        return stated
    number = _number(kind, stated)
    if kind.range is not None and not kind.range[0] <= number <= kind.range[1]:
        raise OutOfRange(kind.id, stated, "is not possible", allowed=kind.range_text)
    return int(number) if kind.takes == "whole" else number


def _number(kind: ValueKind, stated: object) -> float:
    if kind.takes in ("number", "whole"):
        if isinstance(stated, bool) or not isinstance(stated, int | float) or not math.isfinite(stated):
            raise FieldProblem(kind.id, stated, "is no number", remedy=f"Write {kind.id} = {{ is = 6, ... }}")
        if kind.takes == "whole" and stated != int(stated):
            raise FieldProblem(kind.id, stated, "is no whole number")
        return float(stated)
    if kind.takes == "density":
        return parse_rate(stated, "mass", "volume", field=kind.id)
    return parse(stated, kind.takes, field=kind.id).value


def _words(kind: ValueKind, stated: object) -> tuple[str, ...]:
    if isinstance(stated, bool):
        raise FieldProblem(
            kind.id,
            stated,
            "is no word",
            allowed=", ".join(kind.choices),
            remedy='Write "yes" or "no" in quotes',
        )
    several = kind.takes == "choices"
    listed: Sequence[object] = stated if several and isinstance(stated, list) else [stated]
    if not listed:
        raise FieldProblem(kind.id, stated, "is empty", allowed=", ".join(kind.choices))
    for word in listed:
        if not isinstance(word, str):
            raise FieldProblem(kind.id, word, "is no word", allowed=", ".join(kind.choices))
        if word not in kind.choices:
            raise unknown(kind.id, word, kind.choices, kind="word for this")
    return tuple(str(word) for word in listed)


def _order(kind: ValueKind, stated: object) -> tuple[int, ...]:
    whole = isinstance(stated, list) and all(
        isinstance(one, int) and not isinstance(one, bool) for one in stated
    )
    if not whole or not isinstance(stated, list) or not stated:
        raise FieldProblem(kind.id, stated, "is no list of cylinders", allowed="like [1, 3, 4, 2]")
    return tuple(stated)


def _device(table: Mapping[str, Any]) -> DeviceKind:
    only(table, ("id", "title", "checks"), "a device")
    return DeviceKind(text_of(table, "id"), text_of(table, "title"), texts_of(table, "checks"))


def _value_kind(table: Mapping[str, Any]) -> ValueKind:
    names = ("id", "title", "takes", "choices", "several", "range", "required", "only")
    only(table, names, "a sheet's value")
    choices = texts_of(table, "choices")
    several = flag_of(table, "several", False)
    takes = ("choices" if several else "choice") if choices else text_of(table, "takes")
    if takes not in DIMENSIONS and takes not in PLAIN_KINDS:
        raise unknown("takes", takes, [*DIMENSIONS, *PLAIN_KINDS], kind="kind of value")
    ends = texts_of(table, "range")
    bare = ValueKind(
        id=text_of(table, "id"),
        title=text_of(table, "title"),
        takes=takes,
        choices=choices,
        range=None,
        range_text=" to ".join(ends),
        required=flag_of(table, "required", False),
        only=text_of(table, "only", "") or None,
    )
    return _with_range(bare, ends) if ends else bare


def _with_range(kind: ValueKind, ends: Sequence[str]) -> ValueKind:
    plain = kind.takes in ("number", "whole")
    low, high = (_number(kind, float(end) if plain else end) for end in ends)
    if not low < high:
        raise FieldProblem("range", list(ends), "does not run upwards")
    return ValueKind(
        kind.id, kind.title, kind.takes, kind.choices, (low, high), kind.range_text, kind.required, kind.only
    )


def _by_id(rows: Iterable[_Named]) -> dict[str, _Named]:
    found: dict[str, _Named] = {}
    for row in rows:
        if row.id in found:
            raise FieldProblem("id", row.id, "stands twice")
        found[row.id] = row
    return found
