"""What a workshop sees every year, answered as a good mechanic would. Common practice, no source."""

from __future__ import annotations

import pytest

from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.causes.groups import alike, whole
from job_examples import hourly, job_with

DAY = '[conditions]\nambient_temperature = "18 degC"\nfuel = "E5"\n'
SYSTEM = '[[reading]]\nwhat = "system_pressure"\nvalue = "{}"\nconditions = {{ valve = "shut" }}'
COLD = (
    '[[reading]]\nwhat = "control_pressure_cold"\nvalue = "{}"\n'
    'conditions = {{ valve = "open", heater = "unplugged", regulator_temperature = "{}" }}'
)
WARM = (
    '[[reading]]\nwhat = "control_pressure_warm"\nvalue = "{}"\nconditions = {{ valve = "open", '
    'heater = "plugged", after = "5 min", voltage = "{}", vacuum = "none" }}'
)


def read(what: str, value: str, conditions: str = "", cylinder: int | None = None) -> str:
    stated = f"\nconditions = {{ {conditions} }}" if conditions else ""
    at = "" if cylinder is None else f"\ncylinder = {cylinder}"
    return f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"{at}{stated}'


IDLE, OFF = 'state = "idle_warm"', 'state = "idle_warm", sensor = "off"'


def answer(sheet: str, *tables: str) -> CausesAnswer:
    return causes_answer(job_with(DAY, hourly(*tables), sheet=sheet))


def share(told: CausesAnswer, *causes: str) -> float:
    """How likely it is that one of these is at work, alone or beside another."""
    return sum(
        line.probability
        for line in told.causes
        if {line.cause, *(one.cause for one in line.also), line.with_ and line.with_.cause} & set(causes)
    )


def unexplained(told: CausesAnswer) -> list[str]:
    return [words for words in told.notes if words.startswith("Outside")]


RICH = (
    read("exhaust_co", "6.8 %", IDLE),
    SYSTEM.format("5.2 bar"),
    COLD.format("1.65 bar", "18 degC"),
    read("regulator_heater_resistance", "20.5 ohm"),
)
FEEDS = ("control_heater_unfed", "warm_up_unfed")


@pytest.mark.parametrize(
    "volts",
    [
        [WARM.format("1.75 bar", "0 V")],
        [read("regulator_heater_voltage", "0 V")],
        [WARM.format("1.75 bar", "0 V"), WARM.format("3.6 bar", "12.4 V")],  # fed from the battery
        [read("regulator_heater_voltage", "0 V"), WARM.format("3.6 bar", "12.4 V")],
        [WARM.format("3.6 bar", "12.4 V"), read("regulator_heater_voltage", "0 V")],
        [
            read("regulator_heater_voltage", "0 V"),
            WARM.format("1.75 bar", "12.4 V"),
        ],  # the battery's own volts
        [read("regulator_heater_voltage", "0 V"), WARM.format("1.75 bar", "11.0 V")],
    ],
)
def test_no_volts_at_the_heaters_plug_are_the_feeds(volts: list[str]) -> None:
    """Beside the pressure or as a reading of their own, and whatever the pressure is with the heater fed."""
    told = answer("vee-six", *RICH, *volts)
    assert share(told, *FEEDS) > 0.9
    assert told.causes[0].cause in FEEDS
    assert all(one.probability < 0.5 for one in told.clashes)


def test_no_volts_beside_a_pressure_of_the_idling_engine_are_the_feeds() -> None:
    told = answer("vee-six", *RICH, WARM.format("1.75 bar", "0 V").replace("}", f", {IDLE} }}"))
    assert share(told, *FEEDS) > 0.9
    assert all(one.probability < 0.5 for one in told.clashes)


@pytest.mark.parametrize("first", [True, False])
def test_no_volts_and_right_volts_with_nothing_done_between_are_both_asked_about(first: bool) -> None:
    """Twelve volts with the plug pulled and none under load: a contact that fails under load."""
    volts = [read("regulator_heater_voltage", "12.1 V"), WARM.format("1.75 bar", "0 V")]
    told = answer("vee-six", *RICH, *(volts if first else reversed(volts)))
    (clash,) = [one for one in told.clashes if one.what == "regulator_heater_voltage"]
    assert "contradict" in clash.words
    assert told.causes[0].cause in FEEDS
    assert told.next_checks[0].what == "regulator_heater_voltage"


def test_right_volts_at_the_heaters_plug_leave_its_feed_alone() -> None:
    told = answer(
        "vee-six", *RICH, WARM.format("1.75 bar", "12.4 V"), read("regulator_heater_voltage", "12.1 V")
    )
    assert share(told, *FEEDS) < 0.1


def test_a_battery_that_is_flat_where_nothing_fired_is_the_battery_s_own() -> None:
    """Of a car that stood, before anybody asks how it charges."""
    told = answer(
        "inline-four",
        read("start_outcome", "no_fire", 'engine = "cold"'),
        read("battery_voltage", "11.9 V", 'load = "rested"'),
        read("battery_voltage", "8.6 V", 'load = "cranking"'),
        SYSTEM.format("4.8 bar"),
    )
    assert told.causes[0].cause in ("battery_weak", "battery_dead")
    assert share(told, "charging_poor") < 0.35


def catch(through: str, *amounts: str) -> str:
    listed = ", ".join(f'"{one} ml"' for one in amounts)
    return f'[[catch]]\nthrough = "{through}"\nopening = "part"\nduration = "45 s"\namounts = [{listed}]'


def test_two_even_catches_that_are_fuller_than_usual_accuse_no_port() -> None:
    """The same wedge under the plate both times: how far it holds it up is known to some two millimetres."""
    told = answer(
        "flat-six",
        catch("lines", "50", "50.5", "49.5", "50.5", "49", "50.5"),
        catch("injectors", "50", "50", "49.5", "50.5", "49.5", "50"),
        read("exhaust_co", "1.4 %", IDLE),
        SYSTEM.format("4.95 bar"),
        WARM.format("3.6 bar", "12.5 V"),
    )
    assert not told.clashes
    assert told.nothing_wrong > max(one.probability for one in told.causes)
    assert share(told, "port_rich") < 0.1


@pytest.mark.parametrize("duty", ["44 %", "57 %"])
def test_a_mean_duty_inside_its_limits_accuses_nobody(duty: str) -> None:
    """How far a sound car's stands off the middle is the sheet's own limit."""
    told = answer(
        "inline-four-oxygen",
        read("lambda_duty", duty, f'{IDLE}, sensor = "connected"'),
        read("lambda_loop", "swings", f'{IDLE}, sensor = "connected"'),
        read("exhaust_co", "0.6 %", OFF),
        read("exhaust_o2", "0.7 %", OFF),
        SYSTEM.format("5.1 bar"),
        WARM.format("3.6 bar", "12.5 V"),
        read("intake_smoke", "tight"),
    )
    assert told.nothing_wrong > max(one.probability for one in told.causes)
    assert max(one.probability for one in told.causes) < 0.3


SILENT = (
    read("start_outcome", "runs_rough"),
    read("exhaust_lambda", "1.22", OFF),
    read("exhaust_co", "0.1 %", OFF),
    read("exhaust_o2", "4.4 %", OFF),
    SYSTEM.format("5.1 bar"),
    WARM.format("3.6 bar", "12.5 V"),
    read("intake_smoke", "tight"),
    read("frequency_valve_hum", "silent"),
)


@pytest.mark.parametrize(
    ("duty", "ohm", "causes"),
    [
        ("0 %", "2.4 ohm", ("oxygen_control_silent",)),  # the control unit drives nothing
        ("95 %", "2.4 ohm", ("oxygen_control_silent",)),  # it drives a lead that is open
        ("95 %", None, ("oxygen_control_silent", "frequency_coil_open", "frequency_coil_bad")),
    ],
)
def test_a_silent_frequency_valve_is_found_alone_whatever_its_duty_shows(
    duty: str, ohm: str | None, causes: tuple[str, ...]
) -> None:
    told = answer(
        "inline-four-oxygen",
        *SILENT,
        read("lambda_duty", duty, f'{IDLE}, sensor = "connected"'),
        *([] if ohm is None else [read("frequency_valve_resistance", ohm)]),
    )
    assert share(told, *causes) > 0.85
    alone = [one for one in told.causes if one.cause in causes and one.with_ is None and not one.also]
    assert sum(one.probability for one in alone) > 0.8
    assert not told.clashes


def test_what_is_outside_its_limit_and_explained_by_nothing_likely_is_not_passed_over() -> None:
    told = answer(
        "inline-four-oxygen",
        read("start_outcome", "runs"),
        read("plunger_return", "hesitates"),
        SYSTEM.format("5.1 bar"),
        WARM.format("3.6 bar", "12.5 V"),
        read("intake_smoke", "tight"),
        read("exhaust_co", "0.8 %", OFF),
    )
    note = "Outside its limit, and not explained by what is likeliest here: the plunger's return, hesitates."
    assert note in told.notes


def test_what_speaks_for_a_line_of_several_cylinders_is_not_called_unexplained() -> None:
    """One of six does not fire: which, nobody knows, and each alone is unlikely."""
    told = answer(
        "flat-six",
        read("start_outcome", "runs_rough"),
        read("exhaust_hc", "900 ppm", IDLE),
        read("exhaust_co", "1.2 %", IDLE),
        SYSTEM.format("4.95 bar"),
    )
    top = max(alike(told.causes), key=whole)
    assert len(top) == 6
    assert top[0].probability < 0.1
    assert not unexplained(told)


WELL = (
    WARM.format("3.6 bar", "12.5 V"),
    COLD.format("1.45 bar", "18 degC"),
    read("exhaust_co", "1.2 %", IDLE),
    read("idle_speed", "900 rpm", IDLE),
)
FINE = (
    '[[instrument]]\nid = "fine"\nkind = "pressure gauge"\nrange = "6 bar"\nclass = 0.1\n'
    'resolution = "0.005 bar"\n'
)


def test_what_is_named_as_clashing_or_near_its_limit_is_not_told_again() -> None:
    """A point misplaced is told above; a figure surely but just outside its limit is no news."""
    assert not unexplained(answer("flat-six", SYSTEM.format("0.495 bar"), *WELL))
    near = f'{SYSTEM.format("5.215 bar")}\ninstrument = "fine"'
    job = job_with(DAY, FINE, hourly(near, *WELL), sheet="flat-six")
    assert job.judged[0].verdict.verdict == "outside"
    assert not unexplained(causes_answer(job))


def test_what_fits_no_better_with_the_likeliest_than_without_it_is_not_explained_by_it() -> None:
    told = answer(
        "flat-six",
        read("plunger_return", "hesitates"),
        WARM.format("3.6 bar", "12.5 V"),
        read("exhaust_co", "6.8 %", IDLE),
    )
    assert told.causes[0].cause == "mixture_screw_rich"
    (note,) = unexplained(told)
    assert note.endswith("likeliest here: the plunger's return, hesitates.")


def test_several_that_nothing_explains_are_told_the_farthest_first() -> None:
    told = answer(
        "flat-six",
        read("plunger_return", "hesitates"),
        read("plate_travel", "binds"),
        SYSTEM.format("5.3 bar"),
        *WELL,
    )
    (note,) = unexplained(told)
    assert note == (
        "Outside their limits, and not explained by what is likeliest here: the system pressure, 5.30 bar; "
        "the plunger's return, hesitates."
    )


def test_a_pump_that_spits_a_little_is_starved_and_no_regulator_stands_open() -> None:
    told = answer(
        "inline-four",
        read("start_outcome", "no_fire"),
        SYSTEM.format("0.3 bar"),
        read("pump_voltage", "12.1 V", 'where = "pump_terminals", engine = "cranking"'),
        read("pump_current", "2.9 A", 'pump_voltage = "12.1 V"'),
        read("pump_delivery", "60 ml", 'duration = "30 s", where = "distributor_return", voltage = "12.1 V"'),
        read("fuel_look", "rust"),
    )
    assert share(told, "feed_dry", "feed_starved") > 0.9
    assert share(told, "primary_regulator_open") < 0.6


def test_readings_that_lie_inside_are_said_to_though_one_is_near_its_end() -> None:
    told = answer(
        "flat-six",
        SYSTEM.format("4.95 bar"),
        WARM.format("3.6 bar", "12.5 V"),
        read("holding_pressure", "2.2 bar", 'after = "10 min"'),
        read("exhaust_co", "1.15 %", IDLE),
    )
    assert told.all_well.startswith(
        "All 4 readings that have a limit are inside it, 1 of them too near its end"
    )


def test_a_step_done_since_something_was_read_out_is_asked_about() -> None:
    centred = '[[step]]\nid = "plate_centred"\ndone = true'
    told = answer("flat-six", read("plate_travel", "binds"), centred)
    (note,) = [words for words in told.notes if "was done since this was read" in words]
    assert "binds. If it was set then, read it again, or enter what was done" in note
    again = answer("flat-six", read("plate_travel", "binds"), centred, read("plate_travel", "free"))
    assert not [words for words in again.notes if "was done since" in words]


def test_what_no_longer_counts_is_not_told_as_never_read() -> None:
    new = '[[did]]\naction = "replaced"\npart = "filter"'
    low = read(
        "pump_delivery", "380 ml", 'duration = "30 s", where = "distributor_return", pump_voltage = "12.2 V"'
    )
    assert answer("flat-six", low, new).notes[0].startswith("No reading counts any more")
    assert answer("flat-six").notes[0].startswith("No reading yet that the model can use")
