"""Slips of the pen on a sound car: named as what they are, and no cause blamed for them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from evenpour.job import job_of_text
from evenpour.job.causes.answer import case_of, causes_answer
from evenpour.job.causes.answers import CausesAnswer, ClashLine
from evenpour.job.causes.clashes import clashes
from evenpour.job.job_file import read_text
from job_examples import head, job_with

HEAD = head()
SOUND = {
    "system_pressure": ("4.95 bar", ""),
    "control_pressure_cold": ("1.45 bar", 'regulator_temperature = "19 degC"'),
    "control_pressure_warm": ("3.6 bar", 'voltage = "12.4 V", heater = "plugged", after = "5 min"'),
    "exhaust_co": ("1.5 %", 'state = "idle_warm"'),
    "exhaust_lambda": ("0.96", 'state = "idle_warm"'),
    "idle_speed": ("900 rpm", 'state = "idle_warm"'),
}
BLAMED = 0.3  # by which no cause may stand for a slip


def reading(what: str, value: str, stated: str = "", cylinder: int | None = None) -> str:
    said = f"conditions = {{ {stated} }}\n" if stated else ""
    where = "" if cylinder is None else f"cylinder = {cylinder}\n"
    return f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"\n{where}sure = true\n{said}'


def at_cylinders(what: str, values: Sequence[str], stated: str = "") -> str:
    return "".join(reading(what, value, stated, number) for number, value in enumerate(values, start=1))


def caught(opening: str, seconds: int, amounts: str) -> str:
    said = ", ".join(f'"{one} ml"' for one in amounts.split())
    return (
        f'[[catch]]\nthrough = "injectors"\nopening = "{opening}"\nduration = "{seconds} s"\n'
        f"amounts = [{said}]\n"
    )


def told(slip: dict[str, str], more: str = "") -> tuple[list[ClashLine], dict[str, float]]:
    """What clashes, and how likely each cause is, alone or as one of two."""
    text = "".join(reading(what, slip.get(what, value), stated) for what, (value, stated) in SOUND.items())
    case = case_of(job_with(text + more))
    listed = case.explanation.suspects
    blamed: dict[str, float] = {}
    for h, p in case.probability.items():
        if h:
            blamed[listed[h].id] = blamed.get(listed[h].id, 0.0) + p
    blamed["two at once"] = math.fsum(case.joint_probability)
    return clashes(case), blamed


def answer_to(slip: dict[str, str], more: str) -> CausesAnswer:
    """What is told of the sound car with a slip, and more."""
    text = "".join(reading(what, slip.get(what, value), stated) for what, (value, stated) in SOUND.items())
    return causes_answer(job_with(text + more))


def nobody_above(blamed: dict[str, float], most: float = BLAMED) -> bool:
    return max(blamed.values()) < most


@pytest.mark.parametrize(
    ("what", "typed", "slip"),
    [
        ("system_pressure", "72 bar", "meant 4.96 bar (psi written as bar)?"),
        ("control_pressure_cold", "21 bar", "meant 1.45 bar (psi written as bar)?"),
        ("control_pressure_warm", "52 bar", "meant 3.59 bar (psi written as bar)?"),
        ("system_pressure", "4.95 psi", "meant 4.95 bar (bar written as psi)?"),
        ("control_pressure_cold", "1.45 psi", "meant 1.45 bar (bar written as psi)?"),
        ("control_pressure_warm", "3.6 psi", "meant 3.60 bar (bar written as psi)?"),
    ],
)
def test_psi_and_bar_taken_for_each_other_are_named_and_nobody_is_blamed(
    what: str, typed: str, slip: str
) -> None:
    found, blamed = told({what: typed})
    assert [one.what for one in found] == [what]
    assert found[0].slips[0] == slip
    assert nobody_above(blamed), blamed


@pytest.mark.parametrize(
    ("what", "typed", "meant"),
    [("control_pressure_warm", "36 bar", "3.60 bar"), ("system_pressure", "0.495 bar", "4.95 bar"),
     ("idle_speed", "9000 rpm", "900 rpm"), ("exhaust_co", "15 %", "1.5 %")],
)  # fmt: skip
def test_a_point_misplaced_is_named_and_nobody_is_blamed(what: str, typed: str, meant: str) -> None:
    found, blamed = told({what: typed})
    assert [one.what for one in found] == [what]
    assert found[0].slips[0].startswith(f"meant {meant} (the point one place to the")
    assert nobody_above(blamed), blamed


KPA = [("system_pressure", "495 bar", "4.95 bar"), ("control_pressure_warm", "3.6 kPa", "3.60 bar")]


@pytest.mark.parametrize(("what", "typed", "meant"), KPA)
def test_kpa_and_bar_taken_for_each_other_are_named_and_blame_nobody(
    what: str, typed: str, meant: str
) -> None:
    found, blamed = told({what: typed})
    assert [one.what for one in found] == [what]
    assert nobody_above(blamed), blamed
    assert any(meant in slip for one in found for slip in one.slips)


COMPRESSION = ("10 bar", "9.8 bar", "5 bar", "10 bar", "10.1 bar", "9.9 bar")
LEAK_DOWN = ("8 %", "9 %", "60 %", "8 %", "7 %", "9 %")


def exchanged(values: Sequence[str], one: int, other: int) -> list[str]:
    found = list(values)
    found[one - 1], found[other - 1] = found[other - 1], found[one - 1]
    return found


def test_the_values_of_two_neighbours_exchanged_are_named() -> None:
    """Compression low at cylinder 4 and leakage high at 3: one of the two was written in the wrong place."""
    low = at_cylinders("compression", exchanged(COMPRESSION, 3, 4))
    found, blamed = told({}, low + at_cylinders("leak_down", LEAK_DOWN))
    assert found[0].what in {"compression", "leak_down"}
    assert "the values of cylinders 3 and 4 exchanged?" in found[0].slips
    _, right = told({}, at_cylinders("compression", COMPRESSION) + at_cylinders("leak_down", LEAK_DOWN))
    own = ("compression_low", "valve_clearance_wrong", "exhaust_clearance_wrong", "inlet_clearance_wrong")
    assert sum(blamed[one] for one in own) > sum(right[one] for one in own) - 0.05  # nearly as sure of them


def test_the_values_of_two_cylinders_far_apart_exchanged_are_named() -> None:
    low = at_cylinders("compression", exchanged(COMPRESSION, 3, 6))
    found, _ = told({}, low + at_cylinders("leak_down", LEAK_DOWN))
    assert any("3 and 6" in slip for one in found for slip in one.slips)


DROP = ("90 rpm", "88 rpm", "20 rpm", "91 rpm", "90 rpm", "89 rpm")


def test_two_checks_outvote_a_third_whose_values_were_exchanged() -> None:
    """Leakage and drop of speed say cylinder 3; the low compression stands at 4."""
    low = at_cylinders("compression", exchanged(COMPRESSION, 3, 4))
    drops = at_cylinders("cylinder_drop", DROP, 'state = "idle_warm"')
    job = job_with(low + at_cylinders("leak_down", LEAK_DOWN) + drops)
    case = case_of(job)
    found = clashes(case)
    assert found[0].what == "compression"
    assert found[0].slips == ("the values of cylinders 3 and 4 exchanged?",)
    listed = case.explanation.suspects
    by_cylinder = dict.fromkeys(range(1, 7), 0.0)
    for h, p in case.probability.items():
        if listed[h].cylinder is not None:
            by_cylinder[listed[h].cylinder] += p
    assert by_cylinder[3] > 10.0 * by_cylinder[4]
    five, ten = (
        next(one.observation.value for one in case.told if one.observation.query.cylinder == number)
        for number in (3, 4)
    )
    assert (five, ten) == pytest.approx((5e5, 1e6))  # what is told of them is told as it was meant
    notes = causes_answer(job).notes
    assert any("the values of cylinders 3 and 4 exchanged" in one for one in notes)


def test_the_cold_pressure_told_as_the_warm_one_is_named_and_no_one_heater_fault_is_sure() -> None:
    """A dead heater reads just so, and one without current: each may be blamed, but none is sure of it."""
    found, blamed = told({"control_pressure_warm": "1.45 bar"})
    assert [one.what for one in found] == ["control_pressure_warm"]
    assert found[0].slips == ("read while the regulator was still cold?",)
    assert nobody_above(blamed, 0.5), blamed


def test_a_warm_engine_that_idles_fast_rather_lets_air_by_than_was_read_cold() -> None:
    """Air that gets by the plate is commoner than a wrong word; if anything is a slip, it is that word."""
    found, blamed = told({"idle_speed": "1400 rpm"})
    assert {slip for one in found for slip in one.slips} <= {"read while the engine was still cold?"}
    assert blamed["throttle_not_shut"] + blamed["auxiliary_air_open"] > 0.5


HEATER_DEAD = (
    reading("control_pressure_cold", "1.4 bar", 'regulator_temperature = "19 degC"')
    + reading("control_pressure_warm", "1.5 bar", 'voltage = "12.4 V", heater = "plugged", after = "5 min"')
    + '[[reading]]\nwhat = "regulator_heater_resistance"\nvalue = "open"\nsure = true\n'
)


@pytest.mark.parametrize("typed", ["10.4 bar", "14.4 bar", "16 bar"])
def test_one_odd_value_of_six_changes_nothing_of_what_is_found_elsewhere(typed: str) -> None:
    six = at_cylinders("compression", ("10.4 bar", "10.3 bar", "10.5 bar", typed, "10.4 bar", "10.4 bar"))
    answer = causes_answer(job_with(HEATER_DEAD + six))
    assert answer.causes[0].cause == "control_heater_dead"
    assert answer.causes[0].probability > 0.95
    assert answer.unexplained < 0.02
    clashing = [(one.what, one.cylinder) for one in answer.clashes]
    assert clashing == ([] if typed == "10.4 bar" else [("compression", 4)])


def test_a_point_misplaced_in_an_amount_caught_is_named() -> None:
    full, part = caught("full", 35, "80 80.5 79.5 8 80 79.5"), caught("part", 60, "40 40.5 39.5 40 40 39.5")
    found = clashes(case_of(job_with(full + part)))
    assert [one.slips for one in found] == [("meant 80.0 ml (the point one place to the right)?",)]


def test_a_job_in_which_every_reading_is_absurd_blames_nobody() -> None:
    absurd = {"system_pressure": "72 bar", "control_pressure_cold": "20 bar", "exhaust_co": "40 %"}
    text = "".join(reading(what, value, SOUND[what][1]) for what, value in absurd.items())
    answer = causes_answer(job_with(text))
    assert {one.what for one in answer.clashes} == set(absurd)
    pressure = next(one for one in answer.clashes if one.what == "system_pressure")
    assert pressure.slips == ["meant 4.96 bar (psi written as bar)?"]  # though others are absurd beside it
    assert all(one.probability < BLAMED for one in answer.causes)


@pytest.mark.parametrize(
    ("here", "there", "words"),
    [
        (
            "control_pressure_cold",
            "control_pressure_warm",
            "control pressure, cold and the control pressure, warm",
        ),
        ("system_pressure", "control_pressure_warm", "system pressure and the control pressure, warm"),
        ("system_pressure", "control_pressure_cold", "system pressure and the control pressure, cold"),
    ],
)
def test_two_pressures_written_in_each_other_s_place_are_named_and_blame_nobody(
    here: str, there: str, words: str
) -> None:
    found, blamed = told({here: SOUND[there][0], there: SOUND[here][0]})
    assert {one.what for one in found} == {here, there}
    assert all(one.slips[0] == f"the {words} exchanged?" for one in found)
    assert nobody_above(blamed), blamed


def test_a_low_system_pressure_beside_right_control_pressures_is_no_exchange() -> None:
    found, blamed = told({"system_pressure": "4.2 bar"})
    assert not found
    assert blamed["system_pressure_low"] > 0.5  # likelier than all else together


def test_a_run_of_another_length_than_was_written_bends_no_verdict() -> None:
    """Port 3 gives a seventh less in all three; the part run lasted half its minute."""
    full = "80 80.5 69 80 80 79.5"
    part, half = "50 50.5 43.2 50 50 49.5", "25 25 21.6 25 25 24.8"
    right = HEAD + caught("full", 35, full) + caught("part", 60, part) + caught("part", 60, part)
    wrong = HEAD + caught("full", 35, full) + caught("part", 60, part) + caught("part", 60, half)
    as_right, as_wrong = (causes_answer(job_of_text(read_text(text, "job.toml"))) for text in (right, wrong))
    assert as_right.causes[0].cylinder == as_wrong.causes[0].cylinder == 3
    assert any("half as long" in slip for one in as_wrong.clashes for slip in one.slips)


def test_where_no_reading_is_left_to_believe_that_is_said() -> None:
    absurd = {"system_pressure": "72 bar", "control_pressure_cold": "20 bar", "exhaust_co": "40 %"}
    text = "".join(reading(what, value, SOUND[what][1]) for what, value in absurd.items())
    notes = causes_answer(job_with(text)).notes
    assert not any("No reading yet" in one for one in notes)


def test_a_control_pressure_that_is_the_system_s_on_a_car_that_runs_well_was_read_with_the_valve_shut() -> (
    None
):
    """No engine runs so on a shut control circuit: the gauge's valve was shut."""
    runs = reading("start_outcome", "runs")
    answer = answer_to({"system_pressure": "5.2 bar", "control_pressure_cold": "5.2 bar"}, runs)
    assert [one.what for one in answer.clashes] == ["control_pressure_cold"]
    assert answer.clashes[0].slips == ["read with the gauge's valve shut?"]
    assert all(one.probability < BLAMED for one in answer.causes)
    assert any("a slip: read with the gauge's valve shut." in note for note in answer.notes)


@pytest.mark.parametrize(
    ("what", "typed", "most"),
    [("control_pressure_cold", "1.5 bar", BLAMED), ("control_pressure_warm", "3.6 bar", 0.5)],
)
def test_a_system_pressure_that_is_the_control_circuit_s_was_read_with_the_valve_open(
    what: str, typed: str, most: float
) -> None:
    """As low as the control pressure read before, cold or with the heater on, and the car runs well. A system
    may be as low as the warm one, and the engine run: that may be blamed, but nobody is sure of it.
    """
    answer = answer_to({what: typed, "system_pressure": typed}, reading("start_outcome", "runs"))
    assert [one.what for one in answer.clashes] == ["system_pressure"]
    assert answer.clashes[0].slips == ["read with the gauge's valve open?"]
    assert all(one.probability < most for one in answer.causes)


WORN = ("10.4 bar", "10.4 bar", "6 bar", "6.2 bar", "10.4 bar", "10.4 bar")


def test_two_worn_cylinders_are_no_misread_figure_and_a_sound_pressure_does_not_speak_for_them() -> None:
    text = "".join(reading(what, value, stated) for what, (value, stated) in SOUND.items())
    text += at_cylinders("compression", WORN)
    answer = causes_answer(job_with(text))
    own = {"compression_low", "valve_clearance_wrong", "exhaust_clearance_wrong", "inlet_clearance_wrong"}
    of_both = [one for one in answer.causes if one.with_ and {one.cause, one.with_.cause} <= own]
    both = [one for one in of_both if one.with_ and {one.cylinder, one.with_.cylinder} == {3, 4}]
    assert sum(one.probability for one in both) > 0.4
    speaking = {reason.what for one in answer.causes if one.cause in own for reason in one.for_}
    assert "compression" in speaking
    assert "system_pressure" not in speaking


def test_what_keeps_a_leak_in_the_account_is_weighed_though_it_drags_the_sound_car_far() -> None:
    """Holding pressure 0.6 bar and a long crank: without the pressure every leak is ten times less likely."""
    text = reading("system_pressure", "4.95 bar") + reading("holding_pressure", "0.6 bar", 'after = "20 min"')
    hot = '[[reading]]\nwhat = "hot_restart"\nvalue = "long_crank"\nsure = true\n'
    told = causes_answer(job_with(text + hot)).causes[:3]
    assert all(any(one.what == "holding_pressure" and one.weight > 1.5 for one in line.for_) for line in told)


def test_one_slip_does_not_hide_another() -> None:
    """The pressure in psi, and the second compression with its point one place to the right."""
    right = ["10.4 bar", "10.5 bar", "10.3 bar", "10.4 bar", "10.6 bar", "10.4 bar"]
    slipped = [right[0], "104 bar", *right[2:]]
    answer = answer_to({"system_pressure": "72 bar"}, at_cylinders("compression", slipped))
    meant = {one.what: one.slips for one in answer.clashes}
    assert meant["system_pressure"] == ["meant 4.96 bar (psi written as bar)?"]
    assert meant["compression"] == ["meant 10.40 bar (the point one place to the left)?"]
    assert any("psi" in note and "point" in note for note in answer.notes)
    assert answer.nothing_wrong > 0.3


FULL, PART = "80 80.5 79.5 80 80 79.5", "40 40 39.5 40.5 40 40"


def test_amounts_of_two_ports_exchanged_in_one_catch_are_named_and_blame_no_third() -> None:
    """Port 2 is a quarter short in the lines and at full; in the part catch 2 and 3 were exchanged."""
    lines = caught("full", 35, FULL.replace("80.5", "60")).replace("injectors", "lines")
    text = lines + caught("full", 35, FULL.replace("80.5", "60")) + caught("part", 60, "40 40 30 40 40 40")
    answer = answer_to({}, text)
    assert {one.cylinder for one in answer.causes if one.probability > 0.1} == {2}
    assert any("the values of ports 2 and 3 exchanged?" in one.slips for one in answer.clashes)


def test_an_exchange_is_asked_about_in_a_car_with_two_faults() -> None:
    """Injector 3 drips, and cylinder 5 leaks (so says the vacuum), its compression written at cylinder 2."""
    text = reading("system_pressure", "4.95 bar") + reading("holding_pressure", "0.5 bar", 'after = "20 min"')
    text += at_cylinders("injector_drip", ["dry", "dry", "drips", "dry", "dry", "dry"])
    text += at_cylinders("compression", ["10.4 bar", "5 bar", *["10.4 bar"] * 4])
    text += at_cylinders("leak_down", ["7 %", "7 %", "7 %", "7 %", "60 %", "7 %"])
    text += reading("manifold_vacuum", "0.40 bar", 'state = "idle_warm"')
    answer = causes_answer(job_with(text))
    assert any("cylinders 2 and 5 exchanged" in slip for one in answer.clashes for slip in one.slips)
    assert (answer.causes[0].cause, answer.causes[0].cylinder) == ("injector_leaks", 3)


def test_one_container_that_tipped_is_a_clash_and_no_strange_fault() -> None:
    answer = answer_to({}, caught("full", 35, FULL) + caught("part", 60, PART.replace("40.5", "12")))
    assert [(one.what, one.cylinder) for one in answer.clashes] == [("catch", 4)]
    assert answer.unexplained < 0.05
    assert answer.nothing_wrong > 0.3


def test_a_catch_that_nothing_explains_is_told_as_a_whole_and_blames_no_port_of_it() -> None:
    """Short at 2, 4 and 5 with the injectors at full; at part they are as short, where no clog is felt."""
    full = caught("full", 35, "80.5 64.7 80.2 59.7 54.6 80.6")
    lines = caught("full", 35, FULL).replace("injectors", "lines")
    answer = answer_to({}, lines + full + caught("part", 60, "50.2 43.0 49.8 40.4 37.4 50.3"))
    (clash,) = [one for one in answer.clashes if one.what == "catch"]
    assert clash.cylinder is None
    assert "these 6 values do not go" in clash.words  # of the one run or of the other


def test_of_words_the_odd_one_is_named_and_a_doubted_slip_beside_a_clash_does_no_harm() -> None:
    """Three faults of three kinds are more than is tried: the drip is told as the odd word, not a dry tip."""
    own = {"control_pressure_warm": "2.4 bar", "exhaust_co": "4.5 %"}
    more = at_cylinders("compression", ["10.4 bar", "10.5 bar", "7 bar", "10.4 bar", "10.3 bar", "10.4 bar"])
    answer = answer_to(
        own, more + at_cylinders("injector_drip", ["dry", "drips", "dry", "dry", "dry", "dry"])
    )
    assert [one.cylinder for one in answer.clashes if one.what == "injector_drip"] == [2]


def test_readings_that_clash_beside_a_slip_are_told_all_the_same() -> None:
    """A vee-eight with three low compressions and readings of a six: some set aside, and a slip likely."""
    low = ["10.4 bar", "7.5 bar", "10.3 bar", "7 bar", "10.3 bar", "6.5 bar", "10.4 bar", "10.5 bar"]
    text = "".join(reading(what, value, stated) for what, (value, stated) in SOUND.items())
    head = HEAD.replace("flat-six", "vee-eight")
    answer = causes_answer(job_of_text(read_text(head + text + at_cylinders("compression", low), "job.toml")))
    assert answer.clashes


def test_two_catches_timed_alike_wrongly_are_two_slips() -> None:
    """Two of four catches ran half as long as written: two slips of one name, each of its own catch.
    They are at two openings; at one, the same wedge may have been too thin for both.
    """
    full, half = "80 80.5 79.5 80 80 79.5", "25 25.2 24.8 25 25 24.8"
    through_injectors = caught("full", 35, full) + caught("part", 60, half)
    through_lines = caught("full", 35, full) + caught("10 mm", 120, half)
    answer = answer_to({}, through_injectors + through_lines.replace("injectors", "lines"))
    named = [one for one in answer.clashes if "the run half as long as written?" in one.slips]
    assert len(named) == 2


@pytest.mark.parametrize("psi", ["72 bar", "68 bar"])
def test_a_pressure_in_psi_is_named_beside_two_faults(psi: str) -> None:
    """The heater's winding is open and the third cylinder low: either shows by itself."""
    own = {"system_pressure": psi, "control_pressure_warm": "1.45 bar", "exhaust_co": "6 %"}
    low = ["10.4 bar", "10.5 bar", "6.5 bar", "10.4 bar", "10.3 bar", "10.4 bar"]
    answer = answer_to(own, at_cylinders("compression", low) + reading("regulator_heater_resistance", "open"))
    pressure = next(one for one in answer.clashes if one.what == "system_pressure")
    assert any("psi written as bar" in slip for slip in pressure.slips)


def test_amounts_exchanged_are_named_beside_an_odd_compression() -> None:
    """Port 4 is short in three catches, but written at 5 in one; and one compression stands out by itself."""
    text = caught("full", 35, FULL.replace("79.5 80 80", "79.5 60 80"))
    text += text.replace("injectors", "lines") + caught("part", 60, "40 40 39.5 40.5 30 40")
    text += at_cylinders(
        "compression", ["10.4 bar", "10.5 bar", "14.6 bar", "10.4 bar", "10.3 bar", "10.4 bar"]
    )
    answer = answer_to({}, text)
    assert any("the values of ports 4 and 5 exchanged?" in one.slips for one in answer.clashes)
