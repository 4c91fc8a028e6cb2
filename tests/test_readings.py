"""From typed text to readings: choices, doubts, conditions, and questions where a slip is likelier."""

import math

import pytest

from evenpour.errors import FieldProblem, OutOfRange, Questioned, UnknownName, WrongUnit
from evenpour.measure.checks import check_from, condition_from, in_sentence
from evenpour.measure.instruments import Instrument, instrument_from
from evenpour.measure.readings import ReadValue, read_condition, read_conditions, read_value, reading_from
from measure_world import CHECKS, GAUGE_6, GAUGE_10, KINDS, reading, stated

ROOT_3 = math.sqrt(3.0)


def read(check: str, text: object, gauge: Instrument | None = None, *, sure: bool = False) -> ReadValue:
    return read_value(CHECKS[check], text, gauge, sure=sure)


@pytest.mark.parametrize(
    ("check", "text", "words"),
    [
        ("system_pressure", "48 bar", "Was it 4.8 bar?"),
        ("system_pressure", "70 bar", r"Was it 70 psi \(4.83 bar\)?"),
        ("system_pressure", "480 bar", r"Was it 480 kPa \(4.80 bar\)?"),
        ("system_pressure", "4800 bar", "Was it 4800 mbar"),
        ("air_temperature", "64 degC", r"Was it 64 °F \(17.8 °C\)?"),
        ("pump_delivery", "850 l", r"Was it 850 ml \(0.85 l\)?"),
        ("exhaust_lambda", "13.9", r"Was it 13.9 AFR \(lambda 0.946\)?"),
        ("idle_speed", "90000 rpm", "Was it 9000 rpm|Was it 900 rpm"),
        ("idle_speed", "-900 rpm", "without the minus"),
    ],
)
def test_an_odd_value_is_questioned_with_the_likely_slip(check: str, text: str, words: str) -> None:
    with pytest.raises(Questioned, match=words):
        read(check, text)


def test_an_odd_value_stands_once_it_is_said_again() -> None:
    assert read("system_pressure", "48 bar", sure=True).value == pytest.approx(48e5)


def test_a_comma_that_may_part_thousands_is_questioned() -> None:
    with pytest.raises(Questioned, match=r"is read as 1\.234 rpm\. Was it 1234 rpm\?"):
        read("idle_speed", "1,234 rpm")
    assert read("idle_speed", "1234 rpm").value == pytest.approx(1234 / 60)
    assert read("system_pressure", "4,850 bar").value == pytest.approx(4.85e5)
    assert read("exhaust_lambda", "0,950").value == pytest.approx(0.95)


@pytest.mark.parametrize(
    ("check", "text"),
    [
        ("pump_delivery", "-850 ml"),
        ("system_pressure", "nan bar"),
        ("air_temperature", "-300 degC"),
        ("heater_resistance", "-3 ohm"),
    ],
)
def test_the_impossible_is_refused_even_if_it_is_said_again(check: str, text: str) -> None:
    with pytest.raises(OutOfRange):
        read(check, text, sure=True)


def test_an_absolute_pressure_is_refused_with_the_way_to_mend_it() -> None:
    with pytest.raises(FieldProblem, match="Take the barometer off it"):
        read("system_pressure", "5.8 bar abs")
    assert read("system_pressure", "70 psig").unit == "psi"


def test_a_reading_carries_its_gauges_doubt_and_says_where_it_comes_from() -> None:
    found = read("system_pressure", "4.8 bar", GAUGE_6)
    assert found.u_b == GAUGE_6.u
    assert found.basis == GAUGE_6.basis


def test_without_an_instrument_the_assumed_error_is_said_aloud() -> None:
    found = read("system_pressure", "4.8 bar")
    assert found.u_b == pytest.approx(0.1e5 / ROOT_3)
    assert found.basis == "no instrument stated; ± 0.10 bar assumed"


def test_an_assumed_error_is_told_in_the_typed_unit() -> None:
    assert read("system_pressure", "70 psi").basis == "no instrument stated; ± 1.5 psi assumed"
    assert read("air_temperature", "64 degF").basis == "no instrument stated; ± 2 °F assumed"


def test_an_assumed_error_may_be_a_share_of_the_reading() -> None:
    found = read("pump_delivery", "900 ml")
    assert found.u_b == pytest.approx(18e-6 / ROOT_3)


def test_an_instrument_that_states_no_error_leaves_the_assumed_one() -> None:
    silent = instrument_from({"id": "wideband", "kind": "display", "scale": "14.1 AFR at lambda 1"})
    found = read("exhaust_lambda", "13.4 AFR", silent)
    assert found.value == pytest.approx(13.4 / 14.1)
    assert found.u_b == pytest.approx(0.01 / ROOT_3)
    assert found.basis.startswith("wideband states no error")


def test_with_nothing_stated_the_last_digit_typed_is_the_smallest_division() -> None:
    found = read("lever_play", "1.2 mm")
    assert found.u_b == pytest.approx(0.05e-3 / ROOT_3)
    assert "last digit typed" in found.basis


def test_a_half_width_stated_with_the_reading_stands_before_the_gauge() -> None:
    found = read("system_pressure", "4.8 ± 0.3 bar", GAUGE_6)
    assert found.u_b == pytest.approx(0.3e5 / ROOT_3)


def test_an_air_fuel_ratio_becomes_lambda_by_fourteen_point_seven_unless_the_display_says_otherwise() -> None:
    assert read("exhaust_lambda", "14.7 AFR").value == pytest.approx(1.0)
    display = instrument_from(
        {"id": "w", "kind": "display", "range": "10 to 20 AFR", "error": "0.147 AFR", "scale": "14.7 AFR"}
    )
    found = read("exhaust_lambda", "13.9 AFR", display)
    assert found.value == pytest.approx(13.9 / 14.7)
    assert found.u_b == pytest.approx(0.01 / ROOT_3)
    assert read("exhaust_lambda", "0.95 lambda", display).u_b == pytest.approx(0.01 / ROOT_3)


def test_an_open_circuit_is_infinite() -> None:
    for text in ("open", "OL", "Open circuit"):
        assert read("heater_resistance", text).value == math.inf
    with pytest.raises(FieldProblem):
        read("system_pressure", "open")


def test_a_gauge_of_another_kind_is_refused() -> None:
    with pytest.raises(WrongUnit, match="gauge' measures a pressure"):
        read("pump_delivery", "850 ml", GAUGE_6)


def test_a_value_off_the_gauges_scale_is_questioned() -> None:
    with pytest.raises(Questioned, match=r"off the scale of gauge\. Allowed: 0\.00 to 6\.00 bar"):
        read("system_pressure", "7 bar", GAUGE_6)
    assert read("system_pressure", "7 bar", GAUGE_10).value == pytest.approx(7e5)


def test_weighed_fuel_needs_its_density() -> None:
    with pytest.raises(FieldProblem, match="density is not known"):
        read("pump_delivery", "630 g")
    scale = instrument_from({"id": "s", "kind": "kitchen scale", "range": "2 kg", "error": "2 g"})
    found = read_value(CHECKS["pump_delivery"], "630 g", scale, density=740.0)
    assert found.value == pytest.approx(0.630 / 740.0)
    assert found.u_b == pytest.approx(0.002 / 740.0 / ROOT_3)


@pytest.mark.parametrize(("typed", "kept"), [("dry", "dry"), (" Dry ", "dry"), ("DRIPS", "drips")])
def test_a_choice_forgives_capitals_and_blanks(typed: str, kept: str) -> None:
    found = read("injector_drip", typed)
    assert found == ReadValue(kept, 0.0, "looked at", "")


def test_an_unknown_choice_names_the_known_ones() -> None:
    with pytest.raises(UnknownName, match=r"Allowed: dry, drips. Did you mean drips\?"):
        read("injector_drip", "drip")


def test_yes_and_no_may_come_as_true_and_false() -> None:
    assert read("spark_seen", True).value == "yes"
    with pytest.raises(FieldProblem):
        read("injector_drip", True)


def test_repeats_are_kept_apart() -> None:
    found = reading("system_pressure", ["4.8 bar", "4.9 bar"], GAUGE_6)
    assert found.values == pytest.approx((4.8e5, 4.9e5))
    assert found.unit == "bar"
    with pytest.raises(FieldProblem, match="is missing"):
        reading_from(CHECKS["system_pressure"], [])
    with pytest.raises(FieldProblem, match="different choices"):
        reading_from(CHECKS["injector_drip"], ["dry", "drips"])


def test_a_conditions_doubt_is_stated_or_assumed() -> None:
    assert stated("control_pressure_cold", regulator_temperature="18 degC")[
        "regulator_temperature"
    ].u == pytest.approx(1.0 / ROOT_3)
    found = stated("control_pressure_cold", regulator_temperature="18 ± 0.5 degC")["regulator_temperature"]
    assert found.u == pytest.approx(0.5 / ROOT_3)
    assert found.value == pytest.approx(291.15)
    assert stated("holding_pressure", after="10 min")["after"].u == 0.0


def test_a_condition_may_be_a_choice_or_a_quantity() -> None:
    assert read_condition(KINDS["opening"], "idle").choice == "idle"
    assert read_condition(KINDS["opening"], " Idle").choice == "idle"
    with pytest.raises(UnknownName, match="Allowed: idle, part, full"):
        read_condition(KINDS["opening"], "half")
    assert read_condition(KINDS["opening"], "12 mm").value == pytest.approx(0.012)


def test_a_conditions_slip_is_questioned_too() -> None:
    with pytest.raises(Questioned, match="Was it 64 °F"):
        stated("control_pressure_cold", regulator_temperature="64 degC")
    with pytest.raises(Questioned):
        stated("pump_delivery", voltage="124 V")


def test_a_condition_the_check_does_not_carry_is_refused_and_a_general_one_left_out() -> None:
    with pytest.raises(UnknownName, match="is no condition of system_pressure"):
        stated("system_pressure", after="10 min")
    general = {"ambient_temperature": "18 degC", "state": "idle_warm", "heater": "plugged"}
    found = read_conditions(CHECKS["system_pressure"], {"heater": "unplugged"}, KINDS, general=general)
    assert set(found) == {"ambient_temperature", "heater"}
    assert found["heater"].choice == "unplugged"
    with pytest.raises(UnknownName):
        read_conditions(CHECKS["system_pressure"], {}, KINDS, general={"hat": "red"})


@pytest.mark.parametrize(
    ("plain", "words"),
    [
        ({"id": "a", "title": "A"}, "takes"),
        ({"id": "a", "title": "A", "takes": "pressur"}, "Did you mean pressure"),
        ({"id": "a", "title": "A", "takes": "pressure", "choices": ["x"]}, "needs one of the two"),
        ({"id": "a", "title": "A", "takes": "pressure", "sense": ["1 bar"]}, "sense"),
        ({"id": "a", "title": "A", "takes": "pressure", "sense": ["2 bar", "1 bar"]}, "run upwards"),
        ({"id": "a", "title": "A", "takes": "pressure", "assumed_error": "1 ml"}, "assumed_error"),
        ({"id": "a", "title": "A", "takes": "pressure", "prefer": "ml"}, "prefer"),
        ({"id": "a", "title": "A", "takes": "pressure", "minuts": 3}, "Did you mean minutes"),
        ({"id": "a", "title": "A", "takes": "pressure", "per_cylinder": "yes"}, "neither true nor false"),
        ({"id": "a", "takes": "pressure"}, "title is missing"),
    ],
)
def test_a_wrongly_written_check_names_the_field(plain: dict[str, object], words: str) -> None:
    with pytest.raises(FieldProblem, match=words):
        check_from(plain)


def test_a_condition_needs_a_kind_or_choices() -> None:
    with pytest.raises(FieldProblem, match="State takes or choices"):
        condition_from({"id": "a", "title": "A"})


@pytest.mark.parametrize(
    ("title", "words"),
    [
        ("Regulator's temperature", "the regulator's temperature"),
        ("CO in the exhaust", "the CO in the exhaust"),
        ("how the engine ran", "how the engine ran"),
        ("The time; or what it was read after", "the time"),
    ],
)
def test_a_title_stands_in_a_sentence(title: str, words: str) -> None:
    assert in_sentence(title) == words
