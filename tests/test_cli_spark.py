"""``evenpour spark``: what the calculators say, caution first, and how they end."""

from __future__ import annotations

import json
import math

import pytest

from cli_world import DEMO, Shop, shop
from evenpour import data
from evenpour.cli.spark import command as spark
from evenpour.job.catalogue import STEP_FILES, catalogue
from evenpour.job.spark.cylinders import KINDS
from evenpour.job.step_told import WORKED_OUT_BY
from evenpour.job.trace.columns import ROLES

__all__ = ["shop"]

SIX = "10.2 10.4 9.9 10.1 10.3 10.2 bar throttle=wide"
COMMANDS = [
    "timing --sheet flat-six",
    "dead_centre --between 100mm",
    "order --sheet flat-six",
    "dwell 38deg --sheet flat-six",
    f"compression {SIX} --sheet flat-six",
    "leak_down 8 9 10 7 10 8 % --sheet flat-six",
    "speed_drop 60 55 65 58 60 58 rpm state=idle_warm --sheet flat-six",
]


@pytest.mark.parametrize("line", COMMANDS)
def test_the_caution_comes_first_and_the_manual_decides(shop: Shop, line: str) -> None:
    said = shop(f"spark {line}")
    assert said.status == 0
    assert said.out.startswith("CAUTION, ")
    assert said.out.rstrip().endswith("your engine's manual decides.")


@pytest.mark.parametrize("line", COMMANDS)
def test_the_cautions_are_those_of_the_step(shop: Shop, line: str) -> None:
    answer = json.loads(shop(f"spark {line} --json").out)
    step = next(table for table in catalogue().steps if table["id"] == answer["step"])
    assert [one["id"] for one in answer["cautions"]] == list(step["cautions"])


def test_cautions_that_the_job_says_were_read_are_named_only(shop: Shop) -> None:
    said = shop(f"spark compression --job {DEMO}")
    assert said.status == 0
    assert said.out.startswith("CAUTION, Ignition voltage can kill (read by Ines)\n")
    assert "Compression, limit" in said.out


def test_a_spark_is_never_cut_at_a_live_lead(shop: Shop) -> None:
    (first, *_) = shop.answer(
        "spark-cylinders", "spark speed_drop 60 55 65 10 60 58 rpm state=idle_warm --sheet flat-six", status=1
    )["cautions"]
    assert first["title"] == "Never pull a lead off a running engine"
    assert "shorting tool" in first["text"]
    assert "primary side" in first["text"]


# --------------------------------------------------------------------------------------------------- timing


def test_degrees_become_an_arc_on_the_rim(shop: Shop) -> None:
    answer = shop.answer("spark-timing", "spark timing 5deg --diameter 130mm --sheet flat-six", status=0)
    assert answer["arc"]["value"] == pytest.approx(math.pi * 130.0 * 5.0 / 360.0)
    assert answer["per_degree"]["unit"] == "mm"
    static = answer["marks"][0]
    assert (static["what"], static["words"]) == ("timing_static", "4 to 6°")
    assert static["low"]["value"] == pytest.approx(math.pi * 130.0 * 4.0 / 360.0)
    assert answer["reading"]["verdict"] == "within"


def test_an_arc_becomes_degrees_with_the_error_of_a_mark(shop: Shop) -> None:
    answer = shop.answer("spark-timing", "spark timing 6mm --diameter 130mm --sheet flat-six", status=0)
    value = answer["reading"]["value"]
    assert value["value"] == pytest.approx(6.0 * 360.0 / (math.pi * 130.0))
    assert value["u"] == pytest.approx(0.5 / math.sqrt(3.0) * 360.0 / (math.pi * 130.0))
    assert "0.50 mm along the rim assumed" in answer["reading"]["basis"]
    stated = shop.answer(
        "spark-timing", "spark timing", "6 ± 1 mm", "--diameter", "130mm", "--sheet", "flat-six"
    )
    assert stated["reading"]["value"]["u"] == pytest.approx(2.0 * value["u"])


@pytest.mark.parametrize(
    ("sheet", "reading", "turn", "words"),
    [
        # Rotor clockwise: a later spark is the body turned with it, half of what is wanted at the crank.
        ("flat-six", "8deg", 1.5, "too early"),
        ("flat-six", "-1deg", -3.0, "too late"),
        ("inline-four", "12deg", 3.0, "too early"),
    ],
)
def test_timing_outside_says_which_way_the_distributor_turns(
    shop: Shop, sheet: str, reading: str, turn: float, words: str
) -> None:
    answer = shop.answer("spark-timing", f"spark timing --sheet {sheet}", reading, status=1)
    limit = answer["reading"]["limit"]
    middle = 0.5 * (limit["low"] + limit["high"])
    assert answer["off_by"]["value"] == pytest.approx(float(reading.removesuffix("deg")) - middle)
    assert answer["turn_distributor"]["value"] == pytest.approx(0.5 * answer["off_by"]["value"])
    if sheet == "flat-six":
        assert answer["turn_distributor"]["value"] == pytest.approx(turn)
    assert words in answer["notes"][-1]


def test_a_rotor_that_turns_the_other_way_turns_the_advice_round(shop: Shop) -> None:
    line = "spark timing 20deg speed=950rpm hose=on --sheet inline-four-oxygen"
    answer = shop.answer("spark-timing", line, status=1)
    assert answer["reading"]["what"] == "timing_running"
    assert answer["turn_distributor"]["value"] == pytest.approx(-0.5 * answer["off_by"]["value"])
    assert "with the rotor, anticlockwise" in answer["notes"][-1]


def test_a_reading_by_lamp_is_held_against_the_limit_at_its_speed(shop: Shop) -> None:
    idle = shop.answer("spark-timing", "spark timing 5deg speed=900rpm hose=off --sheet flat-six", status=0)
    assert (idle["reading"]["what"], idle["reading"]["limit"]["words"]) == ("timing_running", "2 to 8°")
    assert "moving_hot" in [one["id"] for one in idle["cautions"]]
    fast = shop.answer("spark-timing", "spark timing 5deg speed=3000rpm hose=off --sheet flat-six", status=1)
    assert fast["reading"]["limit"]["words"] == "26 to 32°"
    bare = shop.answer("spark-timing", "spark timing 5deg speed=900rpm --sheet flat-six", status=0)
    assert any(note.startswith("not stated: ") and "hose" in note for note in bare["notes"])


@pytest.mark.parametrize("units", ["metric", "us", "imperial"])
def test_degrees_stay_degrees_in_every_system_of_units(shop: Shop, units: str) -> None:
    answer = shop.answer("spark-timing", f"spark timing 5deg --sheet flat-six --units {units}", status=0)
    assert answer["reading"]["basis"].endswith("± 0.5° assumed")
    dwell = shop.answer("spark-dwell", f"spark dwell 38deg --sheet flat-six --units {units}", status=0)
    assert dwell["reading"]["basis"].endswith("± 1° assumed")


def test_without_points_there_is_no_static_setting(shop: Shop) -> None:
    answer = shop.answer("spark-timing", "spark timing 5deg --sheet flat-six-oxygen", status=0)
    assert answer["step"] == "timing_by_lamp"
    assert any("no static setting" in words for words in answer["notes"])


def test_timing_says_what_it_wants(shop: Shop) -> None:
    assert "--diameter 130mm" in shop.bad("spark timing 6mm --sheet flat-six")
    assert "is odd" in shop.bad("spark timing 75deg --sheet flat-six")
    assert shop("spark timing 75deg --sheet flat-six --sure").status == 1
    assert "Write it like" in shop.bad("spark timing hose=off --sheet flat-six")
    assert "Name one of the two" in shop.bad(f"spark timing 5deg --sheet flat-six --job {DEMO}")


def test_without_a_sheet_nothing_is_judged(shop: Shop) -> None:
    answer = shop.answer("spark-timing", "spark timing 5deg --diameter 130mm", status=0)
    assert (answer["reading"]["verdict"], answer["reading"]["limit"]) == ("cannot_tell", None)
    assert "--sheet" in answer["reading"]["settle"]
    assert answer["arc"]["value"] == pytest.approx(5.672, abs=5e-4)


# ---------------------------------------------------------------------------------------------- dead centre


def test_a_mark_that_slipped_is_painted_anew(shop: Shop) -> None:
    line = "spark dead_centre --forward 55mm --backward 45mm --diameter 130mm"
    answer = shop.answer("spark-dead-centre", line, status=1)
    assert answer["half"]["value"] == pytest.approx(50.0)
    assert answer["mark_late"]["value"] == pytest.approx(5.0 * 360.0 / (math.pi * 130.0))
    assert answer["verdict"] == "outside"
    said = shop(line).out
    assert "after the true top dead centre: timing read from it" in said
    assert "looks earlier than it is" in said
    assert "Paint your own mark" in said
    turned = shop.answer(
        "spark-dead-centre", line.replace("55", "45", 1).replace("backward 45", "backward 55")
    )
    assert turned["mark_late"]["value"] == pytest.approx(-answer["mark_late"]["value"])


def test_a_true_mark_will_do(shop: Shop) -> None:
    line = "spark dead_centre --forward 50.2mm --backward 50mm --diameter 180mm --stroke 80mm --rod 150mm"
    answer = shop.answer("spark-dead-centre", line, status=0)
    assert answer["verdict"] == "within"
    assert "It will do for setting." in answer["notes"]
    assert answer["stop_depth"]["unit"] == "mm"
    # 31.9 degrees down a crank of 80 mm with a rod of 150 mm.
    assert answer["stop_depth"]["value"] == pytest.approx(7.5, abs=0.1)


def test_a_wheel_and_a_bare_rim_serve_too(shop: Shop) -> None:
    wheel = shop.answer("spark-dead-centre", "spark dead_centre --wheel 316deg 40deg", status=1)
    assert wheel["wheel"]["value"] == pytest.approx(358.0)
    bare = shop.answer("spark-dead-centre", "spark dead_centre --between 96mm", status=0)
    assert (bare["half"]["value"], bare["mark_late"], bare["half_angle"]) == (48.0, None, None)
    inches = shop.answer("spark-dead-centre", "spark dead_centre --between 96mm --units us")
    assert inches["half"]["unit"] == "in"


def test_a_stop_too_near_the_top_or_the_wrong_stretch_is_said(shop: Shop) -> None:
    assert "set the stop deeper" in shop("spark dead_centre --forward 4deg --backward 4deg").out
    assert "bottom dead centre" in shop("spark dead_centre --forward 130deg --backward 128deg").out


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("", "said in one way"),
        ("--between 90mm --wheel 310deg 50deg", "said in one way"),
        ("--forward 50mm", "backward is missing"),
        ("--backward 50mm", "forward is missing"),
        ("--forward 50mm --backward 5deg", "is an angle, not a length"),
        ("--between 90mm --stroke 80mm", "rod is missing"),
        ("--between 90mm --stroke 80mm --rod 150mm", "--diameter"),
        ("--wheel 400deg 50deg", "no reading of a degree wheel"),
        ("--between 0mm", "leave no room"),
    ],
)
def test_dead_centre_says_what_it_wants(shop: Shop, line: str, words: str) -> None:
    assert words in shop.bad(f"spark dead_centre {line}")


# ------------------------------------------------------------------------------------------ order and dwell


def test_the_table_of_leads_follows_the_sheet(shop: Shop) -> None:
    answer = shop.answer("spark-order", "spark order --sheet inline-four-oxygen --diameter 150mm", status=0)
    assert (answer["rotor_direction"], answer["interval_degrees"]) == ("anticlockwise", 180.0)
    assert [post["cylinder"] for post in answer["posts"]] == [1, 2, 4, 3]
    third = next(post for post in answer["posts"] if post["cylinder"] == 3)
    assert (third["anticlockwise"], third["rotor_degrees"], third["crank_degrees"]) == (4, 90.0, 180.0)
    assert third["mark_arc"]["value"] == pytest.approx(math.pi * 75.0)
    assert "sheet is missing" in shop.bad("spark order")


@pytest.mark.parametrize("reading", ["38deg", "63.333333%"])
def test_dwell_is_told_in_degrees_and_per_cent(shop: Shop, reading: str) -> None:
    answer = shop.answer("spark-dwell", f"spark dwell {reading} --sheet flat-six", status=0)
    assert answer["angle"]["value"] == pytest.approx(38.0, abs=1e-5)
    assert answer["share"]["value"] == pytest.approx(63.33, abs=0.01)
    assert (answer["reading"]["verdict"], answer["gap"], answer["later"]) == ("within", "", None)
    assert answer["limit_share"]["words"] == "58.3 to 68.3 %"


@pytest.mark.parametrize(
    ("reading", "gap", "later"), [("43deg", "widen", -5.0), ("33deg", "close", 5.0), ("70%", "widen", -4.0)]
)
def test_dwell_outside_says_where_the_gap_and_the_timing_go(
    shop: Shop, reading: str, gap: str, later: float
) -> None:
    answer = shop.answer("spark-dwell", f"spark dwell {reading} --sheet flat-six")
    assert answer["gap"].startswith(gap)
    assert answer["later"]["value"] == pytest.approx(later)
    assert "timing is read again" in answer["notes"][0]


def test_dwell_says_what_it_wants(shop: Shop) -> None:
    assert "Halve it" in shop.bad("spark dwell 76deg --sheet flat-six")
    assert "0 to 100 %" in shop.bad("spark dwell 120% --sheet flat-six")
    assert "--cylinders 6" in shop.bad("spark dwell 50%")
    assert "is not what the sheet says" in shop.bad("spark dwell 50% --sheet flat-six --cylinders 4")
    eight = shop.answer("spark-dwell", "spark dwell 50% --cylinders 8", status=0)
    assert eight["angle"]["value"] == pytest.approx(22.5)


# ------------------------------------------------------------------------------------------------ cylinders


def test_even_compression_is_within(shop: Shop) -> None:
    answer = shop.answer("spark-cylinders", f"spark compression {SIX} --sheet flat-six", status=0)
    assert (answer["verdict"], answer["stand_out"], answer["missing"]) == ("within", [], [])
    assert answer["spread"]["value"]["value"] == pytest.approx(0.5)
    assert answer["spread"]["limit"]["high"] == 1.5


def test_one_low_cylinder_stands_out_in_the_unit_typed(shop: Shop) -> None:
    line = "spark compression 150 152 149 118 151 - psi throttle=wide --sheet flat-six"
    answer = shop.answer("spark-cylinders", line, status=1)
    assert (answer["stand_out"], answer["missing"], answer["verdict"]) == ([4], [6], "outside")
    assert answer["cylinders"][3]["value"]["unit"] == "psi"
    assert answer["cylinders"][3]["worse"]["value"] == pytest.approx(150.5 - 118.0)
    said = shop(line).out
    assert "Cylinder 4 stands out: 33 ± 5 psi worse" in said
    assert "teaspoon of oil" in said
    assert "Not read: cylinder 6." in said


def test_two_low_ones_speak_of_the_gasket_between_them(shop: Shop) -> None:
    said = shop("spark compression 10.2 10.4 6.1 6.3 10.3 10.2 bar throttle=wide --sheet flat-six")
    assert said.status == 1
    assert "the gasket between them comes first" in said.out


def test_the_gauges_own_error_sharpens_the_verdict(shop: Shop) -> None:
    line = "spark compression 9.1 9.2 9.1 9.2 9.1 9.2 bar throttle=wide altitude=200m --sheet flat-six"
    assert shop.answer("spark-cylinders", line, status=0)["verdict"] == "cannot_tell"
    assert shop.answer("spark-cylinders", f"{line} --error 0.05bar", status=0)["verdict"] == "within"


def test_a_job_and_the_calculator_say_the_same(shop: Shop) -> None:
    rows = shop.answer("judge", f"judge {DEMO}")["readings"]
    mine = shop.answer("spark-cylinders", f"spark compression --job {DEMO}", status=0)
    judged = {
        row["cylinder"]: row["p_within"] for row in rows if row["what"] == "compression" and row["stands"]
    }
    assert {line["cylinder"]: line["p_within"] for line in mine["cylinders"]} == judged
    (spread,) = [row for row in rows if row["what"] == "compression_spread"]
    assert mine["spread"]["p_within"] == pytest.approx(spread["p_within"])


def test_a_leaky_cylinder_is_listened_to(shop: Shop) -> None:
    said = shop("spark leak_down 8 9 35 7 10 8 % --sheet flat-six")
    assert said.status == 1
    assert "Listen where it hisses" in said.out
    assert shop("spark leak_down 8 9 6 7 10 8 % --sheet flat-six").status == 0


def test_a_cylinder_that_leaks_more_than_the_others_is_named_though_no_limit_says_how_uneven_they_may_be(
    shop: Shop,
) -> None:
    said = shop("spark leak_down 4 5 14 4 5 4 % --error 1% --sheet flat-six")
    assert said.status == 0
    assert "Cylinder 3 is 10.0 ± 1.3 % worse than the middle one of the others" in " ".join(said.out.split())
    assert "the engine's manual decides" in said.out
    assert (
        "worse than the middle one of the others."
        not in shop("spark leak_down 8 9 6 7 10 8 % --sheet flat-six").out
    )


def test_a_degree_wheels_readings_need_no_unit(shop: Shop) -> None:
    bare = shop("spark dead_centre --wheel 314 46").out
    assert bare == shop("spark dead_centre --wheel 314deg 46deg").out


def test_cylinders_say_what_they_want(shop: Shop) -> None:
    assert "holds 2 values for 6 cylinders" in shop.bad("spark compression 10.2 10.4 bar --sheet flat-six")
    assert "has no unit" in shop.bad("spark compression 1 2 3 4 5 6 --sheet flat-six")
    assert "values are missing" in shop.bad("spark compression")
    assert "is odd" in shop.bad("spark compression 150 150 150 150 150 150 bar --sheet flat-six")
    number = shop.begin()
    assert "has no value yet" in shop.bad(f"spark leak_down --job {number}")
    bare = shop.answer("spark-cylinders", f"spark compression {SIX.split(' throttle')[0]} --sheet flat-six")
    assert "not stated: throttle (the sheet asks for: wide)" in bare["notes"]


@pytest.mark.parametrize("name", KINDS)
def test_the_form_shown_for_a_mistake_is_one_that_works(shop: Shop, name: str) -> None:
    assert shop(f"spark {name} {KINDS[name].form} --sheet flat-six").status in (0, 1)


def test_a_step_names_the_command_that_works_out_what_it_reads(shop: Shop) -> None:
    number = shop.begin()
    said = shop(f"path {number} --step compression_test").out
    assert f"Worked out by: evenpour spark compression --job {number}" in said
    assert f"evenpour screw {number}" in shop(f"path {number} --step idle_mixture_and_speed").out


def test_every_command_that_a_step_names_is_one_and_every_step_is_there() -> None:
    steps = {row["id"] for name in STEP_FILES for row in data.shipped(name).values["step"]}
    for step, words in WORKED_OUT_BY.items():
        assert step in steps, step
        name, *rest = words.split()
        assert name in ("screw", "spark", "trace")
        assert name != "spark" or rest[0] in spark.commands
        assert name != "trace" or rest[-1] in ROLES
