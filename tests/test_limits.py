"""Limits of a sheet: how they are written, how they move, and when they do not hold."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import FieldProblem
from evenpour.measure.limits import Band, NotJudged, band, limit_from, limit_words
from measure_world import CHECKS, COLD, DELIVERY, HOLDING, KINDS, SOURCES, limit, stated

ROOT_3 = math.sqrt(3.0)


def at(plain: dict[str, object], **conditions: object) -> Band:
    found = band(limit(plain), stated(str(plain["check"]), **conditions))
    assert isinstance(found, Band)
    return found


def refused(plain: dict[str, object], **conditions: object) -> NotJudged:
    found = band(limit(plain), stated(str(plain["check"]), **conditions))
    assert isinstance(found, NotJudged)
    return found


def test_a_slope_moves_both_sides_and_lends_its_doubt() -> None:
    found = at(COLD, regulator_temperature="18 degC")
    assert (found.low, found.high) == pytest.approx((1.25e5, 1.55e5))
    assert found.u_condition == pytest.approx(0.05e5 / ROOT_3)  # 1 degC of doubt is 0.05 bar
    assert found.notes == ()


def test_fahrenheit_gives_the_same_band() -> None:
    assert at(COLD, regulator_temperature="64.4 degF").low == pytest.approx(1.25e5)


@pytest.mark.parametrize(("after", "low"), [("10 min", 1.8e5), ("15 min", 1.7e5), ("20 min", 1.6e5)])
def test_the_holding_limit_falls_with_time(after: str, low: float) -> None:
    assert at(HOLDING, after=after).low == pytest.approx(low)


@pytest.mark.parametrize("after", ["9 min", "21 min", "10 s"])
def test_outside_its_range_a_limit_says_where_it_holds(after: str) -> None:
    found = refused(HOLDING, after=after)
    assert not found.missing
    assert found.settle == "the sheet's limit holds for the time after the stop from 10 to 20 min"


def test_the_ends_of_the_range_belong_to_it() -> None:
    assert at(COLD, regulator_temperature="32 degF").low == pytest.approx(0.35e5)
    assert at(COLD, regulator_temperature="50 degC").high == pytest.approx(3.15e5)


def test_a_missing_condition_is_asked_for_in_words() -> None:
    found = refused(COLD)
    assert found.missing
    assert found.settle == "state the regulator's temperature"


def test_a_delivery_goes_with_the_time_and_the_voltage() -> None:
    found = at(DELIVERY, duration="15 s", voltage="11.5 V")
    assert found.low == pytest.approx(850e-6 * 0.5 * 0.95)
    # 0.2 s in 15 s and 0.1 V at 10 %/V of 0.95, both rectangular.
    expected = 850e-6 * 0.5 * math.hypot(0.95 * 0.2 / 15.0, 0.1 * 0.1) / ROOT_3
    assert found.u_condition == pytest.approx(expected, rel=1e-6)


def test_what_is_assumed_is_said_aloud_and_its_doubt_counts() -> None:
    found = at(DELIVERY, duration="30 s")
    assert found.low == pytest.approx(850e-6)
    assert found.notes == ("the voltage at the pump was not stated: 12 V ± 0.5 V is assumed",)
    assert found.u_condition == pytest.approx(850e-6 * math.hypot(0.2 / 30.0, 0.05) / ROOT_3, rel=1e-6)
    assert [doubt.assumed for doubt in found.doubts] == [False, True]


def test_a_condition_that_is_not_required_may_be_left_out() -> None:
    loose = {**COLD, "depends": [{**COLD["depends"][0], "required": False}]}
    found = at(loose)
    assert found.low == pytest.approx(0.35e5)
    assert "left out of account" in found.notes[0]


def test_a_limit_holds_only_under_its_when() -> None:
    idle = {"check": "idle_speed", "low": "850 rpm", "when": {"state": "idle_warm"}, "source": "cp"}
    assert at(idle, state="idle_warm").low == pytest.approx(850 / 60)
    assert (
        refused(idle, state="fast_idle").settle == "the sheet's limit holds for how the engine ran: idle warm"
    )
    assert refused(idle).settle == "state how the engine ran (idle_warm)"
    either = {**idle, "when": {"state": ["idle_warm", "fast_idle"]}}
    assert at(either, state="fast_idle").low is not None


def test_below_and_above_leave_the_edge_out_from_and_to_take_it_in() -> None:
    closed = {"check": "thermo_time_switch", "allowed": ["closed"], "source": "cp"}
    below = {**closed, "when": {"temperature": {"below": "30 degC"}}}
    upto = {**closed, "when": {"temperature": {"to": "30 degC"}}}
    assert isinstance(refused(below, temperature="30 degC"), NotJudged)
    assert isinstance(at(below, temperature="29 degC"), Band)
    assert isinstance(at(upto, temperature="30 degC"), Band)


def test_what_a_limit_asks_for_is_noted_if_unsaid_and_refused_if_not_so() -> None:
    asking = {
        "check": "system_pressure",
        "low": "4.7 bar",
        "asks": {"heater": "plugged", "bled": "yes"},
        "source": "cp",
    }
    found = at(asking, heater="plugged")
    assert found.notes == ("not stated: gauge bled of air (the sheet asks for: yes)",)
    assert refused(asking, heater="unplugged").settle.endswith("plugged; read it again so")


def test_the_source_is_kept_in_words() -> None:
    assert limit(COLD).source == SOURCES["cp"]
    assert limit({**COLD, "source": "the engine's manual, page 12"}).source == "the engine's manual, page 12"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"source": "xx"}, "source 'xx' is no source of this sheet"),
        ({"source": ""}, "source is missing"),
        ({"low": "0.35 ml"}, "low '0.35 ml' is a volume, not a pressure"),
        ({"low": "0.9 bar"}, "low '0.9 bar' is above high '0.65 bar'"),
        ({"allowed": ["dry"]}, "allowed .* does not suit control_pressure_cold"),
        ({"lows": "1 bar"}, "Did you mean low"),
        ({"when": {"stat": "x"}}, "Did you mean state"),
        ({"when": {"state": "idle_hot"}}, "when.state 'idle_hot' is no choice of state"),
        ({"when": {"state": {"from": "1 bar"}}}, "when.state .* is a choice"),
        ({"when": {"after": {"from": "1 bar"}}}, "when.after.from '1 bar' is a pressure, not a time"),
        ({"when": {"after": {"from": "2 min", "above": "1 min"}}}, "one of from, above"),
        ({"when": {"after": {"from": "2 min", "to": "1 min"}}}, "does not run upwards"),
        ({"asks": "heater"}, "asks 'heater' is no table"),
        ({"depends": [{"at": "0 degC", "slope": "0.05 bar/degC"}]}, "on is missing"),
        ({"depends": [{"on": "temperature", "slope": "0.05 bar/degC"}]}, "at is missing"),
        ({"depends": [{"on": "temperature", "at": "0 degC"}]}, "slope is missing"),
        (
            {"depends": [{"on": "temperature", "at": "0 degC", "slope": "1 bar/degC", "per": "1 %/degC"}]},
            "twice",
        ),
        ({"depends": [{"on": "temperature", "at": "0 degC", "slope": "1 bar/V"}]}, "slope"),
        (
            {"depends": [{"on": "heater", "at": "0 degC", "slope": "1 bar/V"}]},
            "is a choice and moves no limit",
        ),
        ({"depends": [{"on": "duration", "at": "0 s", "proportional": True}]}, "in proportion"),
        ({"depends": [{"on": "duration", "at": "3 s", "proportional": False}]}, "says nothing"),
        (
            {"depends": [{"on": "duration", "at": "3 s", "proportional": True, "from": "9 s", "to": "1 s"}]},
            "from",
        ),
        (
            {"depends": [{"on": "duration", "at": "3 s", "proportional": True, "assumed_error": "1 s"}]},
            "without assume",
        ),
        ({"depends": "duration"}, "is no list of tables"),
    ],
)
def test_a_wrongly_written_limit_names_the_field(change: dict[str, object], words: str) -> None:
    with pytest.raises(FieldProblem, match=words):
        limit({**COLD, **change})


def test_a_limit_that_states_nothing_is_refused() -> None:
    with pytest.raises(FieldProblem, match="states nothing"):
        limit_from({"check": "system_pressure", "source": "cp"}, CHECKS["system_pressure"], KINDS, SOURCES)


def test_a_choice_outside_the_checks_choices_is_refused() -> None:
    with pytest.raises(FieldProblem, match="'wet' is no choice of injector_drip"):
        limit({"check": "injector_drip", "allowed": ["wet"], "source": "cp"})
    with pytest.raises(FieldProblem, match="is a choice"):
        limit({"check": "injector_drip", "low": "1 bar", "source": "cp"})


@pytest.mark.parametrize(
    ("plain", "system", "words"),
    [
        ({"check": "system_pressure", "low": "4.7 bar", "high": "5.2 bar"}, "metric", "4.70 to 5.20 bar"),
        ({"check": "system_pressure", "low": "4.7 bar", "high": "5.2 bar"}, "us", "68.2 to 75.4 psi"),
        ({"check": "pump_delivery", "low": "850 ml"}, "imperial", "at least 29.9 imp fl oz"),
        ({"check": "injector_drip", "allowed": ["dry"]}, "metric", "dry"),
        (
            {"check": "catch_evenness", "high": "15 %", "when": {"opening": "idle"}},
            "metric",
            "at most 15 %, idle",
        ),
        (
            {
                "check": "thermo_time_switch",
                "allowed": ["closed"],
                "when": {"temperature": {"below": "30 degC"}},
            },
            "us",
            "closed, the temperature of the part below 86 °F",
        ),
        (
            COLD,
            "metric",
            "0.35 to 0.65 bar at 0 °C (the regulator's temperature), 0.05 bar more for each °C above,"
            " known from 0 to 50 °C",
        ),
    ],
)
def test_a_limit_is_worded_in_the_users_units(plain: dict[str, object], system: str, words: str) -> None:
    assert limit_words(limit({"source": "cp", **plain}), system) == words


def test_a_limit_is_worded_at_the_readings_conditions() -> None:
    words = limit_words(
        limit(COLD), "metric", stated("control_pressure_cold", regulator_temperature="18 degC")
    )
    assert words == "1.25 to 1.55 bar at the regulator's temperature 18 °C"


def test_an_air_fuel_ratio_on_a_sheet_becomes_lambda() -> None:
    found = limit({"check": "exhaust_lambda", "low": "13.965 AFR", "high": "lambda 0.97", "source": "cp"})
    assert (found.low, found.high) == pytest.approx((0.95, 0.97))


@given(celsius=st.floats(0.0, 50.0))
def test_the_band_keeps_its_width_along_the_slope(celsius: float) -> None:
    found = at(COLD, regulator_temperature=f"{celsius:.3f} degC")
    assert found.low is not None
    assert found.high is not None
    assert found.high - found.low == pytest.approx(0.3e5, rel=1e-9)
