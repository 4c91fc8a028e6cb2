"""A value that is possible but odd: questioned, with a guess at the slip that would explain it."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from evenpour.errors import Questioned
from evenpour.measure.checks import kept_value
from evenpour.measure.quantities import Quantity
from evenpour.measure.showing import range_shown, shown
from evenpour.measure.unit_table import Unit, unit_named

IF_SO = "If it is so, say sure = true in a file, --sure on the command line."


def question_odd(
    field: str,
    value: float,
    quantity: Quantity,
    dimension: str,
    sense: tuple[float, float] | None,
    dimensions: Sequence[str],
) -> None:
    """Raise :class:`Questioned` if *value* (SI, of *dimension*) lies outside *sense*; ``None`` lets all pass.

    A figure that has sense only by its comma (1,234 rpm) is questioned as well: it would be kept as 1.234.
    """
    if sense is None:
        return
    low, high = sense
    if low <= value <= high:
        _question_thousands(field, value, quantity, dimension, high)
        return
    guess = _slip(value, quantity, dimension, low, high, dimensions)
    unit = quantity.unit if quantity.dimension == dimension else None
    raise Questioned(
        field,
        quantity.text,
        "is odd",
        allowed=f"usually {range_shown(low, high, dimension, unit=unit)}",
        remedy=f"{guess} {IF_SO}".strip(),
    )


def _question_thousands(field: str, value: float, quantity: Quantity, dimension: str, high: float) -> None:
    """``1,234 rpm`` and ``1.200 ppm`` may carry a thousands mark; ``0,950`` and ``1.450 bar`` cannot."""
    if not re.match(r"[+\-−]?[1-9]\d{0,2}[.,]\d{3}(?!\d)", quantity.text) or quantity.dimension != dimension:
        return
    unit = unit_named(quantity.unit, dimension)
    number = (value - unit.offset) / unit.factor
    if abs(_decimal_value(number, 1000.0, unit)) <= high:
        raise Questioned(
            field,
            quantity.text,
            f"is read as {_plain(number)} {unit.label}",
            remedy=f"Was it {_plain(1000.0 * number)} {unit.label}? Write it without a mark. {IF_SO}",
        )


def _slip(
    value: float, quantity: Quantity, dimension: str, low: float, high: float, dimensions: Sequence[str]
) -> str:
    """A guess at what was meant: the first usual slip that gives a value in sense."""

    def sensible(candidate: float) -> bool:
        return low <= candidate <= high

    if quantity.dimension != dimension:
        return ""
    unit = unit_named(quantity.unit, dimension)
    number = (value - unit.offset) / unit.factor
    typed_for = _other_unit(number, unit, sensible)
    if unit.name == "bar" and sensible(_decimal_value(number, 0.1, unit)) and _two_digits(quantity.text):
        point = f"Was it {_plain(number * 0.1)} {unit.label}"  # 48 bar: 4.8 without its point, or 48 psi
        return f"{point}, or {typed_for.removeprefix('Was it ')}" if typed_for else f"{point}?"
    return (
        typed_for
        or _other_kind(number, dimension, dimensions, sensible)
        or _decimal_point(number, unit, sensible, quantity.text)
        or ""
    )


def _two_digits(text: str) -> bool:
    """Typed without a decimal mark, and not a round number of psi: 48, but not 70."""
    digits = text.split(" ")[0]
    return digits.isdigit() and not digits.endswith("0")


def _decimal_value(number: float, power: float, unit: Unit) -> float:
    return number * power * unit.factor + unit.offset


_TYPED_FOR = {  # typed unit: what the figure may have been read in, likeliest first
    "bar": ("psi", "kPa", "mbar", "kg/cm2"),
    "psi": ("bar", "kPa"),
    "kPa": ("bar", "psi", "mbar"),
    "mbar": ("bar", "kPa"),
    "degC": ("degF",),
    "degF": ("degC",),
    "l": ("ml",),
    "ml": ("l",),
    "m": ("mm",),
    "in": ("mm", "thou"),
    "mm": ("in", "thou"),
    "ohm": ("kohm",),
    "kohm": ("ohm",),
    "V": ("mV",),
    "mV": ("V",),
    "A": ("mA",),
    "mA": ("A",),
    "%": ("ppm",),
    "ppm": ("%",),
    "min": ("s",),
    "s": ("min",),
    "h": ("min",),
    "US fl oz": ("ml",),
    "imp fl oz": ("ml",),
    "turn": ("deg",),
    "deg": ("turn",),
}


def _other_unit(number: float, unit: Unit, sensible: Callable[[float], bool]) -> str | None:
    for name in _TYPED_FOR.get(unit.name, ()):
        meant = unit_named(name, unit.dimension)
        candidate = number * meant.factor + meant.offset
        if sensible(candidate) and not _shows_nothing(candidate, meant):
            return (
                f"Was it {_plain(number)} {meant.label} ({shown(candidate, unit.dimension, unit=unit.name)})?"
            )
    return None


def _shows_nothing(candidate: float, meant: Unit) -> bool:
    """40 ppm for 40 % of CO2 would be in sense, but nobody meant it: in per cent it shows as 0."""
    return meant.name == "ppm" and candidate < 1e-4


def _other_kind(
    number: float, dimension: str, dimensions: Sequence[str], sensible: Callable[[float], bool]
) -> str | None:
    """13.9 typed for lambda is an air-fuel ratio."""
    if dimension == "lambda" and "afr" in dimensions:
        candidate = kept_value(Quantity(number, "afr", "AFR", ""), "lambda")
        if sensible(candidate):
            return f"Was it {_plain(number)} AFR ({shown(candidate, 'lambda')})?"
    return None


def _decimal_point(number: float, unit: Unit, sensible: Callable[[float], bool], text: str) -> str | None:
    for power in (0.1, 10.0, 0.01, 100.0, 1000.0, 0.001):
        if sensible(_decimal_value(number, power, unit)):
            comma = ": comma and point are both the decimal mark" if power == 1000.0 and "," in text else ""
            return f"Was it {_plain(number * power)} {unit.label}{comma}?"
    if number < 0.0 and sensible(_decimal_value(number, -1.0, unit)):
        return f"Was it {_plain(-number)} {unit.label}, without the minus?"
    return None


def _plain(number: float) -> str:
    return f"{number:.6g}"
