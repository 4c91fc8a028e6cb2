"""Quantities as people type them, and as screens write them."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import FieldProblem, OutOfRange, WrongUnit
from evenpour.measure.showing import unit_for
from evenpour.measure.unit_table import _ROWS, Unit
from evenpour.measure.units import (
    DIMENSIONS,
    SYSTEMS,
    from_unit,
    in_unit,
    label,
    parse,
    parse_rate,
    range_shown,
    shown,
)

FL_OZ, IMP_FL_OZ, PSI = 29.5735295625e-6, 28.4130625e-6, 6894.757293168361


@pytest.mark.parametrize(
    ("text", "takes", "value"),
    [
        ("4.8 bar", "pressure", 4.8e5),
        ("4,8bar", "pressure", 4.8e5),
        (" 4.8  BAR ", "pressure", 4.8e5),
        ("70 psi", "pressure", 70 * PSI),
        ("480 kPa", "pressure", 4.8e5),
        ("850 mbar", "pressure", 0.85e5),
        ("5 kg/cm2", "pressure", 490332.5),
        ("5 kg/cm²", "pressure", 490332.5),
        ("-0.6 bar", "pressure", -0.6e5),
        ("37 cc", "volume", 37e-6),
        ("37 cm³", "volume", 37e-6),
        ("1.3 fl oz", "volume", 1.3 * FL_OZ),
        ("1.3 floz", "volume", 1.3 * FL_OZ),
        ("1.3 fl. oz.", "volume", 1.3 * FL_OZ),
        ("1.3 imp fl oz", "volume", 1.3 * IMP_FL_OZ),
        ("28.4 g", "mass", 28.4e-3),
        ("1 oz", "mass", 28.349523125e-3),
        ("1 lb 4 oz", "mass", 20 * 28.349523125e-3),
        ("1/4 turn", "angle", 0.25),
        ("1 1/4 turn", "angle", 1.25),
        ("1-1/4 turns", "angle", 1.25),
        ("½ turn", "angle", 0.5),
        ("1¼ turn", "angle", 1.25),
        ("1 ¾ turn", "angle", 1.75),
        ("-1/16 turn", "angle", -0.0625),
        ("+1/8 turn", "angle", 0.125),
        ("-90 deg", "angle", -0.25),
        ("\u221290 deg", "angle", -0.25),
        ("− 90°", "angle", -0.25),
        ("3 clicks", "clicks", 3.0),
        ("18C", "temperature", 291.15),
        ("18 °C", "temperature", 291.15),
        ("18 ℃", "temperature", 291.15),
        ("64 °F", "temperature", 290.9277777777778),
        ("291 K", "temperature", 291.0),
        ("-40 degF", "temperature", 233.15),
        ("9 degF", "temperature_step", 5.0),
        ("2 min 30 s", "time", 150.0),
        ("10min", "time", 600.0),
        ("2min30s", "time", 150.0),
        ("1h30min", "time", 5400.0),
        ("5 deg BTDC", "angle", 5 / 360),
        ("900 1/min", "speed", 15.0),
        ("21 ohm", "resistance", 21.0),
        ("21 Ω", "resistance", 21.0),
        ("21 \u2126", "resistance", 21.0),
        ("4.7 kohm", "resistance", 4700.0),
        ("1 Mohm", "resistance", 1e6),
        ("12.4 V", "voltage", 12.4),
        ("7,5 A", "current", 7.5),
        ("1,5 %", "share", 0.015),
        ("120 ppm", "share", 120e-6),
        ("900 rpm", "speed", 15.0),
        ("lambda 0.95", "lambda", 0.95),
        ("λ = 0,95", "lambda", 0.95),
        ("0.95 lambda", "lambda", 0.95),
        ("0.95", "lambda", 0.95),
        ("14.7 AFR", "afr", 14.7),
        ("AFR 14.7", "afr", 14.7),
        ("6", "count", 6.0),
        ("0,05 mm", "length", 0.05e-3),
        ("1/16 in", "length", 1.5875e-3),
        ('0.035"', "length", 0.889e-3),
        ("1.5 l/min", "volume_flow", 25e-6),
        ("200 cc/min", "volume_flow", 200e-6 / 60),
        ("5 g/s", "mass_flow", 5e-3),
        ("1e5 Pa", "pressure", 1e5),
        (".5 bar", "pressure", 0.5e5),
    ],
)
def test_a_quantity_is_read_as_it_is_typed(text: str, takes: str, value: float) -> None:
    assert parse(text, takes).value == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("text", ["1,234.5 rpm", "1.234,5 rpm", "1 234 rpm", "1'234 rpm", "1,234,567 rpm"])
def test_a_thousands_mark_is_refused_and_never_swallowed(text: str) -> None:
    with pytest.raises(FieldProblem, match=r"both the decimal mark; write 1234\.5"):
        parse(text, "speed")


@pytest.mark.parametrize(
    ("text", "takes", "words"),
    [
        ("4.8", "pressure", "has no unit. Allowed: bar, mbar, kPa, psi"),
        (4.8, "pressure", "has no unit"),
        ("4.8 ml", "pressure", "is a volume, not a pressure"),
        ("18 deg", "temperature", "For a temperature say degC or degF"),
        ("18 degC", "angle", "For an angle say deg"),
        ("3 oz", "volume", r"say fl oz \(US\) or imp fl oz"),
        ("2 gal", "volume", "Say US or imp"),
        ("10 m", "time", "for minutes say min"),
        ("5 mPa", "pressure", "unknown unit 'mPa'"),
        ("5 frobs", "pressure", "unknown unit 'frobs'"),
        ("2:30 min", "time", "unknown unit"),
    ],
)
def test_a_missing_or_wrong_unit_says_what_is_allowed(text: object, takes: str, words: str) -> None:
    with pytest.raises(WrongUnit, match=words):
        parse(text, takes, field="reading")


@pytest.mark.parametrize(
    ("text", "takes"),
    [
        ("nan bar", "pressure"),
        ("NaN", "lambda"),
        ("inf bar", "pressure"),
        ("-Infinity V", "voltage"),
        ("1e999 bar", "pressure"),
        ("-3 ml", "volume"),
        ("-1 ohm", "resistance"),
        ("-274 degC", "temperature"),
        ("-460 degF", "temperature"),
        ("-2 bar", "pressure"),
        ("-0.1 bar abs", "pressure"),
        ("18 ± 0 degC", "temperature"),
    ],
)
def test_what_cannot_be_is_out_of_range(text: str, takes: str) -> None:
    with pytest.raises(OutOfRange):
        parse(text, takes)


@pytest.mark.parametrize("text", ["", "bar", "four bar", "1/0 turn", None, True, ["4.8 bar"], "30 s 2 min"])
def test_what_cannot_be_read_is_a_problem_of_the_field(text: object) -> None:
    with pytest.raises(FieldProblem, match=r"^opening"):
        parse(text, ("pressure", "angle", "time"), field="opening")


@pytest.mark.parametrize("text", ["5/6 bar", "4 5/6 bar"])
def test_two_readings_with_a_stroke_between_are_no_fraction(text: str) -> None:
    with pytest.raises(FieldProblem, match="is written as a fraction"):
        parse(text, "pressure")
    assert parse("1/2 l", "volume").value == pytest.approx(0.5e-3)


@pytest.mark.parametrize(
    ("text", "reference"),
    [
        ("4.8 bar", None),
        ("4.8 bar abs", "absolute"),
        ("4.8 bar(a)", "absolute"),
        ("4.8 bar absolute", "absolute"),
        ("4.8 bara", "absolute"),
        ("4.8 barg", "gauge"),
        ("4.8 bar gauge", "gauge"),
        ("70 psig", "gauge"),
        ("70 psia", "absolute"),
        ("100 kPa abs", "absolute"),
    ],
)
def test_gauge_and_absolute_are_kept_beside_the_unit(text: str, reference: str | None) -> None:
    quantity = parse(text, "pressure")
    assert quantity.reference == reference
    assert quantity.unit in ("bar", "psi", "kPa")


@pytest.mark.parametrize(
    ("text", "takes", "value", "half_width"),
    [
        ("18 ± 1 degC", "temperature", 291.15, 1.0),
        ("18 +- 1 degC", "temperature", 291.15, 1.0),
        ("18 degC +/- 1", "temperature", 291.15, 1.0),
        ("18 °C ± 1,8 °F", "temperature", 291.15, 1.0),
        ("64.4 ± 1.8 degF", "temperature", 291.15, 1.0),
        ("4.8 ± 0.1 bar", "pressure", 4.8e5, 0.1e5),
        ("850 ml ± 2 %", "volume", 850e-6, 17e-6),
        ("15 ± 2 %", "share", 0.15, 0.02),
        ("0.95 ± 0.01", "lambda", 0.95, 0.01),
    ],
)
def test_a_stated_half_width_is_kept(text: str, takes: str, value: float, half_width: float) -> None:
    quantity = parse(text, takes)
    assert quantity.value == pytest.approx(value, rel=1e-12)
    assert quantity.half_width == pytest.approx(half_width, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "over", "under", "rate"),
    [
        ("0.05 bar/degC", "pressure", "temperature", 5000.0),
        ("0,05 bar / °C", "pressure", "temperature", 5000.0),
        ("0.4 psi/degF", "pressure", "temperature", 0.4 * PSI * 1.8),
        ("10 %/V", "share", "voltage", 0.1),
        ("10 % per V", "share", "voltage", 0.1),
        ("10 per cent per V", "share", "voltage", 0.1),
        ("-0.02 bar/min", "pressure", "time", -2000.0 / 60.0),
        ("1 l/min/V", "volume_flow", "voltage", 1e-3 / 60.0),
        ("0.5 kg/cm2/min", "pressure", "time", 49033.25 / 60.0),
    ],
)
def test_a_rate_is_read_in_si(text: str, over: str, under: str, rate: float) -> None:
    assert parse_rate(text, over, under) == pytest.approx(rate, rel=1e-12)


@pytest.mark.parametrize("text", ["0.05 bar", "0.05 bar/V", "0.05 ml/degC", "bar/degC", ""])
def test_a_rate_of_another_kind_is_refused(text: str) -> None:
    with pytest.raises(FieldProblem):
        parse_rate(text, "pressure", "temperature", field="slope")


@pytest.mark.parametrize(
    ("value", "dimension", "system", "u", "text"),
    [
        (4.83e5, "pressure", "metric", 0.04e5, "4.83 ± 0.08 bar"),
        (4.83e5, "pressure", "metric", 0.0498e5, "4.83 ± 0.10 bar"),
        (4.83e5, "pressure", "metric", 0.0062e5, "4.830 ± 0.012 bar"),
        (4.83e5, "pressure", "us", 0.04e5, "70.1 ± 1.2 psi"),
        (4.83e5, "pressure", "imperial", None, "70.1 psi"),
        (4.83e5, "pressure", "metric", None, "4.83 bar"),
        (8.24e-6, "volume", "metric", None, "8.2 ml"),
        (850e-6, "volume", "metric", None, "850 ml"),
        (850e-6, "volume", "us", None, "28.7 US fl oz"),
        (850e-6, "volume", "imperial", None, "29.9 imp fl oz"),
        (291.15, "temperature", "metric", None, "18 °C"),
        (291.15, "temperature", "us", None, "64 °F"),
        (291.15, "temperature", "imperial", None, "18 °C"),
        (291.15, "temperature", "metric", 0.5, "18.0 ± 1.0 °C"),
        (3e-3, "length", "metric", None, "3.00 mm"),
        (3e-3, "length", "us", None, "0.118 in"),
        (0.25, "angle", "metric", None, "1/4 turn"),
        (-1.0625, "angle", "metric", None, "−1 1/16 turn"),
        (2.0, "angle", "metric", None, "2 turn"),
        (0.3, "angle", "metric", None, "0.3 turn"),
        (0.15, "share", "metric", None, "15 %"),
        (0.015, "share", "metric", 0.002, "1.5 ± 0.4 %"),
        (15.0, "speed", "metric", None, "900 rpm"),
        (15.0, "speed", "metric", 0.2, "900 ± 24 rpm"),
        (0.9551, "lambda", "metric", 0.006, "lambda 0.955 ± 0.012"),
        (600.0, "time", "metric", None, "10 min"),
        (30.0, "time", "metric", None, "30 s"),
        (21.34, "resistance", "metric", None, "21.3 Ω"),
        (float("inf"), "resistance", "metric", None, "open circuit"),
        (3.0, "clicks", "metric", None, "3 clicks"),
        (6.0, "count", "metric", None, "6"),
    ],
)
def test_a_quantity_is_written_for_a_workshop(
    value: float, dimension: str, system: str, u: float | None, text: str
) -> None:
    assert shown(value, dimension, system, u=u) == text


def test_a_range_from_below_nought_has_a_minus_sign_and_can_be_typed_as_it_is_read() -> None:
    assert range_shown(263.15, 353.15, "temperature") == "−10 to 80 °C"
    assert range_shown(-430.0, 3000.0, "length", unit="m") == "−430 to 3000 m"
    assert shown(-0.35e5, "pressure", u=0.05e5) == "−0.35 ± 0.10 bar"
    assert parse("−10 °C", "temperature").value == pytest.approx(263.15)


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_nothing_is_ever_minus_nought(dimension: str) -> None:
    start = 273.15 if dimension == "temperature" else 0.0
    assert not shown(start - 1e-12, dimension).startswith(("-", "−"))
    assert not shown(start - 1e-12, dimension, u=1e-3).startswith(("-", "−"))


@pytest.mark.parametrize("row", [row for row, _ in _ROWS], ids=lambda row: f"{row.dimension} {row.name}")
def test_every_unit_can_be_typed_as_it_is_named_and_as_it_is_labelled(row: Unit) -> None:
    for name in (row.name, row.label):
        quantity = parse(f"7 {name}", row.dimension)
        assert quantity.unit == row.name
        assert quantity.value == pytest.approx(7 * row.factor + row.offset, rel=1e-15)


@pytest.mark.parametrize("row", [row for row, _ in _ROWS], ids=lambda row: f"{row.dimension} {row.name}")
def test_conversion_there_and_back_changes_nothing(row: Unit) -> None:
    there = in_unit(from_unit(12.5, row.name, row.dimension), row.name, row.dimension)
    assert there == pytest.approx(12.5, rel=1e-12)


@given(
    value=st.floats(0.01, 50.0),
    system=st.sampled_from(SYSTEMS),
    dimension=st.sampled_from(["pressure", "volume", "length", "share", "resistance", "lambda", "speed"]),
)
def test_what_is_shown_can_be_typed_again(value: float, system: str, dimension: str) -> None:
    scale = {"pressure": 1e5, "volume": 1e-5, "length": 1e-3, "share": 1e-2}.get(dimension, 1.0)
    text = shown(value * scale, dimension, system)
    unit = unit_for(dimension, system, None, value * scale)
    again = parse(text, dimension)
    # To half the last digit shown: at most 0.5 in a unit's own numbers.
    assert in_unit(again.value, unit, dimension) == pytest.approx(
        in_unit(value * scale, unit, dimension), abs=0.51
    )


@given(value=st.floats(-1e4, 1e4), u=st.floats(1e-6, 1e4))
def test_the_doubt_shows_two_digits_at_most_and_the_value_no_finer(value: float, u: float) -> None:
    number, _, doubt = shown(value, "voltage", u=u).removesuffix(" V").partition(" ± ")
    assert len(doubt.replace(".", "").strip("0")) <= 2
    assert len(number.partition(".")[2]) == len(doubt.partition(".")[2])
    assert float(doubt) == pytest.approx(2.0 * u, rel=0.17)  # one digit from 3 up: 3.5 rounds by a seventh


@given(text=st.text(max_size=40), takes=st.sampled_from(DIMENSIONS))
def test_any_text_is_read_or_refused_in_words(text: str, takes: str) -> None:
    with contextlib.suppress(FieldProblem):
        assert parse(text, takes).dimension == takes


def test_labels_say_which_ounce() -> None:
    assert (label("fl oz"), label("imp fl oz"), label("degC"), label("ohm")) == (
        "US fl oz",
        "imp fl oz",
        "°C",
        "Ω",
    )


def test_a_range_is_written_once_with_its_unit() -> None:
    assert range_shown(4.7e5, 5.2e5, "pressure") == "4.70 to 5.20 bar"
    assert range_shown(1.8e5, None, "pressure", "us") == "at least 26.1 psi"
    assert range_shown(None, 0.15, "share") == "at most 15 %"


def test_the_preferred_unit_stands_where_the_system_has_none_of_its_own() -> None:
    assert unit_for("angle", "us", "deg") == "deg"
    assert unit_for("pressure", "us", "mbar") == "psi"
    assert unit_for("pressure", "metric", "mbar") == "mbar"
    assert unit_for("pressure", "metric", "psi") == "bar"


def test_turns_and_shares_are_plain_ratios() -> None:
    # Other libraries give turns as radians; ours counts screws, so a turn is 1.
    assert parse("90 deg", "angle").value == parse("1/4 turn", "angle").value == 0.25
    assert parse("900 rpm", "speed").value == 15.0
    assert parse("1 %", "share").value == pytest.approx(parse("10000 ppm", "share").value, rel=1e-15)
