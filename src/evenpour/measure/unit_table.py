"""Every unit the tool knows: its names, its kind, its size in SI, and how it is written on a screen.

The base of each kind is SI (Pa, m³, kg, K, s, ohm, V, A, m, m³/s, kg/s, 1/s; shares as fractions). One
exception: the base of ``angle`` is the turn, because screws are counted in turns.

Sources: exact factors (inch 25.4 mm, pound 0.453 592 37 kg, US gallon 231 in³, imperial gallon 4.546 09 l,
standard gravity 9.806 65 m/s², conventional mercury and water columns) as in NIST SP 811, appendix B;
from memory, and tested against an independent unit library.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

INCH = 0.0254  # m, exact
POUND = 0.453_592_37  # kg, exact
GRAVITY = 9.806_65  # m/s², exact by convention
US_GALLON = 231.0 * INCH**3  # m³, exact
IMPERIAL_GALLON = 4.546_09e-3  # m³, exact
PSI = POUND * GRAVITY / INCH**2  # Pa
MERCURY_INCH = 3386.389  # Pa, conventional mercury at 0 °C (SP 811, seven digits)
WATER_INCH = 249.08891  # Pa, conventional water, 1000 kg/m³
ICE_POINT = 273.15  # K


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit. ``SI = number * factor + offset``."""

    name: str  # can be typed; kept with a quantity
    dimension: str
    factor: float
    label: str  # how a screen writes it
    decimals: int  # shown when no uncertainty is known
    offset: float = 0.0
    exact_case: bool = False  # "MPa" and "mPa" differ: no forgiving of capitals


_ROWS: list[tuple[Unit, tuple[str, ...]]] = []


def _unit(
    dimension: str,
    name: str,
    factor: float,
    decimals: int,
    *other_names: str,
    label: str | None = None,
    offset: float = 0.0,
    exact_case: bool = False,
) -> None:
    unit = Unit(name, dimension, factor, name if label is None else label, decimals, offset, exact_case)
    _ROWS.append((unit, (name, *other_names)))


_unit("pressure", "bar", 1e5, 2, "bars")
_unit("pressure", "mbar", 1e2, 0, "millibar")
_unit("pressure", "Pa", 1.0, 0, "pascal")
_unit("pressure", "hPa", 1e2, 0)
_unit("pressure", "kPa", 1e3, 0)
_unit("pressure", "MPa", 1e6, 3, exact_case=True)
_unit("pressure", "psi", PSI, 1, "lb/in2", "lbf/in2", "lb/sq in", "pounds")
_unit("pressure", "kg/cm2", GRAVITY * 1e4, 2, "kgf/cm2", "kp/cm2", label="kg/cm²")
_unit("pressure", "atm", 101_325.0, 3)
_unit("pressure", "inHg", MERCURY_INCH, 1, "in Hg", "inch Hg", '"Hg', label="inHg")
_unit("pressure", "mmHg", MERCURY_INCH / 25.4, 0, "mm Hg", "torr")
_unit("pressure", "inH2O", WATER_INCH, 1, "in H2O", "inch H2O")
_unit("pressure", "mmH2O", GRAVITY, 0, "mm H2O")

_unit(
    "volume",
    "ml",
    1e-6,
    1,
    "mls",
    "cc",
    "ccm",
    "cm3",
    "millilitre",
    "millilitres",
    "milliliter",
    "milliliters",
)
_unit("volume", "cl", 1e-5, 1)
_unit("volume", "dl", 1e-4, 2)
_unit("volume", "l", 1e-3, 2, "L", "litre", "litres", "liter", "liters")
_unit("volume", "m3", 1.0, 4, label="m³", exact_case=True)
_unit(
    "volume",
    "US fl oz",
    US_GALLON / 128.0,
    2,
    "fl oz",
    "floz",
    "fl ozs",
    "fluid oz",
    "fluid ounce",
    "fluid ounces",
    "US floz",
    "fl oz US",
    "US fluid ounce",
    "US fluid ounces",
)
_unit(
    "volume",
    "imp fl oz",
    IMPERIAL_GALLON / 160.0,
    2,
    "imp floz",
    "imperial fl oz",
    "UK fl oz",
    "fl oz imp",
    "fl oz imperial",
    "imperial fluid ounce",
    "imperial fluid ounces",
    "imp fluid ounces",
)
_unit("volume", "US pt", US_GALLON / 8.0, 2, "US pint", "US pints")
_unit("volume", "imp pt", IMPERIAL_GALLON / 8.0, 2, "imp pint", "imp pints", "imperial pint", "UK pint")
_unit("volume", "US qt", US_GALLON / 4.0, 2, "US quart", "US quarts")
_unit("volume", "US gal", US_GALLON, 2, "US gallon", "US gallons")
_unit(
    "volume",
    "imp gal",
    IMPERIAL_GALLON,
    2,
    "imp gallon",
    "imp gallons",
    "imperial gallon",
    "UK gal",
    "UK gallon",
)
_unit("volume", "in3", INCH**3, 1, "cu in", "cuin", "cubic inch", "cubic inches", label="in³")

_unit("mass", "g", 1e-3, 1, "gram", "grams", "gr", "gm")
_unit("mass", "mg", 1e-6, 0)
_unit("mass", "kg", 1.0, 3, "kilogram", "kilograms")
_unit("mass", "oz", POUND / 16.0, 2, "ounce", "ounces")
_unit("mass", "lb", POUND, 3, "lbs", "pound")

_unit("angle", "turn", 1.0, 3, "turns", "rev", "revs")
_unit(
    "angle",
    "deg",
    1.0 / 360.0,
    1,
    "degs",
    "degree",
    "degrees",
    "°",
    "deg BTDC",
    "degrees BTDC",
    "° BTDC",
    "°BTDC",
    label="°",
)

_unit("clicks", "click", 1.0, 0, "clicks", "detent", "detents", "notch", "notches", label="clicks")

for _kind, _ice, _zero_f in (
    ("temperature", ICE_POINT, ICE_POINT - 32.0 / 1.8),
    ("temperature_step", 0.0, 0.0),
):
    _unit(
        _kind,
        "degC",
        1.0,
        1,
        "C",
        "°C",
        "° C",
        "deg C",
        "celsius",
        "degrees C",
        "degree C",
        "degrees celsius",
        label="°C",
        offset=_ice,
    )
    _unit(
        _kind,
        "degF",
        1.0 / 1.8,
        0,
        "F",
        "°F",
        "° F",
        "deg F",
        "fahrenheit",
        "degrees F",
        "degree F",
        "degrees fahrenheit",
        label="°F",
        offset=_zero_f,
    )
    _unit(_kind, "K", 1.0, 1, "kelvin")

_unit("time", "s", 1.0, 1, "sec", "secs", "second", "seconds")
_unit("time", "ms", 1e-3, 1, exact_case=True)
_unit("time", "min", 60.0, 1, "mins", "minute", "minutes")
_unit("time", "h", 3600.0, 2, "hr", "hrs", "hour", "hours")
_unit("time", "d", 86_400.0, 1, "day", "days")

_unit("resistance", "ohm", 1.0, 1, "ohms", "Ω", "R", label="Ω")
_unit("resistance", "mohm", 1e-3, 0, "mΩ", "milliohm", "milliohms", label="mΩ", exact_case=True)
_unit("resistance", "kohm", 1e3, 2, "kohms", "kΩ", "kiloohm", label="kΩ")
_unit("resistance", "Mohm", 1e6, 2, "MΩ", "megohm", label="MΩ", exact_case=True)

_unit("voltage", "V", 1.0, 2, "volt", "volts")
_unit("voltage", "mV", 1e-3, 0, "millivolt", "millivolts", exact_case=True)
_unit("current", "A", 1.0, 2, "amp", "amps", "ampere", "amperes")
_unit("current", "mA", 1e-3, 0, "milliamp", "milliamps", exact_case=True)

_unit("share", "%", 1e-2, 2, "percent", "per cent", "pct", "vol%", "vol %", "% vol", "%vol")
_unit("share", "ppm", 1e-6, 0, "ppm vol", "ppmv")

_unit(
    "speed", "rpm", 1.0 / 60.0, 0,
    "r/min", "rev/min", "revs/min", "1/min", "/min", "U/min", "tr/min", "giri/min", "min-1", "min^-1",
)  # fmt: skip
_unit("speed", "1/s", 1.0, 1, "rev/s", "rps", "/s")

_unit("lambda", "lambda", 1.0, 3, "λ")
_unit("afr", "AFR", 1.0, 1, ":1", "to 1")
_unit("count", "", 1.0, 0)

_unit("length", "mm", 1e-3, 2, "millimetre", "millimetres", "millimeter", "millimeters")
_unit("length", "cm", 1e-2, 2)
_unit("length", "m", 1.0, 2, "metre", "metres", "meter", "meters", exact_case=True)
_unit("length", "um", 1e-6, 0, "micron", "microns", label="µm")
_unit("length", "in", INCH, 3, "inch", "inches", '"', "''", "″")
_unit("length", "thou", INCH / 1000.0, 1, "mil", "mils")
_unit("length", "ft", 12.0 * INCH, 1, "foot", "feet", "'")

_unit("volume_flow", "l/min", 1e-3 / 60.0, 2, "lpm", "litre/min", "liter/min")
_unit("volume_flow", "ml/min", 1e-6 / 60.0, 0, "cc/min", "ccm/min", "cm3/min")
_unit("volume_flow", "ml/s", 1e-6, 2, "cc/s", "cm3/s")
_unit("volume_flow", "l/s", 1e-3, 3)
_unit("volume_flow", "l/h", 1e-3 / 3600.0, 1, "lph")
_unit("volume_flow", "m3/h", 1.0 / 3600.0, 2, label="m³/h", exact_case=True)
_unit("volume_flow", "m3/s", 1.0, 5, label="m³/s", exact_case=True)
_unit("volume_flow", "US fl oz/min", US_GALLON / 128.0 / 60.0, 1, "fl oz/min", "floz/min")
_unit("volume_flow", "imp fl oz/min", IMPERIAL_GALLON / 160.0 / 60.0, 1, "imp floz/min")
_unit("volume_flow", "US gal/h", US_GALLON / 3600.0, 2, "US gph")
_unit("volume_flow", "imp gal/h", IMPERIAL_GALLON / 3600.0, 2, "imp gph")
_unit("volume_flow", "cfm", (12.0 * INCH) ** 3 / 60.0, 2, "ft3/min", "cu ft/min")

_unit("mass_flow", "g/s", 1e-3, 2)
_unit("mass_flow", "g/min", 1e-3 / 60.0, 1)
_unit("mass_flow", "kg/h", 1.0 / 3600.0, 2)
_unit("mass_flow", "kg/s", 1.0, 5)
_unit("mass_flow", "lb/h", POUND / 3600.0, 2)

DIMENSIONS: tuple[str, ...] = tuple(dict.fromkeys(unit.dimension for unit, _ in _ROWS))

WORDS: dict[str, str] = {  # dimension: how it is called in a sentence
    "temperature_step": "difference of temperature",
    "share": "share",
    "speed": "speed of rotation",
    "afr": "air-fuel ratio",
    "volume_flow": "flow by volume",
    "mass_flow": "flow by mass",
    "clicks": "number of clicks",
    "count": "plain number",
    "lambda": "lambda",
}

OFTEN: dict[str, str] = {  # dimension: the units a message offers
    "pressure": "bar, mbar, kPa, psi, kg/cm2, inHg",
    "volume": "ml, cc, l, fl oz (US), imp fl oz",
    "mass": "g, kg, oz",
    "angle": "turn, deg",
    "clicks": "clicks",
    "temperature": "degC, degF",
    "temperature_step": "degC, degF",
    "time": "s, min, h",
    "resistance": "ohm, kohm",
    "voltage": "V, mV",
    "current": "A, mA",
    "share": "%, ppm",
    "speed": "rpm",
    "lambda": "lambda (or the plain number)",
    "afr": "AFR",
    "count": "a plain number",
    "length": "mm, m, in, thou, ft",
    "volume_flow": "l/min, ml/min, cc/min, fl oz/min",
    "mass_flow": "g/s, g/min, kg/h",
}


def _folded(text: str) -> str:
    """One spelling for the many signs people's phones send: ², Ω, ℃, µ, full stops, double blanks."""
    plain = unicodedata.normalize("NFKC", text).replace("μ", "u").replace("º", "°").replace("˚", "°")
    return re.sub(r"\s*/\s*", "/", re.sub(r"\s+", " ", plain.replace(".", ""))).strip()


_EXACT: dict[str, list[Unit]] = {}
_ANY_CASE: dict[str, list[Unit]] = {}
for _row, _names in _ROWS:
    for _name in _names:
        _EXACT.setdefault(_folded(_name), []).append(_row)
        if not _row.exact_case:
            _ANY_CASE.setdefault(_folded(_name).lower(), []).append(_row)


@lru_cache(maxsize=512)
def units_named(text: str) -> Sequence[Unit]:
    """All units that *text* may name, exact spelling before forgiven capitals; empty if none does."""
    folded = _folded(text)
    return _EXACT.get(folded) or _ANY_CASE.get(folded.lower()) or ()


def unit_named(text: str, dimension: str | None = None) -> Unit:
    """The unit a program names (not a person: that is :func:`evenpour.measure.quantities.parse`).

    Raises:
        KeyError: no such unit of that dimension; a bug of ours.
    """
    for unit in units_named(text):
        if dimension is None or unit.dimension == dimension:
            return unit
    raise KeyError(f"{text!r} is no unit of {dimension or 'any kind'}")


def step_of(dimension: str) -> str:
    """The kind of a difference: two temperatures lie a temperature step apart, all else is its own kind."""
    return "temperature_step" if dimension == "temperature" else dimension


def allowed_units(dimensions: Iterable[str]) -> str:
    """The units a message offers for fields of these kinds."""
    return "; ".join(OFTEN[dimension] for dimension in dimensions)


def kind_words(dimensions: Iterable[str]) -> str:
    """``a pressure``, ``a volume or a mass``."""
    words = [WORDS.get(dimension, dimension) for dimension in dimensions]
    return " or ".join(f"{'an' if word[0] in 'aeiou' else 'a'} {word}" for word in words)
