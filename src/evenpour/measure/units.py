"""The one door to units: read a quantity, convert it, write it.

``parse`` and ``parse_rate`` (typed text to SI) live in ``quantities``, ``shown`` (SI to text) in
``showing``, the table of units in ``unit_table``.
"""

from __future__ import annotations

from evenpour.measure.quantities import Quantity, parse, parse_rate
from evenpour.measure.showing import SYSTEMS, range_shown, shown, unit_for, with_minus
from evenpour.measure.unit_table import DIMENSIONS, allowed_units, kind_words, unit_named

__all__ = [
    "DIMENSIONS",
    "SYSTEMS",
    "Quantity",
    "allowed_units",
    "from_unit",
    "in_unit",
    "kind_words",
    "label",
    "parse",
    "parse_rate",
    "range_shown",
    "shown",
    "unit_for",
    "with_minus",
]


def in_unit(value: float, unit: str, dimension: str | None = None) -> float:
    """*value* (SI) as a number of *unit*; ``dimension`` tells a temperature from a difference of two."""
    chosen = unit_named(unit, dimension)
    return (value - chosen.offset) / chosen.factor


def from_unit(value: float, unit: str, dimension: str | None = None) -> float:
    """A number of *unit* as SI."""
    chosen = unit_named(unit, dimension)
    return value * chosen.factor + chosen.offset


def label(unit: str) -> str:
    """How a screen writes the unit: ``°C``, ``ml``, ``US fl oz``."""
    return unit_named(unit).label
