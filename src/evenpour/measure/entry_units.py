"""The units that a form offers for a quantity: the user's own first, then those that gauges are marked in."""

from __future__ import annotations

from collections.abc import Iterable

from evenpour.measure.showing import unit_for
from evenpour.measure.unit_table import unit_named

_OFFERED: dict[str, tuple[str, ...]] = {
    "pressure": ("bar", "mbar", "kPa", "psi", "kg/cm2", "inHg"),
    "volume": ("ml", "l", "US fl oz", "imp fl oz"),
    "mass": ("g", "kg", "oz"),
    "angle": ("turn", "deg"),
    "temperature": ("degC", "degF"),
    "temperature_step": ("degC", "degF"),
    "time": ("s", "min", "h", "d"),
    "resistance": ("ohm", "kohm", "Mohm"),
    "voltage": ("V", "mV"),
    "current": ("A", "mA"),
    "share": ("%", "ppm"),
    "length": ("mm", "cm", "m", "in", "thou", "ft"),
    "volume_flow": ("ml/min", "l/min", "US fl oz/min", "imp fl oz/min"),
    "mass_flow": ("g/s", "kg/h", "lb/h"),
}


def offered_units(
    dimensions: Iterable[str], system: str = "metric", prefer: str | None = None
) -> tuple[str, ...]:
    """The names of the units to choose from; the first is the one to offer already chosen.

    Args:
        dimensions: The kinds a check or a condition takes.
        system: "metric", "us" or "imperial".
        prefer: The unit a check likes best.
    """
    kinds = list(dimensions)
    if not kinds:
        return ()
    first = unit_for(kinds[0], system, prefer)
    others = [unit for kind in kinds for unit in _OFFERED.get(kind, (unit_for(kind, system),))]
    return tuple(dict.fromkeys((first, *others)))


def unit_labels(units: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Each unit's name and how a screen writes it; a plain number has neither."""
    return tuple((name, unit_named(name).label) for name in units)
