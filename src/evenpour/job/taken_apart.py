"""A quantity as it was typed, taken apart again for a form with figure, unit and direction side by side."""

from __future__ import annotations

import re
from dataclasses import dataclass

from evenpour.errors import FieldProblem
from evenpour.measure.quantities import parse
from evenpour.measure.unit_table import units_named

_FIGURE = re.compile(r"(?P<sign>[-−])?(?P<figure>\d+(?:[.,]\d+)?)\s*(?P<unit>.*)", re.ASCII | re.DOTALL)
_SIXTEENTHS = (
    "", "1/16", "1/8", "3/16", "1/4", "5/16", "3/8", "7/16",
    "1/2", "9/16", "5/8", "11/16", "3/4", "13/16", "7/8", "15/16",
)  # fmt: skip
_CLOSE = 1e-9  # turn, within which a move is one of whole sixteenths


@dataclass(frozen=True, slots=True)
class Apart:
    """A plain figure without its sign, and the name of its unit; ``unit`` is empty where none stood."""

    figure: str
    unit: str
    below_nought: bool


@dataclass(frozen=True, slots=True)
class TurnsApart:
    """Whole turns and the part of one, each empty where there is none, and the direction."""

    whole: str
    part: str
    clockwise: bool


def taken_apart(text: str) -> Apart | None:
    """``4.9`` and ``bar`` of ``4.9 bar``; None for what is no plain figure with a unit."""
    found = _FIGURE.fullmatch(text.strip())
    if found is None:
        return None
    unit = found["unit"].strip()
    named = units_named(unit) if unit else ()
    if unit and not named:
        return None
    return Apart(found["figure"], named[0].name if named else "", bool(found["sign"]))


def turned_words(text: str) -> str:
    """``1/8 turn anticlockwise`` of ``-1/8 turn``: as it was typed, with the direction for the sign."""
    size = text.strip().lstrip("+-−–").strip()
    if not any(sign.isnumeric() and sign != "0" for sign in size):  # put to a mark, and not turned
        return size
    return f"{size} {'anticlockwise' if text.strip().startswith(('-', '−', '–')) else 'clockwise'}"


def turns_apart(text: str) -> TurnsApart | None:
    """``1`` and ``3/16`` of ``-1 3/16 turn``; what lies between sixteenths is a figure; None for no turns."""
    try:
        value = parse(text, "angle").value
    except FieldProblem:
        return None
    size, clockwise = abs(value), value >= 0.0
    whole, sixteenths = divmod(round(16.0 * size), 16)
    if abs(size - whole - sixteenths / 16.0) > _CLOSE:
        return TurnsApart(f"{size:g}", "", clockwise)
    part = _SIXTEENTHS[sixteenths] if whole or sixteenths else "0"
    return TurnsApart(str(whole) if whole else "", part, clockwise)
