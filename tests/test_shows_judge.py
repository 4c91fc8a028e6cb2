"""Readings put through ``evenpour judge`` end to end, against figures worked out beside each."""

from __future__ import annotations

import math
import statistics

import pytest
from scipy import stats

from evenpour.data import sheet_names
from shows_tools import (
    GAUGE_6,
    ROOT_3,
    U_GAUGE_6,
    answered,
    claims,
    did,
    engine,
    entry,
    judged,
    one,
    p_between,
    pathed,
    reading,
    time,
)

KEYS = {"what", "cylinder", "value", "unit", "u", "limit", "p_within", "verdict", "settle"}
PSI = 6894.757293168  # [Pa]
BY = 'instrument = "gauge"\n'


def instrument(name: str, **fields: object) -> str:
    written = "".join(f"{key} = {value!r}\n".replace("'", '"') for key, value in fields.items())
    return f'\n[[instrument]]\nid = "{name}"\n{written}'


# ---------------------------------------------------------------------------------- exactly the formula


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (4.95, "within"),
        (4.77, "within"),  # 1.87 u above the lower side: 0.969
        (4.75, "cannot_tell"),  # 1.33 u: 0.909
        (4.70, "cannot_tell"),  # on the limit: a half
        (4.65, "cannot_tell"),
        (4.63, "outside"),
        (5.14, "cannot_tell"),  # 1.60 u below the upper side: 0.945
        (5.13, "within"),
        (5.30, "outside"),
    ],
)
def test_the_probability_of_conformity_is_the_normal_one(value: float, verdict: str) -> None:
    row = one(engine() + GAUGE_6 + reading("system_pressure", f"{value} bar", more=BY))
    assert row["u"] == pytest.approx(U_GAUGE_6, rel=1e-9)
    assert row["p_within"] == pytest.approx(p_between(value, U_GAUGE_6, 4.7, 5.2), abs=1e-9)
    assert row["verdict"] == verdict
    assert (row["settle"] is None) == (verdict != "cannot_tell")


def test_an_open_side_counts_as_one_or_nought() -> None:
    low = one(engine() + GAUGE_6 + reading("holding_pressure", "1.85 bar", 'after = "10 min"', BY))
    assert (low["limit"]["low"], low["limit"]["high"]) == (pytest.approx(1.8), None)
    assert low["p_within"] == pytest.approx(p_between(1.85, low["u"], 1.8, None), abs=1e-9)
    hydrocarbons = one(engine() + reading("exhaust_hc", "390 ± 20 ppm", 'state = "idle_warm"'))
    assert hydrocarbons["p_within"] == pytest.approx(p_between(390, 20 / ROOT_3, None, 400), abs=1e-9)


@pytest.mark.parametrize("values", [(4.60, 4.90), (4.55, 4.75, 4.95), (4.70, 4.85, 4.60, 4.95, 4.78)])
def test_few_repeats_a_minute_apart_count_by_student(values: tuple[float, ...]) -> None:
    """Mean of n; u from s/sqrt(n) and the gauge; effective freedoms by Welch-Satterthwaite, truncated."""
    text = "".join(
        reading("system_pressure", f"{value} bar", more=BY + time(10, minute))
        for minute, value in enumerate(values)
    )
    row = one(engine() + GAUGE_6 + text)
    n, mean = len(values), statistics.fmean(values)
    scatter = statistics.stdev(values) / math.sqrt(n)
    u = math.hypot(scatter, U_GAUGE_6)
    dof = math.floor(u**4 / (scatter**4 / (n - 1)))
    expected = stats.t.cdf((5.2 - mean) / u, dof) - stats.t.cdf((4.7 - mean) / u, dof)
    assert (row["n"], row["dof"]) == (n, dof)
    assert row["value"] == pytest.approx(mean, abs=1e-9)
    assert row["u"] == pytest.approx(u, rel=1e-9)
    assert row["p_within"] == pytest.approx(expected, abs=1e-9)
    assert row["verdict"] == "cannot_tell"
    assert f"instead of {n}" in row["settle"] or "gauge" in row["settle"] or "nothing" in row["settle"]


def test_repeats_without_times_are_one_reading_and_a_touch_between_makes_two() -> None:
    twice = reading("plate_rest_height", "0.5 mm") + reading("plate_rest_height", "0.6 mm")
    (row,) = judged(engine() + twice)
    assert row["n"] == 2
    timed = reading("plate_rest_height", "0.5 mm", more=time(10)) + reading(
        "plate_rest_height", "1.6 mm", more=time(10, 9)
    )
    first, second = judged(engine() + timed + did("adjusted", "plate_rest", time(10, 5)))
    assert [first["n"], second["n"]] == [1, 1]
    assert [first["stands"], second["stands"]] == [False, True]
    assert [first["verdict"], second["verdict"]] == ["within", "outside"]


@pytest.mark.parametrize(
    ("between", "spoils"),
    [
        (entry("step", time(10, 5), id="distributor_on_base", done=True), True),  # the plate is handled
        (entry("step", time(10, 5), id="distributor_on_base", done=False, reason="on"), False),
        (entry("step", time(10, 5), id="release_pressure", done=True), False),  # no part of this proof
    ],
)
def test_a_step_that_spoils_the_proof_between_two_readings_keeps_them_apart(
    between: str, spoils: bool
) -> None:
    text = (
        engine()
        + reading("plate_rest_height", "0.5 mm", more=time(10))
        + between
        + reading("plate_rest_height", "0.6 mm", more=time(10, 10))
    )
    assert [row["n"] for row in judged(text)] == ([1, 1] if spoils else [2])
    if spoils:  # and the claim stands on the new reading alone
        assert ("plate_rest_right", None) in claims(pathed(text), "proved")


def test_a_step_parts_only_the_readings_that_rest_on_what_it_handles() -> None:
    """Setting the points moves the timing; a plug out at cylinder 2 does not."""
    cold = reading("timing_static", "5 deg", more=time(10))
    again = reading("timing_static", "5 deg", more=time(10, 10))
    points = entry("step", time(10, 5), id="points_and_dwell", done=True)
    assert [row["n"] for row in judged(engine() + cold + points + again)] == [1, 1]
    leads = entry("step", time(10, 5), id="plugs_out", done=True, cylinder=2)
    assert [row["n"] for row in judged(engine() + cold + leads + again)] == [2]


def test_a_backfire_between_two_readings_keeps_apart_what_it_spoils() -> None:
    def idle(speed: str, minute: int) -> str:
        return reading("idle_speed", speed, 'state = "idle_warm"', time(10, minute))

    backfire = entry("happened", time(10, 5), what="backfire")
    text = engine() + idle("900 rpm", 0) + backfire + idle("910 rpm", 10)
    assert [row["n"] for row in judged(text)] == [1, 1]
    assert ("idle_speed_right", None) in claims(pathed(text), "proved")


def test_the_doubt_of_the_regulators_temperature_counts_through_the_slope() -> None:
    """0.5 bar + 0.05 bar/degC * T, ± 0.15 bar; ± 1 degC at the regulator is ± 0.05 bar."""
    stated = 'regulator_temperature = "18 ± 1 degC"'
    row = one(engine() + GAUGE_6 + reading("control_pressure_cold", "1.45 bar", stated, BY))
    u = math.hypot(U_GAUGE_6, 0.05 / ROOT_3)
    assert (row["limit"]["low"], row["limit"]["high"]) == (pytest.approx(1.25), pytest.approx(1.55))
    assert row["u"] == pytest.approx(u, rel=1e-9)
    assert row["p_within"] == pytest.approx(p_between(1.45, u, 1.25, 1.55), abs=1e-9)
    exact = one(
        engine()
        + GAUGE_6
        + reading("control_pressure_cold", "1.45 bar", 'regulator_temperature = "18 ± 0.2 degC"', BY)
    )
    assert exact["u"] == pytest.approx(math.hypot(U_GAUGE_6, 0.01 / ROOT_3), rel=1e-9)


def test_a_ten_bar_gauge_of_class_one_six_can_hardly_judge_the_cold_band() -> None:
    big = instrument("big", kind="pressure gauge", range="10 bar") + "class = 1.6\n"
    row = one(
        engine()
        + big
        + reading(
            "control_pressure_cold", "1.40 bar", 'regulator_temperature = "18 degC"', 'instrument = "big"\n'
        )
    )
    assert row["verdict"] == "cannot_tell"  # even in the very middle
    assert "gauge" in row["settle"]
    status, answer, _ = answered("path", engine() + big)  # said before anything is read
    assert status == 0
    (said,) = (words for words in answer["foresee"] if words.startswith("Control pressure, cold"))
    assert "no value at all could be called within" in said
    assert "0 to 6 bar gauge of class 1.0 would do" in said


@pytest.mark.parametrize(
    ("what", "conditions", "named"),
    [
        ("control_pressure_cold", "", "regulator's temperature"),
        ("control_pressure_cold", 'temperature = "18 degC"', "regulator's temperature"),
        ("holding_pressure", "", "time"),
        ("pump_delivery", 'voltage = "12 V"', "time"),
        ("exhaust_co", "", "how the engine ran"),
        ("exhaust_lambda", "", "how the engine ran"),
        ("idle_speed", "", "how the engine ran"),
        ("thermo_time_switch", "", "temperature"),
        ("auxiliary_air", "", "temperature"),
        ("onset", 'through = "lines"', "no limit"),
        ("pump_current", "", None),
        ("control_pressure_cold", 'regulator_temperature = "55 degC"', "0 to 50"),
        ("control_pressure_warm", 'voltage = "11.2 V"', "11.5 V"),
        ("holding_pressure", 'after = "25 min"', "10 to 20 min"),
        ("pump_delivery", 'duration = "30 s", voltage = "14 V"', "11 to 13"),
        ("thermo_time_switch", 'temperature = "35 degC"', "below 30"),
        ("exhaust_co", 'state = "cruise"', "idle warm"),
    ],
)
def test_a_condition_that_is_missing_or_beyond_the_limits_range_is_named(
    what: str, conditions: str, named: str | None
) -> None:
    values = {
        "control_pressure_cold": "1.4 bar",
        "control_pressure_warm": "3.6 bar",
        "holding_pressure": "2 bar",
        "pump_delivery": "900 ml",
        "exhaust_co": "1.5 %",
        "exhaust_lambda": "0.96",
        "idle_speed": "900 rpm",
        "thermo_time_switch": "closed",
        "auxiliary_air": "half",
        "onset": "1/4 turn",
        "pump_current": "7 A",
    }
    row = one(engine() + reading(what, values[what], conditions))
    if named is None:
        assert row["verdict"] == "within"
        return
    assert (row["verdict"], row["p_within"], row["limit"]) == ("cannot_tell", None, None)
    assert named in row["settle"]


@pytest.mark.parametrize(
    ("what", "value", "conditions", "verdict"),
    [
        ("plate_travel", "free", "", "within"),
        ("plate_travel", "binds", "", "outside"),
        ("injector_drip", "drips", "", "outside"),
        ("injector_spray", "even", "", "within"),
        ("thermo_time_switch", "closed", 'temperature = "18 degC"', "within"),
        ("thermo_time_switch", "open", 'temperature = "18 degC"', "outside"),
        ("thermo_time_switch", "open", 'temperature = "113 degF"', "within"),
        ("auxiliary_air", "half", 'temperature = "68 degF"', "within"),
        ("auxiliary_air", "shut", 'temperature = "20 degC"', "outside"),
        ("auxiliary_air", "shut", 'temperature = "70 degC"', "within"),
        ("auxiliary_air", "shut", 'temperature = "20 degC", after = "5 min"', "within"),
        ("hot_restart", "long crank", "", "outside"),
        ("start_outcome", "runs", "", "within"),
        ("intake_smoke", "tight", 'seats = "fitted"', "within"),
    ],
)
def test_a_choice_is_held_against_the_allowed_ones(
    what: str, value: str, conditions: str, verdict: str
) -> None:
    cylinder = "cylinder = 2\n" if what.startswith("injector") else ""
    row = one(engine() + reading(what, value, conditions, cylinder))
    assert (row["verdict"], row["p_within"]) == (verdict, 1.0 if verdict == "within" else 0.0)
    assert set(row["limit"]) >= {"allowed", "source"}
    assert (value.replace(" ", "_") in row["limit"]["allowed"]) == (verdict == "within")
    assert row["unit"] is None
    assert row["value"] == value.replace(" ", "_")


# ------------------------------------------------------------------------------------- units, displays


def test_psi_and_fahrenheit_are_judged_and_answered_in_psi() -> None:
    """20 psi with the regulator at 64.4 degF, which is 18 degC: 1.25 to 1.55 bar."""
    gauge = instrument("gauge", kind="pressure gauge", range="100 psi", error="1 psi", resolution="1 psi")
    row = one(
        engine()
        + gauge
        + reading("control_pressure_cold", "20 psi", 'regulator_temperature = "64.4 ± 1.8 degF"', BY)
    )
    u = math.hypot(math.hypot(1.0, 0.5), 0.05e5 / PSI) / ROOT_3
    low, high = 1.25e5 / PSI, 1.55e5 / PSI
    assert row["unit"] == "psi"
    assert (row["limit"]["low"], row["limit"]["high"]) == (pytest.approx(low), pytest.approx(high))
    assert row["u"] == pytest.approx(u, rel=1e-6)
    assert row["p_within"] == pytest.approx(p_between(20.0, u, low, high), abs=1e-6)


@pytest.mark.parametrize(("unit", "millilitres"), [("fl oz", 29.5735295625), ("imp fl oz", 28.4130625)])
def test_the_fluid_ounces_of_both_sides_of_the_ocean(unit: str, millilitres: float) -> None:
    stated = 'duration = "30 ± 0.5 s", voltage = "12 ± 0.1 V"'
    row = one(engine() + reading("pump_delivery", f"30 ± 0.3 {unit}", stated))
    caught, low = 30 * millilitres, 850.0
    u = math.sqrt((0.3 * millilitres) ** 2 + (850 * 0.5 / 30) ** 2 + (850 * 0.1 * 0.1) ** 2) / ROOT_3
    assert row["p_within"] == pytest.approx(p_between(caught, u, low, None), abs=1e-6)
    assert row["u"] * millilitres == pytest.approx(u, rel=1e-4)
    assert ("US" in row["unit"]) == (unit == "fl oz")


def test_delivery_asks_for_more_in_a_longer_time_and_at_a_higher_voltage() -> None:
    row = one(engine() + reading("pump_delivery", "1.9 l", 'duration = "60 s", voltage = "12.5 V"'))
    assert row["limit"]["low"] == pytest.approx(0.850 * 2 * 1.05)


@pytest.mark.parametrize(("scale", "ratio"), [("14.7", 14.7), ("14.1", 14.1)])
def test_an_afr_display_is_read_by_its_own_scale(scale: str, ratio: float) -> None:
    display = instrument("wideband", kind="wideband display", error="0.1 AFR") + (
        f'scale = "{scale} AFR at lambda 1"\n'
    )
    row = one(
        engine()
        + display
        + reading("exhaust_lambda", "13.6 AFR", 'state = "idle_warm"', 'instrument = "wideband"\n')
    )
    u = 0.1 / ratio / ROOT_3
    assert row["value"] == pytest.approx(13.6 / ratio)
    assert row["u"] == pytest.approx(u, rel=1e-9)
    assert row["p_within"] == pytest.approx(p_between(13.6 / ratio, u, 0.95, 0.97), abs=1e-9)


def test_afr_without_an_instrument_is_14_7_times_lambda() -> None:
    row = one(engine() + reading("exhaust_lambda", "14.112 AFR", 'state = "idle_warm"'))
    assert row["value"] == pytest.approx(0.96)


@pytest.mark.parametrize("value", ["open", "OL"])
def test_an_open_circuit_is_answered_as_open(value: str) -> None:
    row = one(engine() + reading("regulator_heater_resistance", value, 'temperature = "20 degC"'))
    assert (row["value"], row["verdict"], row["p_within"]) == ("open", "outside", 0.0)
    assert (row["limit"]["low"], row["limit"]["high"]) == (18.0, 26.0)


@pytest.mark.parametrize(
    ("what", "value", "conditions", "words"),
    [
        ("system_pressure", "48 bar", "", "4.8 bar"),
        ("system_pressure", "70 bar", "", "70 psi"),
        ("pump_delivery", "-5 ml", 'duration = "30 s"', "below zero"),
        ("system_pressure", "4.8", "", "bar"),
        ("system_pressure", "4.8 ohm", "", "bar"),
        ("compression", "10 bar", "", "cylinder"),
        ("exhaust_lambda", "14.1", 'state = "idle_warm"', "AFR"),
    ],
)
def test_a_value_out_of_sense_is_questioned_never_kept_or_dropped(
    what: str, value: str, conditions: str, words: str
) -> None:
    status, answer, error = answered("judge", engine() + reading(what, value, conditions))
    assert (status, answer) == (2, None)
    assert words in error


# -------------------------------------------------------------------------------------- files and sheets

MANY = [
    ("system_pressure", "4.9 bar", ""),
    ("control_pressure_cold", "1.4 bar", 'regulator_temperature = "18 degC"'),
    ("control_pressure_warm", "3.55 bar", 'voltage = "12.4 V", heater = "on", after = "4 min"'),
    ("holding_pressure", "1.9 bar", 'after = "15 min", pinched = "none"'),
    ("holding_pressure", "1.7 bar", 'after = "20 min", pinched = "feed"'),
    ("pump_delivery", "900 ml", 'duration = "30 s", voltage = "12 V"'),
    ("injector_opening_pressure[1]", "3.3 bar", ""),
    ("injector_opening_pressure[2]", "3.9 bar", ""),
    ("injector_drip[3]", "dry", ""),
    ("injector_spray[3]", "streaky", ""),
    ("regulator_heater_resistance", "22 ohm", 'temperature = "20 degC"'),
    ("cold_start_valve_resistance", "4 ohm", ""),
    ("cold_start_valve_drip", "dry", ""),
    ("thermo_time_switch", "closed", 'temperature = "15 degC"'),
    ("auxiliary_air", "half", 'temperature = "20 degC"'),
    ("plate_rest_height", "0.4 mm", ""),
    ("plate_travel", "free", ""),
    ("intake_smoke", "tight", ""),
    ("exhaust_co", "1.4 %", 'state = "idle_warm"'),
    ("exhaust_lambda", "0.96", 'state = "idle_warm"'),
    ("idle_speed", "900 rpm", 'state = "idle_warm"'),
    ("timing_static", "5 deg", ""),
    ("compression[1]", "10.4 bar", ""),
    ("start_outcome", "runs", ""),
    ("hot_restart", "long_crank", ""),
    ("spark_seen[1]", "yes", ""),
    ("manifold_vacuum", "0.55 bar", 'state = "idle_warm"'),
    ("onset", "+1/4 turn", 'through = "lines"'),
]


def many() -> str:
    text = ""
    for what, value, conditions in MANY:
        check, _, cylinder = what.removesuffix("]").partition("[")
        text += reading(check, value, conditions, f"cylinder = {cylinder}\n" if cylinder else "")
    return text


@pytest.mark.parametrize("sheet", sheet_names())
def test_every_sheet_answers_every_reading_by_the_same_rule(sheet: str) -> None:
    assert len(sheet_names()) == 8
    rows = judged(engine(sheet) + many())
    assert len(rows) == len(MANY)
    for row in rows:
        assert set(row) >= KEYS
        limit, p = row["limit"], row["p_within"]
        if limit is None:
            assert (p, row["verdict"]) == (None, "cannot_tell")
            assert row["settle"]
            continue
        assert limit["source"]
        if limit["allowed"]:
            assert p == float(row["value"] in limit["allowed"])
        else:
            assert p == pytest.approx(
                p_between(row["value"], row["u"], limit["low"], limit["high"]), abs=1e-9
            )
        assert row["verdict"] == ("within" if p >= 0.95 else "outside" if p <= 0.05 else "cannot_tell")
        assert (row["settle"] is None) == (row["verdict"] != "cannot_tell")


def test_a_sheet_and_one_reading_are_a_whole_job() -> None:
    row = one(engine("inline-four") + reading("plate_travel", "free"))
    assert row["verdict"] == "within"


def test_conditions_of_the_job_hold_for_readings_that_state_none_of_their_own() -> None:
    general = '\n[conditions]\nregulator_temperature = "10 degC"\naltitude = "240 m"\nfuel = "E5"\n'
    file = (
        engine()
        + general
        + reading("control_pressure_cold", "1.00 bar")
        + reading("control_pressure_cold", "1.40 bar", 'regulator_temperature = "18 degC"')
    )
    first, second = judged(file)
    assert [first["limit"]["low"], second["limit"]["low"]] == [pytest.approx(0.85), pytest.approx(1.25)]
    assert [first["verdict"], second["verdict"]] == ["within", "within"]


def test_the_exit_status_tells_of_a_reading_outside_but_not_of_one_read_again_since() -> None:
    low = reading("system_pressure", "4.0 bar", more=time(10))
    again = reading("system_pressure", "4.9 bar", more=time(12))
    assert answered("judge", engine() + low)[0] == 1
    assert answered("judge", engine() + low + again)[0] == 0
    assert answered("judge", engine() + reading("exhaust_co", "1.5 %"))[0] == 0


def test_spreads_are_worked_out_once_every_cylinder_is_read() -> None:
    some = "".join(
        reading("compression", f"{value} bar", more=f"cylinder = {number}\n")
        for number, value in enumerate((10.9, 10.7, 9.2, 10.6), start=1)
    )
    rows = judged(engine("inline-four") + some)
    (spread,) = [row for row in rows if row["what"] == "compression_spread"]
    assert spread["value"] == pytest.approx(1.7)
    # 0.25 bar is assumed of each gauge; the height above the sea, not stated, is the same for all cylinders.
    assert spread["u"] == pytest.approx(0.25 / math.sqrt(3.0) * math.sqrt(2.0), rel=1e-6)
    rows = judged(engine("flat-six") + some)
    assert "compression_spread" not in {row["what"] for row in rows}


def test_a_note_who_and_photo_change_no_verdict() -> None:
    more = 'note = "first of the day"\nwho = "AB"\nphoto = "a.jpg"\n' + time(10)
    row = one(engine() + reading("plate_travel", "free", more=more) + entry("note", text="fine"))
    assert row["verdict"] == "within"


def test_an_error_nobody_stated_is_assumed_aloud() -> None:
    def notes(temperature: str) -> str:
        stated = f'regulator_temperature = "{temperature}"'
        return "; ".join(one(engine() + reading("control_pressure_cold", "1.40 bar", stated))["notes"])

    assert "no instrument stated" in notes("18 degC")
    assert "no error stated for the regulator's temperature: ± 1 °C assumed" in notes("18 degC")
    assert "no error stated" not in notes("18 ± 0.5 degC")
