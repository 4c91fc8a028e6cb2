"""Quantities as a screen or a printed line writes them, in the user's own units."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from evenpour.measure.unit_table import Unit, unit_named

#: What stands before a number that is read, whatever is typed. A hyphen between two numbers reads as "to".
MINUS = "−"

SYSTEMS: tuple[str, ...] = ("metric", "us", "imperial")

_METRIC = {
    "pressure": "bar",
    "volume": "ml",
    "mass": "g",
    "angle": "turn",
    "clicks": "click",
    "temperature": "degC",
    "temperature_step": "degC",
    "time": "s",
    "resistance": "ohm",
    "voltage": "V",
    "current": "A",
    "share": "%",
    "speed": "rpm",
    "lambda": "lambda",
    "afr": "AFR",
    "count": "",
    "length": "mm",
    "volume_flow": "l/min",
    "mass_flow": "g/s",
}
_ELSEWHERE = {
    "us": {
        "pressure": "psi",
        "volume": "US fl oz",
        "temperature": "degF",
        "temperature_step": "degF",
        "length": "in",
        "volume_flow": "US fl oz/min",
    },
    "imperial": {
        "pressure": "psi",
        "volume": "imp fl oz",
        "length": "in",
        "volume_flow": "imp fl oz/min",
    },
}
_TRIMMED = frozenset(
    {
        "%",
        "degC",
        "degF",
        "K",
        "s",
        "min",
        "h",
        "d",
        "deg",
        "click",
        "",
        "V",
        "A",
        "turn",
        "l",
        "m",
        "ft",
        "kohm",
        "Mohm",
    }
)
_NOT_METRIC = frozenset(
    {
        "psi",
        "inHg",
        "inH2O",
        "US fl oz",
        "imp fl oz",
        "US pt",
        "imp pt",
        "US qt",
        "US gal",
        "imp gal",
        "in3",
        "oz",
        "lb",
        "degF",
        "in",
        "thou",
        "ft",
        "US fl oz/min",
        "imp fl oz/min",
        "US gal/h",
        "imp gal/h",
        "cfm",
        "lb/h",
    }
)


def unit_for(
    dimension: str, system: str = "metric", prefer: str | None = None, value: float | None = None
) -> str:
    """The unit in which *system* writes a *dimension*.

    ``prefer`` is the unit a check or a sheet likes best; it stands where the system has no unit of its
    own for the kind. ``value`` (SI) lets long times be minutes and large lengths metres or feet.
    """
    if system not in SYSTEMS:
        raise KeyError(f"{system!r} is none of {', '.join(SYSTEMS)}")
    own = _ELSEWHERE.get(system, {})
    if dimension in own:
        unit = own[dimension]
    elif prefer and (system != "metric" or prefer not in _NOT_METRIC):
        unit = prefer
    else:
        unit = _METRIC[dimension]
    return _sized(unit, value) if value is not None and math.isfinite(value) else unit


def _sized(unit: str, value: float) -> str:
    size = abs(value)
    if unit == "s" and size >= 120.0:
        return "min" if size < 7200.0 else "h" if size < 172_800.0 else "d"
    if unit == "mm" and size >= 10.0:
        return "m"
    if unit == "in" and size >= 10.0:
        return "ft"
    if unit == "ohm" and size >= 10e3:
        return "kohm" if size < 1e6 else "Mohm"
    if unit == "l/min" and size < 1e-3 / 60.0:
        return "ml/min"
    if unit == "%" and 0.0 < size < 1e-4:
        return "ppm"
    return unit


def shown(
    value: float,
    dimension: str,
    system: str = "metric",
    *,
    u: float | None = None,
    k: float = 2.0,
    unit: str | None = None,
) -> str:
    """A value with its unit: ``4.83 ± 0.08 bar``.

    Args:
        value: SI. Infinite resistance is an open circuit.
        dimension: Its kind.
        system: "metric", "us" or "imperial"; decides the unit where *unit* does not.
        u: Standard uncertainty, SI; printed *k* times as wide, with two digits where the first is 1 or 2,
            else one.
        k: How many u stand behind the ±; see ``uncertainty.coverage``.
        unit: The unit to write it in.
    """
    if math.isinf(value):
        return "open circuit" if dimension == "resistance" else f"{MINUS if value < 0 else ''}infinite"
    if math.isnan(value):
        return "unknown"
    chosen = unit_named(unit_for(dimension, system, None, value) if unit is None else unit, dimension)
    number = (value - chosen.offset) / chosen.factor
    if u is None or not 0.0 < u < math.inf:
        return _worded(plain_number(number, chosen), chosen)
    expanded = k * u / chosen.factor
    decimals = _decimals_for(expanded)
    return _worded(f"{_fixed(number, decimals)} ± {_fixed(expanded, decimals)}", chosen)


def with_minus(number: str) -> str:
    """A formatted number with its true minus sign, and none before a nought."""
    if not number.startswith("-"):
        return number
    return f"{MINUS}{number[1:]}" if number.strip("-0.") else number[1:]


def plain_number(number: float, unit: Unit) -> str:
    """*number*, in *unit*, with the digits a workshop writes for it."""
    if unit.name == "turn":
        return _turns(number)
    size = abs(number)
    decimals = unit.decimals
    if unit.name in ("ml", "g", "ohm", "m", "ft") and size >= 100.0:
        decimals = 0
    elif unit.name == "ohm" and size < 10.0:
        decimals = 2
    elif unit.name in ("US fl oz", "imp fl oz") and size >= 10.0:
        decimals = 1
    text = _fixed(number, decimals)
    return text.rstrip("0").rstrip(".") if unit.name in _TRIMMED and "." in text else text


def range_shown(
    low: float | None, high: float | None, dimension: str, system: str = "metric", unit: str | None = None
) -> str:
    """``4.70 to 5.20 bar``, ``at least 1.80 bar``, ``at most 15 %``."""
    if low is None and high is None:
        return "no limit"
    if low is None or high is None:
        one = high if low is None else low
        assert one is not None
        return f"{'at most' if low is None else 'at least'} {shown(one, dimension, system, unit=unit)}"
    name = unit_for(dimension, system, None, max(abs(low), abs(high))) if unit is None else unit
    chosen = unit_named(name, dimension)
    numbers = [plain_number((side - chosen.offset) / chosen.factor, chosen) for side in (low, high)]
    return _worded(" to ".join(_as_fine(numbers)), chosen)


def _as_fine(numbers: Sequence[str]) -> list[str]:
    """All with as many decimals as the finest of them has; nought needs none."""
    decimals = max(len(one.partition(".")[2]) for one in numbers)
    if not decimals or any("/" in one for one in numbers):  # parts of a turn
        return list(numbers)
    return [one if one == "0" else _padded(one, decimals) for one in numbers]


def _padded(number: str, decimals: int) -> str:
    whole, _, part = number.partition(".")
    return f"{whole}.{part:0<{decimals}}"


def span_words(
    low: float | None,
    high: float | None,
    dimension: str,
    system: str = "metric",
    low_open: bool = False,
    high_open: bool = False,
    unit: str | None = None,
) -> str:
    """``from 10 to 20 min``, ``below 30 °C``, ``from 11.5 V``."""
    if low is not None and high is not None:
        return f"from {range_shown(low, high, dimension, system, unit)}"
    if low is not None:
        side = shown(low, dimension, system, unit=unit)
        return f"above {side}" if low_open else f"from {side} up"
    if high is not None:
        return f"{'below' if high_open else 'up to'} {shown(high, dimension, system, unit=unit)}"
    return "at any value"


def _worded(number: str, unit: Unit) -> str:
    if unit.name == "lambda":
        return f"lambda {number}"
    if unit.name == "deg":
        return f"{number}°"
    if unit.name == "click" and number in ("1", f"{MINUS}1"):
        return f"{number} click"
    return f"{number} {unit.label}".rstrip()


def _fixed(number: float, decimals: int) -> str:
    """Rounded to *decimals* (negative: tens, hundreds), and never ``−0``."""
    return with_minus(f"{round(number, decimals):.{max(0, decimals)}f}")


def _decimals_for(expanded: float) -> int:
    """Decimals so that *expanded* shows two digits if its first is 1 or 2, else one."""
    rounded = float(f"{expanded:.1e}")
    place = math.floor(math.log10(rounded))
    first_two = round(rounded / 10.0 ** (place - 1))
    if first_two >= 95:  # 0.095 and more is written 0.10
        return -place
    return 1 - place if first_two < 30 else -place


def _turns(number: float) -> str:
    """Turns as a screw is turned: sixteenths as fractions, the rest as a decimal."""
    fraction = Fraction(round(number * 16.0), 16)
    if abs(number - float(fraction)) > 5e-4:
        text = _fixed(number, 3).rstrip("0").rstrip(".")
        return "0" if text in ("", MINUS) else text
    whole, rest = divmod(abs(fraction), 1)
    sign = MINUS if fraction < 0 else ""
    parts = ([str(whole)] if whole or not rest else []) + ([str(rest)] if rest else [])
    return sign + " ".join(parts)
