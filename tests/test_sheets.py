"""The shipped sheets: they load, say what design asks of them, and differ as such engines differ."""

from __future__ import annotations

from math import pi, sqrt, tan

import pytest

from evenpour import data
from evenpour.measure.limits import Band, NotJudged, band
from sheet_tools import CHECKS, EVERYWHERE, FORM, conditions, shipped_sheet

BAR, ML = 1e5, 1e-6
SHIPPED = data.sheet_names()


def test_eight_sheets_are_shipped() -> None:
    fours, sixes = (
        {"inline-four", "inline-four-oxygen"},
        {"flat-six", "flat-six-oxygen", "inline-six", "vee-six"},
    )
    assert set(SHIPPED) == fours | sixes | {"inline-five", "vee-eight"}


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_sheet_loads_and_warns(name: str) -> None:
    sheet = shipped_sheet(name)
    assert sheet.id == name
    assert sheet.notice == "Typical values from common practice; your engine's manual decides."
    assert set(sheet.evenness_limits()) == {"idle", "part", "full"}
    assert all("not verified" in value.source for value in sheet.values.values())
    assert all("not verified" in limit.source for limit in sheet.limits)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_sheet_states_every_value_its_devices_ask_for(name: str) -> None:
    sheet = shipped_sheet(name)
    left_out = {kind.id for kind in FORM.values.values() if kind.only is None or kind.only in sheet.devices}
    assert left_out - set(sheet.values) <= {"click_angle"}


@pytest.mark.parametrize("name", SHIPPED)
def test_every_limit_of_a_shipped_sheet_can_be_met_by_a_reading(name: str) -> None:
    for limit in shipped_sheet(name).limits:
        check = CHECKS[limit.check]
        used = {*limit.when, *limit.asks, *(one.on for one in limit.depends)}
        assert used <= {*check.conditions, *EVERYWHERE}, limit.check
        for side in (limit.low, limit.high):
            assert side is None or (check.sense and check.sense[0] <= side <= check.sense[1]), limit.check


@pytest.mark.parametrize("name", SHIPPED)
def test_a_typical_workshop_tool_can_call_each_limit_within(name: str) -> None:
    """A band narrower than 3.92 u is never within; the assumed tools are common ones, so they should do."""
    for limit in shipped_sheet(name).limits:
        if limit.low is not None and limit.high is not None and limit.check != "valve_clearance":
            width = CHECKS[limit.check].assumed_error / 3**0.5
            assert limit.high - limit.low >= 3.92 * width, limit.check


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_sheet_has_limits_for_what_the_claims_ask(name: str) -> None:
    sheet = shipped_sheet(name)
    asked = set()
    for claim in data.shipped("claims.toml").values["claim"]:
        only = claim.get("only", "")
        if only and (only.removeprefix("not ") in sheet.devices) == only.startswith("not "):
            continue
        for proof in claim["proof"]:
            asked |= {one["check"] for one in proof.get("any", [proof]) if "check" in one}
    for check in asked:
        device = FORM.device_of(check)
        if device is None or device.id in sheet.devices:
            assert sheet.limits_for(check), check


def limits_at(check: str, sheet: str = "flat-six", **stated: str) -> list[Band]:
    """The bands that hold for a reading of *check* under the stated conditions."""
    found = [band(limit, conditions(check, **stated)) for limit in shipped_sheet(sheet).limits_for(check)]
    return [one for one in found if isinstance(one, Band)]


def bar(low: float | None, high: float | None) -> tuple[object, object]:
    return tuple(None if side is None else pytest.approx(side * BAR) for side in (low, high))  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("check", "stated", "expected"),
    [
        ("system_pressure", {}, (4.7, 5.2)),
        ("control_pressure_cold", {"regulator_temperature": "0 degC"}, (0.35, 0.65)),
        ("control_pressure_cold", {"regulator_temperature": "20 degC"}, (1.35, 1.65)),
        ("control_pressure_cold", {"regulator_temperature": "50 degC"}, (2.85, 3.15)),
        ("control_pressure_warm", {"heater": "plugged", "voltage": "12.4 V"}, (3.4, 3.8)),
        ("holding_pressure", {"after": "10 min"}, (1.8, None)),
        ("holding_pressure", {"after": "15 min"}, (1.7, None)),
        ("holding_pressure", {"after": "20 min"}, (1.6, None)),
        ("holding_pressure", {"after": "10 s"}, (None, 2.7)),
        ("injector_opening_pressure", {}, (3.0, 3.6)),
        ("injector_opening_pressure_spread", {}, (None, 0.4)),
        ("compression", {}, (9.0, 12.0)),
        ("compression_spread", {}, (None, 1.5)),
        ("pump_deadhead", {}, (6.0, None)),
    ],
)
def test_the_flat_six_has_its_pressures(check: str, stated: dict[str, str], expected: tuple) -> None:
    (only,) = limits_at(check, **stated)
    assert (only.low, only.high) == bar(*expected)


@pytest.mark.parametrize(
    ("check", "stated", "low", "high"),
    [
        ("pump_delivery", {"duration": "30 s", "voltage": "12 V"}, 850 * ML, None),
        ("pump_delivery", {"duration": "60 s", "voltage": "12 V"}, 1700 * ML, None),
        ("pump_delivery", {"duration": "30 s", "voltage": "11.5 V"}, 807.5 * ML, None),
        ("regulator_heater_resistance", {"temperature": "20 degC"}, 18.0, 26.0),
        ("cold_start_valve_resistance", {"temperature": "20 degC"}, 3.0, 5.0),
        ("plate_rest_height", {}, 0.0, 1e-3),
        ("lever_play", {}, 1e-3, 2e-3),
        ("idle_speed", {"state": "idle_warm"}, 850 / 60, 950 / 60),
        ("exhaust_co", {"state": "idle_warm"}, 0.01, 0.02),
        ("exhaust_lambda", {"state": "idle_warm"}, 0.95, 0.97),
        ("exhaust_lambda", {"state": "full_load"}, 0.86, 0.92),
        ("timing_static", {}, 4 / 360, 6 / 360),
        ("catch_evenness", {"opening": "idle"}, None, 0.15),
        ("catch_evenness", {"opening": "part"}, None, 0.10),
        ("catch_evenness", {"opening": "full"}, None, 0.08),
        ("pump_voltage", {}, 11.5, None),
        ("pump_current", {}, 5.0, 10.0),
        ("control_flow", {}, 150 * ML / 60, 250 * ML / 60),
    ],
)
def test_the_flat_six_has_its_figures(
    check: str, stated: dict[str, str], low: float | None, high: float | None
) -> None:
    (only,) = limits_at(check, **stated)
    assert only.low == (None if low is None else pytest.approx(low))
    assert only.high == (None if high is None else pytest.approx(high))


@pytest.mark.parametrize(
    ("check", "stated", "allowed"),
    [
        ("injector_drip", {}, {"dry"}),
        ("injector_spray", {}, {"even", "cone"}),
        ("thermo_time_switch", {"temperature": "20 degC"}, {"closed"}),
        ("thermo_time_switch", {"temperature": "45 degC"}, {"open"}),
        ("thermo_time_switch", {"temperature": "35 degC"}, None),
        ("thermo_time_switch", {}, None),
        ("auxiliary_air", {"temperature": "20 degC"}, {"half"}),
        ("auxiliary_air", {"temperature": "70 degC"}, {"shut"}),
        ("auxiliary_air", {"temperature": "20 degC", "after": "5 min"}, {"shut"}),
        ("auxiliary_air", {"after": "6 min"}, {"shut"}),
        ("auxiliary_air", {"temperature": "50 degC"}, None),
        ("plate_travel", {}, {"free"}),
        ("plunger_return", {"where": "bench"}, {"falls"}),
        ("intake_smoke", {}, {"tight"}),
        ("accumulator_vent", {}, {"dry"}),
        ("pump_cutoff", {}, {"stops"}),
        ("hot_restart", {}, {"starts"}),
        ("filler_cap_response", {"state": "idle_warm"}, {"stumbles"}),
    ],
)
def test_the_flat_six_allows_what_it_should(
    check: str, stated: dict[str, str], allowed: set[str] | None
) -> None:
    here = conditions(check, **stated)
    holding = [
        set(limit.allowed)
        for limit in shipped_sheet("flat-six").limits_for(check)
        if isinstance(band(limit, here), Band)
    ]
    assert holding == ([] if allowed is None else [allowed])


@pytest.mark.parametrize(
    ("check", "stated"),
    [
        ("control_pressure_cold", {}),
        ("control_pressure_cold", {"regulator_temperature": "55 degC"}),
        ("control_pressure_cold", {"regulator_temperature": "20 degC", "heater": "plugged"}),
        ("control_pressure_warm", {"heater": "plugged", "voltage": "11.2 V"}),
        ("control_pressure_warm", {"heater": "unplugged", "voltage": "12 V"}),
        ("control_pressure_warm", {"after": "1 min"}),
        ("system_pressure", {"valve": "open"}),
        ("holding_pressure", {}),
        ("holding_pressure", {"after": "30 min"}),
        ("pump_delivery", {"voltage": "12 V"}),
        ("pump_delivery", {"duration": "30 s", "voltage": "13.5 V"}),
        ("exhaust_co", {}),
        ("exhaust_co", {"state": "cruise"}),
        ("injector_drip", {"below_opening": "1 bar"}),
    ],
)
def test_a_reading_in_other_circumstances_is_not_judged_and_hears_why(
    check: str, stated: dict[str, str]
) -> None:
    found = [
        band(limit, conditions(check, **stated)) for limit in shipped_sheet("flat-six").limits_for(check)
    ]
    assert found
    assert all(isinstance(one, NotJudged) and one.settle for one in found)


def test_a_wound_coil_is_allowed_more_ohms_when_hot() -> None:
    (cold,) = limits_at("cold_start_valve_resistance", temperature="20 degC")
    (hot,) = limits_at("cold_start_valve_resistance", temperature="70 degC")
    assert hot.high / cold.high == pytest.approx(1.195)  # copper, 0.39 % per K over 50 K


def test_a_height_takes_vacuum_from_the_gauge() -> None:
    (sea,) = limits_at("manifold_vacuum", state="idle_warm", needle="steady", altitude="0 m")
    (hill,) = limits_at("manifold_vacuum", state="idle_warm", needle="steady", altitude="1000 m")
    assert sea.low - hill.low == pytest.approx(0.11 * BAR)


def test_the_flat_six_has_its_values() -> None:
    sheet = shipped_sheet("flat-six")
    assert sheet.cylinders == 6
    assert sheet.values["firing_order"].value == (1, 6, 2, 4, 3, 5)
    assert sheet.values["firing_order"].text == "1-6-2-4-3-5"
    assert sheet.number("displacement") == pytest.approx(2.7e-3)
    assert sheet.number("screw_start") == pytest.approx(0.5)
    assert [sheet.number(f"opening_{name}") for name in ("idle", "part", "full")] == pytest.approx(
        [3e-3, 20e-3, 55e-3]
    )
    assert sheet.number("fuel_reference_density") == pytest.approx(745.0)
    assert sheet.devices >= {"points_ignition", "accumulator"}
    assert "oxygen_control" not in sheet.devices
    assert sheet.value("click_angle") is None
    assert sheet.click_turns is None


def differing(first: str, second: str) -> set[str]:
    """Names of values, checks of limits and devices in which two sheets differ."""
    a, b = shipped_sheet(first), shipped_sheet(second)
    names = {
        n
        for n in {*a.values, *b.values}
        if getattr(a.value(n), "text", "") != getattr(b.value(n), "text", "")
    }
    checks = {limit.check for limit in {*map(key, a.limits)} ^ {*map(key, b.limits)}}
    return names | checks | (a.devices ^ b.devices)


def key(limit):
    class Key(tuple):
        __slots__ = ()
        check = limit.check

    return Key((limit.check, limit.low, limit.high, limit.allowed, repr(limit.when), repr(limit.depends)))


@pytest.mark.parametrize(
    "pair", [(a, b) for i, a in enumerate(SHIPPED) for b in SHIPPED[i + 1 :]], ids="-".join
)
def test_two_sheets_differ_in_more_than_their_cylinders(pair: tuple[str, str]) -> None:
    assert len(differing(*pair) - {"cylinders", "firing_order", "line_map", "layout", "displacement"}) >= 8


def test_the_sheets_cover_the_kinds_of_such_engines() -> None:
    def having(name: str) -> set[object]:
        return {value.value for each in SHIPPED if (value := shipped_sheet(each).value(name)) is not None}

    assert having("cylinders") == {4, 5, 6, 8}
    assert having("layout") == {"inline", "flat", "vee"}
    assert having("plate_opens") == {"up", "down"}
    assert having("rotor_direction") == {"clockwise", "anticlockwise"}
    assert having("lines_swappable") == {"yes", "no"}
    assert having("screw_stop_allowed") == {"yes", "no"}
    assert having("filler_cap_past_plate") == {"yes", "no"}
    for device in FORM.devices:
        assert {device in shipped_sheet(each).devices for each in SHIPPED} == {True, False} or device in (
            "cold_start_valve",
            "thermo_time_switch",
            "auxiliary_air_valve",
        )


@pytest.mark.parametrize("name", SHIPPED)
def test_timing_is_set_standing_only_with_points(name: str) -> None:
    sheet = shipped_sheet(name)
    assert bool(sheet.limits_for("timing_static")) == ("points_ignition" in sheet.devices)
    assert sheet.limits_for("timing_running")


@pytest.mark.parametrize("name", SHIPPED)
def test_pressure_right_after_the_stop_lies_below_the_injectors_opening(name: str) -> None:
    (opening,) = limits_at("injector_opening_pressure", name)
    (stop,) = limits_at("holding_pressure", name, after="10 s")
    assert stop.high <= opening.low - 0.3 * BAR + 1.0


@pytest.mark.parametrize("name", SHIPPED)
def test_the_air_meter_of_a_sheet_passes_the_air_its_engine_asks_for(name: str) -> None:
    """Full air over full fuel comes near lambda 0.9, at a speed such engines reach."""
    sheet = shipped_sheet(name)
    value = {kind: sheet.number(kind) or 0.0 for kind in FORM.values if sheet.number(kind) is not None}
    gap = value["opening_full"] * tan(2 * pi * value["funnel_angle"])
    drop = 3.6e5 * (value["plunger_diameter"] / value["plate_diameter"]) ** 2 / value["lever_ratio"]
    air = 0.7 * 1.2 * pi * (value["plate_diameter"] + gap) * gap * sqrt(2 * drop / 1.2)
    lift = value["opening_full"] / value["lever_ratio"]
    slit = 0.67 * value["slit_width"] * lift * sqrt(2 * value["slit_pressure_drop"] / 745)
    fuel = 745 * slit * sheet.cylinders
    assert 0.80 <= air / fuel / 14.7 <= 1.0
    rpm = 60 * air / (0.85 * 1.2 * value["displacement"] / 2)
    assert 4500 <= rpm <= 6800
