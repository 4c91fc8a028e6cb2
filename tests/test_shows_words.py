"""A job file written from the published form alone: the words in which people name conditions and parts."""

from __future__ import annotations

import pytest

from shows_tools import answered, did, engine, one, pathed, reading, time

PARTS = """fuel_distributor, control_pressure_regulator, warm_up_regulator, primary_pressure_regulator,
fuel_pump, non_return_valve, accumulator, filter, plunger, line, lines, injector, injectors, cold_start_valve,
thermo_time_switch, auxiliary_air_valve, sensor_plate, funnel, mixture_screw, throttle, idle_air_screw,
pump_bridge, mixture_key, port, ports, differential_pressure_valve, injector_seal, seals, unions, Mixture key,
warm-up regulator, pump relay, relay, fuse, ignition coil, cold_start_valve_plug, spark plugs, gauge"""
WARM = 'voltage = "12.4 V", after = "5 min"'


@pytest.mark.parametrize("word", ["on", "plugged", "Plugged in", "connected"])
def test_a_heater_that_is_on_is_plugged(word: str) -> None:
    row = one(engine() + reading("control_pressure_warm", "3.6 bar", f'{WARM}, heater = "{word}"'))
    assert (row["verdict"], row["conditions"]["heater"]) == ("within", "plugged")


@pytest.mark.parametrize("word", ["off", "unplugged", "disconnected"])
def test_a_warm_reading_with_the_heater_off_is_not_judged(word: str) -> None:
    row = one(engine() + reading("control_pressure_warm", "3.6 bar", f'{WARM}, heater = "{word}"'))
    assert (row["verdict"], row["p_within"]) == ("cannot_tell", None)
    assert "heater" in row["settle"]


@pytest.mark.parametrize("place", ["throttle shaft", "intake boot", "runner 3", "injector 4, left side"])
def test_smoke_may_come_out_anywhere(place: str) -> None:
    row = one(engine() + reading("intake_smoke", "leaks", f'where = "{place}"'))
    assert (row["verdict"], row["p_within"]) == ("outside", 0.0)


def test_a_place_of_ones_own_is_no_place_the_limit_asks_for() -> None:
    stated = 'duration = "30 s", voltage = "12 V", where = "{}"'
    there = one(engine() + reading("pump_delivery", "950 ml", stated.format("return line")))
    elsewhere = one(engine() + reading("pump_delivery", "950 ml", stated.format("tank")))
    assert (there["verdict"], elsewhere["verdict"]) == ("within", "cannot_tell")


def test_a_place_that_is_nearly_a_known_one_is_asked_about() -> None:
    status, _, error = answered("judge", engine() + reading("plunger_return", "falls", 'where = "bnech"'))
    assert status == 2
    assert "bench" in error


def test_a_word_that_is_no_choice_is_refused_with_the_choices() -> None:
    status, _, error = answered(
        "judge", engine() + reading("control_pressure_warm", "3.6 bar", 'heater = "glowing"')
    )
    assert status == 2
    assert "plugged, unplugged" in error


@pytest.mark.parametrize(
    ("sheet", "part"),
    [("flat-six", part.strip()) for part in PARTS.split(",")]
    + [("flat-six-oxygen", part) for part in ("frequency_valve", "oxygen_sensor")],
)
def test_every_part_goes_on_the_put_back_list_and_off_it_again(sheet: str, part: str) -> None:
    goes_on_and_off(sheet, part, "removed", "refitted")


@pytest.mark.parametrize("part", ["fuel_pump", "injectors", "pump_bridge", "mixture_key", "cold_start_valve"])
@pytest.mark.parametrize(("on", "off"), [("disconnected", "reconnected"), ("fitted", "taken_out")])
def test_every_pair_of_actions_puts_on_and_takes_off(part: str, on: str, off: str) -> None:
    goes_on_and_off("flat-six", part, on, off)


def goes_on_and_off(sheet: str, part: str, on: str, off: str) -> None:
    before = engine(sheet) + did(on, part, time(10))
    (item, *others) = pathed(before)["put_back"]
    assert all(other["item"] == item["item"] for other in others)
    after = pathed(before + did(off, part, time(11)))
    assert (after["put_back"], after["questions"]) == ([], [])


def test_the_pumps_voltage_is_the_voltage_of_its_delivery() -> None:
    same = [
        one(engine() + reading("pump_delivery", "900 ml", f'duration = "30 s", {name} = "12.4 V"'))
        for name in ("voltage", "pump_voltage")
    ]
    assert same[0]["limit"]["low"] == same[1]["limit"]["low"] == 850.0 * 1.04
    assert same[0]["p_within"] == same[1]["p_within"]
    assert not any("12 V" in note for note in same[1]["notes"])


def test_the_temperature_of_its_body_is_the_regulators() -> None:
    row = one(engine() + reading("control_pressure_cold", "1.40 bar", 'body_temperature = "18 degC"'))
    assert row["verdict"] == "within"
    general = '\n[conditions]\nregulator_temperature = "30 degC"\n'
    row = one(
        engine() + general + reading("control_pressure_cold", "1.40 bar", 'body_temperature = "18 degC"')
    )
    assert row["verdict"] == "within"  # what the reading says of itself comes first
