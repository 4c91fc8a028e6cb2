"""What the catalogue of causes answers on cases out of the trade's textbook, each told whole."""

from __future__ import annotations

import pytest

from evenpour.errors import FieldProblem
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.causes.clashes import as_typed
from evenpour.job.causes.facts import observations
from evenpour.job.engine_model import checks_predicted, kind_of_sheet
from evenpour.job.sheet.found import known_checks
from evenpour.machine.checks import NumberCheck, predicted_checks
from job_examples import job_with


def answer(*readings: str, sheet: str = "flat-six", fuel: str = "E5") -> CausesAnswer:
    """What is answered to readings, each told as ``what = value; condition = word, ...; cylinder``."""
    text = [f'[conditions]\nambient_temperature = "18 degC"\nfuel = "{fuel}"\n']
    for reading in readings:
        told, _, rest = reading.partition(";")
        what, _, value = told.partition("=")
        conditions, _, cylinder = rest.partition(";")
        words = [one.partition("=") for one in conditions.split(",") if one.strip()]
        stated = ", ".join(f'{name.strip()} = "{word.strip()}"' for name, _, word in words)
        text.append(f'[[reading]]\nwhat = "{what.strip()}"\nvalue = "{value.strip()}"\n')
        text.append(f"conditions = {{ {stated} }}\n" if stated else "")
        text.append(f"cylinder = {cylinder.strip()}\n" if cylinder.strip() else "")
    return causes_answer(job_with(*text, sheet=sheet))


def likelihood(told: CausesAnswer, *causes: str) -> float:
    """Of any of these causes, alone or with another."""
    return sum(
        line.probability
        for line in told.causes
        if line.cause in causes or (line.with_ is not None and line.with_.cause in causes)
    )


def test_a_battery_that_is_flat_and_not_charged_is_told_by_what_is_read_on_it() -> None:
    told = answer(
        "battery_voltage = 11.7 V; load = rested",
        "battery_voltage = 8.8 V; load = cranking",
        "battery_voltage = 12.4 V; load = charging",
        "pump_voltage = 10.2 V; where = pump_terminals",
        "start_outcome = no_fire; engine = cold",
    )
    assert likelihood(told, "charging_poor") > 0.8
    assert not [one.what for one in told.clashes]


def test_a_pump_that_gets_what_a_battery_without_its_generator_gives_has_no_wiring_to_blame() -> None:
    low = "pump_voltage = 12.1 V; engine = idle"
    alone = answer(low)
    charged = answer(low, "battery_voltage = 14.1 V; load = charging")
    not_charged = answer(low, "battery_voltage = 12.5 V; load = charging")
    wiring = [likelihood(told, "pump_voltage_low") for told in (not_charged, alone, charged)]
    assert wiring == sorted(wiring)
    assert charged.causes[0].cause == "pump_voltage_low"
    assert wiring[2] > 0.4  # two volts under what charges: the wiring, or lamps and fans that nobody told of
    assert alone.next_checks[0].what == "battery_voltage"
    assert alone.next_checks[0].state.endswith("charging")
    assert likelihood(not_charged, "charging_poor") > 0.8


def test_an_open_circuit_is_believed_as_a_word_is_and_read_again_where_it_stands_alone() -> None:
    alone = answer("cold_start_valve_resistance = open")
    assert 0.3 < likelihood(alone, "cold_start_valve_dead") < 0.8
    assert alone.next_checks[0].what == "cold_start_valve_resistance"
    with_its_symptom = answer(
        "cold_start_valve_resistance = open", "cold_start_valve_spray = none", "idle_speed = 900 rpm"
    )
    assert likelihood(with_its_symptom, "cold_start_valve_dead") > 0.97


def test_of_ohms_it_is_said_how_often_open_is_misread_and_of_nothing_else() -> None:
    numbers = [one for one in checks_predicted().values() if isinstance(one, NumberCheck)]
    ohms = {one.check for one in numbers if one.misread}
    assert ohms == {one.check for one in numbers if known_checks()[0][one.check].dimension == "resistance"}
    checks, _ = known_checks()
    for check, misread in (("compression", 0.01), ("spark_lead_resistance", 0.0)):
        table = {"check": check, "compare": "plain", "repeats": "1 %", "model": "1 %", "misread": misread}
        with pytest.raises(FieldProblem, match="misread"):
            predicted_checks({"number": [table | LIKE[check]], "choice": [], "not_predicted": []}, checks)


LIKE = {
    "compression": {"repeats": "0.1 bar", "model": "0.1 bar"},
    "spark_lead_resistance": {"compare": "log", "floor": "50 ohm"},
}


def test_what_the_engine_does_not_have_and_what_the_model_cannot_read_is_left_out_and_said() -> None:
    told = answer("lambda_duty = 82 %", "earth_drop = 0.6 V", "spark_seen = no;; 2", sheet="inline-five")
    assert not told.clashes
    assert [line for line in told.left_out if "duty" in line and "no control by an oxygen sensor" in line]
    assert [line for line in told.left_out if "0.6" in line and "makes no difference" in line]
    assert told.readings == 1  # the spark


HOSE = "state the vacuum on the regulator or unit, below the air around (applied or none)"
IDLES_WELL = (
    "system_pressure = 5.5 bar; valve = shut", "exhaust_co = 1.2 %; state = idle_warm, air_pump = off",
    "control_pressure_cold = 1.6 bar; regulator_temperature = 18 degC",
    "idle_speed = 700 rpm; state = idle_warm",
)  # fmt: skip


@pytest.mark.parametrize("hose", ["", "engine = idle", "vacuum = applied"])
def test_a_warm_pressure_behind_a_load_diaphragm_counts_once_its_vacuum_is_stated(hose: str) -> None:
    """It stands half a bar apart with the hose on and off, so that either may be a sound car's."""
    told = answer(*IDLES_WELL, f"control_pressure_warm = 3.65 bar; {hose}", sheet="vee-eight")
    left_out = [line for line in told.left_out if line.startswith("the control pressure, warm, 3.65 bar: ")]
    assert bool(left_out) is ("vacuum" not in hose)
    assert all(line.endswith(HOSE) for line in left_out)
    assert not told.clashes
    assert told.nothing_wrong > 0.3  # as long as it was taken for one with the hose off: next to nothing
    assert told.readings == len(IDLES_WELL) + ("vacuum" in hose)


def test_where_no_diaphragm_is_nobody_has_to_state_its_vacuum() -> None:
    told = answer("control_pressure_warm = 3.6 bar", "valve_clearance = 0.1 mm;; 2")
    assert (told.left_out, told.readings) == ([], 2)


def test_a_valves_clearance_counts_once_it_is_said_of_which_valve() -> None:
    told = answer("valve_clearance = 0.45 mm;; 2", "valve_clearance = 0.25 mm; where = inlet_valve; 2",
                  sheet="inline-five")  # fmt: skip
    assert told.readings == 1
    assert [line for line in told.left_out if "0.45 mm" in line and "(inlet_valve or exhaust_valve)" in line]


@pytest.mark.parametrize(
    ("what", "typed", "told"),
    [("system_pressure", "4.9 psi", "the system pressure, 0.34 bar (typed 4.9 psi)"),
     ("system_pressure", "4.9 bar", "the system pressure, 4.90 bar"),
     ("exhaust_lambda", "15.9 AFR", "lambda, 1.082 (typed 15.9 AFR)")],
)  # fmt: skip
def test_what_does_not_go_with_the_rest_is_told_as_it_was_typed_too(what: str, typed: str, told: str) -> None:
    job = job_with(f'[[reading]]\nwhat = "{what}"\nvalue = "{typed}"\n')
    assert [as_typed(job, one) for one in observations(job, kind_of_sheet(job.sheet))] == [told]


def test_what_was_read_twice_and_contradicts_itself_is_the_next_thing_to_be_read() -> None:
    told = answer(
        "compression = 10.4 bar;; 1", "compression = 10.5 bar;; 2", "compression = 7 bar;; 2",
        "compression = 10.5 bar;; 3",
    )  # fmt: skip
    first = told.next_checks[0]
    assert (first.what, first.cylinder) == ("compression", 2)
    assert "7.00 bar and 10.50 bar" in first.why
    outvoted = answer(*["compression = 10.5 bar;; 2"] * 2, "compression = 7 bar;; 2")
    assert all((one.what, one.cylinder) != ("compression", 2) for one in outvoted.next_checks)


def test_a_voltage_that_rises_too_high_is_the_generators_regulator_and_no_slip_of_the_unit() -> None:
    told = answer("battery_voltage = 16.8 V; load = charging", "battery_voltage = 12.8 V; load = rested")
    assert likelihood(told, "charging_high") > 0.6
    assert not told.clashes


def test_a_pump_that_brings_enough_and_holds_too_little_head_has_a_tired_relief_valve() -> None:
    told = answer(
        "pump_delivery = 1080 ml; duration = 30 s, pump_voltage = 12.2 V, where = distributor_return",
        "pump_delivery = 1250 ml; duration = 30 s, pump_voltage = 12.2 V, where = before_filter",
        "pump_deadhead = 5.9 bar",
        "pump_voltage = 12.2 V; where = pump_terminals",
    )
    assert max(told.causes, key=lambda line: line.probability).cause == "pump_relief_weak"
    assert likelihood(told, "pump_relief_weak") > 0.5


def test_as_little_before_the_filter_as_at_the_return_and_rust_in_the_sample_say_the_strainer() -> None:
    told = answer(
        "pump_delivery = 610 ml; duration = 40 s, pump_voltage = 12.4 V, where = distributor_return",
        "pump_delivery = 640 ml; duration = 40 s, pump_voltage = 12.4 V, where = before_filter",
        "pump_deadhead = 6.7 bar",
        "fuel_look = rust; where = before_filter",
        sheet="inline-six",
    )
    assert likelihood(told, "feed_starved") > 0.8
    assert not told.clashes


def test_a_valve_set_too_tight_that_still_shuts_and_one_too_wide_leave_the_compression_right() -> None:
    sound = [f"valve_clearance = 0.25 mm; engine = cold, where = inlet_valve; {own}" for own in (1, 3, 4)]
    for gap in ("0.08 mm", "0.45 mm"):
        told = answer(
            f"valve_clearance = {gap}; engine = cold, where = inlet_valve; 2",
            "compression = 11.0 bar; throttle = wide; 2",
            *sound,
            sheet="inline-five",
        )
        # read once, a gap this wrong may as well be a slip; of the causes it is far the likeliest
        assert max(told.causes, key=lambda line: line.probability).cause == "inlet_clearance_wrong"
        assert likelihood(told, "inlet_clearance_wrong") + likelihood(told, "valve_clearance_wrong") > 0.4
        assert all(clash.what != "compression" for clash in told.clashes)


def test_an_engine_low_on_compression_in_every_cylinder_is_worn_and_not_six_cylinders_are_ill() -> None:
    low = [f"compression = {bar} bar;; {own}" for own, bar in enumerate((7.6, 7.4, 7.8, 7.2, 7.5, 7.7), 1)]
    right = ["control_pressure_warm = 3.6 bar", "idle_speed = 900 rpm"]
    told = answer("system_pressure = 4.95 bar", *right, *low)
    assert max(told.causes, key=lambda line: line.probability).cause == "engine_worn"
    assert told.nothing_wrong < likelihood(told, "engine_worn")
    one_alone = answer("system_pressure = 4.95 bar", *right, low[0], "compression = 10.4 bar;; 2")
    assert likelihood(one_alone, "compression_low") > likelihood(one_alone, "engine_worn")
    in_its_limits = answer(*(f"compression = 9.{tenths} bar;; {own}" for own, tenths in enumerate("685", 1)))
    assert in_its_limits.nothing_wrong > 5.0 * likelihood(in_its_limits, "engine_worn")


def test_a_regulator_that_stays_cold_and_an_auxiliary_valve_that_stays_open_hang_on_one_feed() -> None:
    cold = "control_pressure_warm = 1.6 bar; heater = plugged, after = 5 min"
    whole = ["regulator_heater_resistance = 22 ohm", "control_pressure_cold = 1.45 bar"]
    told = answer(cold, *whole, "auxiliary_air_pinch = drops; state = idle_warm", "idle_speed = 1350 rpm")
    assert likelihood(told, "warm_up_unfed") > 0.8
    shuts = answer(cold, *whole, "auxiliary_air_pinch = no_change; state = idle_warm", "idle_speed = 900 rpm")
    assert likelihood(shuts, "control_heater_unfed") > 5.0 * likelihood(shuts, "warm_up_unfed")


def test_a_third_of_the_control_flow_and_a_low_pressure_warm_are_a_clogged_feed_and_no_low_stop() -> None:
    right = [
        "control_pressure_cold = 1.5 bar; regulator_temperature = 20 degC, heater = unplugged",
        "regulator_heater_resistance = 22 ohm",
        "system_pressure = 4.85 bar",
    ]
    low = "control_pressure_warm = 2.75 bar; heater = plugged, after = 5 min, voltage = 12.4 V"
    for flow, cause in (("60 ml/min", "control_feed_restricted"), ("190 ml/min", "control_warm_low")):
        told = answer(low, f"control_flow = {flow}", *right, sheet="inline-four")
        assert likelihood(told, cause) > 0.7, flow
        assert not [one.what for one in told.clashes]
