"""Unit factors against NIST SP 811, appendix B.8 (from memory, not verified), and another library."""

import pint
import pytest
from achieved import Check

from evenpour.measure.unit_table import _ROWS, Unit
from evenpour.measure.units import from_unit, in_unit, parse

TOPIC = "Units"
FACTORS = Check(
    topic=TOPIC,
    source="NIST SP 811, appendix B.8 (from memory)",
    what="factor to SI",
    tolerance=5e-7,
    relative=True,
    because="half the last of seven printed digits",
)
LIBRARY = Check(
    topic=TOPIC,
    source="pint, a library of units",
    what="factor to SI",
    tolerance=1e-12,
    relative=True,
    because="both are defined exactly; doubles round",
)
COLUMNS = Check(
    topic=TOPIC,
    source="pint, a library of units",
    what="columns of mercury",
    tolerance=1e-4,
    relative=True,
    because="they differ by the density and the temperature that are agreed on",
)
TEMPERATURES = Check(
    topic=TOPIC,
    source="pint, a library of units",
    what="temperatures from °F, K",
    tolerance=1e-9,
    unit="K",
    because="both are defined exactly; doubles round",
)
SCALES = Check(
    topic=TOPIC,
    source="the pairs that everybody knows: -40 is -40, 32 °F is 0 °C, 212 °F is 100 °C",
    what="temperatures from °F to °C",
    tolerance=1e-6,
    unit="K",
    because="one of the pairs is rounded there",
)

SP_811 = [  # unit, dimension, SI value as printed (seven digits; exact ones in bold there)
    ("psi", "pressure", 6.894757e3),
    ("kg/cm2", "pressure", 9.80665e4),
    ("atm", "pressure", 1.01325e5),
    ("inHg", "pressure", 3.386389e3),
    ("mmHg", "pressure", 1.333224e2),
    ("inH2O", "pressure", 2.490889e2),
    ("mmH2O", "pressure", 9.80665),
    ("US fl oz", "volume", 2.957353e-5),
    ("imp fl oz", "volume", 2.841306e-5),
    ("US gal", "volume", 3.785412e-3),
    ("imp gal", "volume", 4.54609e-3),
    ("US pt", "volume", 4.731765e-4),
    ("US qt", "volume", 9.463529e-4),
    ("in3", "volume", 1.638706e-5),
    ("oz", "mass", 2.834952e-2),
    ("lb", "mass", 4.535924e-1),
    ("in", "length", 2.54e-2),
    ("thou", "length", 2.54e-5),
    ("ft", "length", 3.048e-1),
    ("deg", "angle", 1.0 / 360.0),
    ("cfm", "volume_flow", 4.719474e-4),
    ("lb/h", "mass_flow", 1.259979e-4),
    ("h", "time", 3.6e3),
    ("d", "time", 8.64e4),
]


@pytest.mark.parametrize(("unit", "dimension", "printed"), SP_811)
def test_a_factor_matches_the_printed_one(unit: str, dimension: str, printed: float) -> None:
    FACTORS.holds(from_unit(1.0, unit, dimension), printed)


PINT_NAMES = {
    "kg/cm2": "kgf/cm**2",
    "inHg": "inch_Hg",
    "mmHg": "mmHg",
    "inH2O": None,
    "mmH2O": None,
    "US fl oz": "fluid_ounce",
    "imp fl oz": "imperial_fluid_ounce",
    "US pt": "pint",
    "imp pt": "imperial_pint",
    "US qt": "quart",
    "US gal": "gallon",
    "imp gal": "imperial_gallon",
    "in3": "inch**3",
    "turn": None,
    "deg": None,
    "click": None,
    "degC": None,
    "degF": None,
    "mohm": "milliohm",
    "kohm": "kiloohm",
    "Mohm": "megaohm",
    "%": None,
    "ppm": None,
    "rpm": None,
    "1/s": None,
    "lambda": None,
    "AFR": None,
    "": None,
    "um": "micrometer",
    "l/min": "liter/minute",
    "ml/min": "milliliter/minute",
    "ml/s": "milliliter/second",
    "l/s": "liter/second",
    "l/h": "liter/hour",
    "m3/h": "meter**3/hour",
    "m3/s": "meter**3/second",
    "m3": "meter**3",
    "US fl oz/min": "fluid_ounce/minute",
    "imp fl oz/min": "imperial_fluid_ounce/minute",
    "US gal/h": "gallon/hour",
    "imp gal/h": "imperial_gallon/hour",
    "cfm": "foot**3/minute",
    "lb/h": "pound/hour",
    "g/s": "gram/second",
    "g/min": "gram/minute",
    "kg/h": "kilogram/hour",
    "kg/s": "kilogram/second",
    "A": "ampere",
    "V": "volt",
    "h": "hour",
    "d": "day",
    "min": "minute",
    "s": "second",
    "K": None,
    "lb": "pound",
    "oz": "ounce",
    "g": "gram",
    "l": "liter",
    "in": "inch",
    "bar": "bar",
    "mbar": "millibar",
}
BASE = {
    "pressure": "pascal",
    "volume": "meter**3",
    "mass": "kilogram",
    "time": "second",
    "resistance": "ohm",
    "voltage": "volt",
    "current": "ampere",
    "length": "meter",
    "volume_flow": "meter**3/second",
    "mass_flow": "kilogram/second",
}
COMPARED = [row for row, _ in _ROWS if row.dimension in BASE and PINT_NAMES.get(row.name, row.name)]


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize("row", COMPARED, ids=lambda row: f"{row.dimension} {row.name}")
def test_every_factor_agrees_with_another_library(registry: pint.UnitRegistry, row: Unit) -> None:
    theirs = registry.Quantity(1.0, PINT_NAMES.get(row.name) or row.name).to(BASE[row.dimension]).magnitude
    check = COLUMNS if row.name in ("inHg", "mmHg") else LIBRARY
    check.holds(row.factor, theirs)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(-40, -40), (0, 32), (18, 64.4), (37.7777778, 100), (100, 212)]
)
def test_temperatures_agree_with_another_library(
    registry: pint.UnitRegistry, celsius: float, fahrenheit: float
) -> None:
    ours = parse(f"{fahrenheit} degF", "temperature").value
    TEMPERATURES.holds(ours, registry.Quantity(fahrenheit, "degF").to("kelvin").magnitude)
    SCALES.holds(in_unit(ours, "degC"), celsius)
