"""The unit that a column's head names, in whatever language the rest of it is."""

from __future__ import annotations

import re
from typing import NamedTuple

from evenpour.measure.unit_table import Unit, units_named

_BRACKETS = re.compile(r"[\[({<]([^\[\](){}<>]+)[\])}>]")
_REFERENCE = re.compile(r"^(.*?)[\s_(]*(absolute|abs|gauge|gage|rel|a|g)\.?\)?$", re.IGNORECASE)
_NEVER_BARE = frozenset({"in", "min", "deg", "to"})  # as words of a head they mean something else
_OF_A_TIME = frozenset({"s", "min", "h"})
_SAYS_IT_ALL = ("lambda", "λ", "afr", "rpm", "°c", "°f", "%")  # the same in all languages; units, not words


class NamedUnit(NamedTuple):
    """A unit as it stands in a head."""

    text: str
    unit: Unit
    absolute: bool


def unit_in(head: str, row: str = "") -> NamedUnit | None:
    """The unit of a column.

    Args:
        head: Its head: "Pressure [bar]", "p/bar", "Druck in bar", "RPM".
        row: What the row of units says of it.
    Returns:
        ``None`` where no unit stands there, or one that is not known.
    """
    if row:
        return _known(row)
    for inside in reversed(_BRACKETS.findall(head)):
        if (found := _known(inside)) is not None:
            return found
    rest = _BRACKETS.sub(" ", head).strip()
    if len(rest) > 1 and rest.lower() not in _NEVER_BARE and (found := _known(rest)) is not None:
        return found
    words = [word for word in re.split(r"[\s_]+", rest) if word]
    if len(words) > 1 and "/" in words[-1].strip("/") and (found := _known(words[-1])) is not None:
        return found  # "air g/s" is no "air g" over seconds
    for cut in (r"\s*/\s*", r"\s+(?:in|en)\s+"):
        parts = re.split(cut, rest, maxsplit=1)
        if len(parts) == 2 and parts[0] and (found := _known(parts[1])) is not None:
            return found
    for word in words:
        if word.lower() in _SAYS_IT_ALL and (found := _known(word)) is not None:
            return found
    if words and len(words[-1]) > 1 and words[-1].lower() not in _NEVER_BARE:
        return _known(words[-1])
    return None


def time_unit_at_the_end(head: str) -> NamedUnit | None:
    """The unit of a head such as ``s`` or ``time_min``: so short a word says it only of what climbs."""
    words = re.split(r"[\s_]+", head.strip())
    if words[-1].lower() in _OF_A_TIME:
        return NamedUnit(words[-1], units_named(words[-1].lower())[0], absolute=False)
    return None


def _known(text: str) -> NamedUnit | None:
    text = text.strip()
    if units := units_named(text):
        return NamedUnit(text, units[0], absolute=False)
    if (split := _REFERENCE.match(text)) and (units := units_named(split[1])):
        pressures = [unit for unit in units if unit.dimension == "pressure"]
        if pressures:
            return NamedUnit(text, pressures[0], absolute=split[2].lower().startswith("a"))
    return None
