"""Gauges, scales, meters and displays: what they can be trusted to."""

import math

import pytest

from evenpour.errors import FieldProblem, UnknownName, WrongUnit
from evenpour.measure.instruments import instrument_from


def made(**plain: object) -> dict[str, object]:
    fields: dict[str, object] = {"id": "gauge", "kind": "pressure gauge", **plain}
    if "class_" in fields:
        fields["class"] = fields.pop("class_")
    return fields


def test_a_ten_bar_gauge_of_class_1_6_errs_by_sixteen_hundredths() -> None:
    gauge = instrument_from(made(range="10 bar", class_=1.6))
    assert gauge.half_width == pytest.approx(0.16e5)
    assert gauge.u == pytest.approx(0.16e5 / math.sqrt(3.0))
    assert gauge.dimension == "pressure"
    assert gauge.range == (0.0, 10e5)


def test_class_and_division_add_in_quadrature() -> None:
    gauge = instrument_from(made(range="6 bar", class_=1.0, resolution="0.05 bar"))
    # 0.06/√3 = 0.0346 bar and 0.025/√3 = 0.0144 bar.
    assert gauge.u == pytest.approx(math.hypot(0.0346e5, 0.0144e5), rel=2e-3)
    assert gauge.basis == "pressure gauge, class 1.0, 0 to 6 bar, read to 0.05 bar"


def test_a_stated_error_stands_in_for_the_class() -> None:
    gauge = instrument_from(made(range="0 to 100 psi", error="2 psi"))
    assert gauge.half_width == pytest.approx(2 * 6894.757, rel=1e-6)
    assert gauge.basis == "pressure gauge, 0 to 100 psi, ± 2 psi"


def test_a_range_below_zero_counts_whole_for_the_class() -> None:
    gauge = instrument_from(made(range="-1 to 3 bar", class_=1.0))
    assert gauge.half_width == pytest.approx(0.04e5)
    assert gauge.range == (-1e5, 3e5)


def test_a_range_may_be_a_pair() -> None:
    assert instrument_from(made(range=["-1 bar", "3 bar"], class_=1.0)).range == (-1e5, 3e5)


def test_a_gauge_without_class_errs_by_its_smallest_division() -> None:
    gauge = instrument_from(made(resolution="0.1 bar"))
    assert gauge.half_width == pytest.approx(0.1e5)
    assert "one division assumed" in gauge.basis


def test_a_thermometers_error_is_a_difference_of_temperatures() -> None:
    gauge = instrument_from(made(kind="thermometer", range="-20 to 110 degC", error="1.8 degF"))
    assert gauge.half_width == pytest.approx(1.0)
    assert gauge.range == pytest.approx((253.15, 383.15))
    assert gauge.dimension == "temperature"


def test_an_error_in_per_cent_of_another_kind_grows_with_the_reading() -> None:
    meter = instrument_from(made(kind="flow meter", range="5 l/min", error="2 %"))
    assert meter.u == 0.0
    assert meter.u_at(1e-4) == pytest.approx(2e-6 / math.sqrt(3.0))


def test_a_gas_analysers_per_cent_is_its_own_unit() -> None:
    analyser = instrument_from(made(kind="gas analyser", range="10 %", error="0.06 %"))
    assert analyser.half_width == pytest.approx(0.0006)
    assert analyser.u_at(0.05) == analyser.u


def test_a_displays_scale_says_what_it_calls_lambda_1() -> None:
    assert instrument_from(made(kind="wideband", scale="14.7 AFR at lambda 1")).scale == 14.7
    assert instrument_from(made(kind="wideband", scale="14,1 AFR")).scale == 14.1
    assert instrument_from(made()).scale is None


def test_an_instrument_that_states_nothing_has_no_doubt_of_its_own() -> None:
    assert instrument_from(made()).u == 0.0


@pytest.mark.parametrize(
    ("plain", "error", "words"),
    [
        ({"class_": 1.0}, FieldProblem, "range is missing"),
        ({"range": "6 bar", "class_": -1}, FieldProblem, "class"),
        ({"range": "6 bar", "class_": "1.0"}, FieldProblem, "class"),
        ({"range": "6 bar", "class_": 1.0, "error": "0.1 bar"}, FieldProblem, "State one of the two"),
        ({"range": "6 bar", "error": "1 degC"}, WrongUnit, "error"),
        ({"range": "6 bar", "resolution": "1 ml"}, WrongUnit, "resolution"),
        ({"range": "6 bar", "resolution": "0 bar"}, FieldProblem, "resolution"),
        ({"range": "6 to 2 bar"}, FieldProblem, "does not run upwards"),
        ({"range": "six bar"}, FieldProblem, "range"),
        ({"scale": "14.7 AFR at lambda 2"}, FieldProblem, "scale"),
        ({"scale": "147 AFR"}, FieldProblem, "5 to 20 AFR"),
        ({"clas": 1.0}, UnknownName, "Did you mean class"),
        ({"id": ""}, FieldProblem, "id is missing"),
    ],
)
def test_a_wrong_field_is_named(plain: dict[str, object], error: type[FieldProblem], words: str) -> None:
    with pytest.raises(error, match=words):
        instrument_from(made(**plain))
