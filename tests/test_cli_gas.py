"""``evenpour gas``: from a gas analyser's display to the mixture, in words, as JSON, and into a job."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from cli_world import AT, Shop, shop
from evenpour.cli.gas import EXAMPLES
from evenpour.errors import FieldProblem
from evenpour.job.catalogue import catalogue
from evenpour.job.gas.answer import GasAsked, gas_answer

__all__ = ["shop"]
SOUND = "gas --co 1.5 --co2 13.9 --o2 0.6 --hc 180 --fuel E5 --class I"
STRAY = "gas --co 2.0 --co2 12.4 --o2 2.1 --hc 240 --fuel E0 --class I"
MISFIRE = "gas --co 1.0 --co2 10.0 --o2 6 --hc 3500 --fuel E10 --class I"
WRONG = "gas --co 1.0 --co2 14.0 --o2 14 --hc 100 --fuel E10 --class I"
KEYS = {"lambda", "u", "afr", "co_corrected", "warnings"}


def flat(text: str) -> str:
    return " ".join(text.split())


def test_every_example_of_the_help_works_as_it_stands(shop: Shop) -> None:
    lines = [line.strip() for line in EXAMPLES.splitlines() if line.strip().startswith("evenpour ")]
    assert len(lines) >= 5
    for _ in range(3):
        shop.begin()
    shop("add 3 conditions fuel=E5")
    for line in lines:
        said = shop(line.removeprefix("evenpour "))
        assert (said.status, said.err) == (0, ""), line


def test_the_answer_has_its_fixed_keys_and_figures(shop: Shop) -> None:
    # Worked apart: published figures for these gases, H/C 1.7261 and O/C 0.0175, give 1.00849.
    told = shop.answer("gas", "gas --co 0.5 --co2 14.7 --o2 0.6 --hc 120 --fuel E5 --class 0", status=0)
    assert set(told) >= KEYS
    assert told["lambda"] == pytest.approx(1.00849, abs=0.001)  # this fuel is a little richer in hydrogen
    assert 0.001 < told["u"] < 0.006
    assert told["low"] < told["lambda"] < told["high"]
    assert told["afr"] == pytest.approx(told["lambda"] * told["fuel"]["stoichiometric_afr"])
    assert told["co_corrected"] == 0.5  # CO + CO2 exceed 15 %
    assert (told["warnings"], told["method"]) == ([], "whole")


def test_co_is_corrected_where_the_gas_is_thin(shop: Shop) -> None:
    told = shop.answer("gas", "gas --co 2 --co2 9 --o2 6 --hc 300 --fuel E5", status=0)
    assert told["co_corrected"] == pytest.approx(2.7273, abs=1e-4)
    assert told["lambda_without_stray_air"] < 0.95 < 1.2 < told["lambda"]


def test_the_same_gas_on_another_blend_has_nearly_the_same_lambda_and_another_ratio(shop: Shop) -> None:
    petrol, ethanol = (shop.answer("gas", SOUND.replace("E5", fuel)) for fuel in ("E0", "E100"))
    assert petrol["lambda"] == pytest.approx(ethanol["lambda"], abs=0.006)
    assert petrol["afr"] == pytest.approx(14.25, abs=0.05)
    assert ethanol["afr"] == pytest.approx(8.76, abs=0.05)


def test_numbers_may_carry_their_unit_or_a_doubt_of_their_own(shop: Shop) -> None:
    bare = shop.answer("gas", SOUND)
    typed = shop.answer(
        "gas", "gas --co '1,5 %' --co2 139000ppm --o2 0.6% --hc '0.018 %' --fuel 'e 5' --class 1"
    )
    assert typed["lambda"] == pytest.approx(bare["lambda"], rel=1e-12)
    stated = shop.answer("gas", SOUND.replace("--o2 0.6", "--o2 '0.6 ± 0.01'"))
    assert stated["u"] < bare["u"]
    assert [gas["basis"] for gas in stated["gases"] if gas["what"] == "exhaust_o2"] == [
        "stated with the reading: 0.6 ± 0.01 %"
    ]


def test_without_a_class_an_error_is_assumed_and_said(shop: Shop) -> None:
    out = shop(SOUND.removesuffix(" --class I")).out
    # What lies within ± 0.2 % for certain lies within 95 % of it 19 times in 20.
    assert "CO             1.50 ± 0.19 %  no instrument stated; ± 0.2 % assumed" in out


def test_people_are_told_in_plain_words_the_caution_first(shop: Shop) -> None:
    out = shop(SOUND).out
    assert out.startswith(f"CAUTION, {catalogue().cautions['carbon_monoxide'].title}")
    words = flat(out)
    assert catalogue().cautions["carbon_monoxide"].text.split(".")[0] in words
    assert "Lambda 0.977 ± 0.012, rich: 2.3 % less air than burns all the fuel." in words
    assert "Air-fuel ratio 13.97 ± 0.28 by mass on E5, where 14.3 burns all of it." in words
    assert "Doubt of the gases: analyser of class I (OIML R 99, figures from memory)." in words
    assert words.endswith("the law of the place what may leave the exhaust.")
    assert "!" not in out


@pytest.mark.parametrize(
    ("gases", "words"),
    [
        ("--co 0.3 --co2 14.2 --o2 1.8 --hc 90", "lean: "),
        ("--co 0.6 --co2 15.0 --o2 0.3 --hc 100", "neither rich nor lean, as far as this can tell"),
        ("--co 4.5 --co2 12.2 --o2 0.3 --hc 250", "rich: "),
    ],
)
def test_the_side_is_named_only_where_it_is_sure(shop: Shop, gases: str, words: str) -> None:
    assert words in flat(shop(f"gas {gases} --fuel E5").out)


@pytest.mark.parametrize(
    ("line", "kind", "says", "look"),
    [
        (STRAY, "stray_air_or_uneven", "Air dilution, or uneven cylinders: 2.1 % of O2", "probe 30 cm"),
        (MISFIRE, "misfire", "Misfire: at least 16 % of the fuel leaves unburnt", "exhaust port stays cold"),
        (WRONG, "not_together", "cannot belong together", "O2 near 0.8 %"),
        ("gas --co 0.1 --co2 4 --o2 15 --hc 20 --fuel E5", "too_thin", "Air dilution: CO and CO2", "probe"),
        ("gas --co 0.2 --fuel E5", "little_co", "not rich, and no more", "Read O2 as well"),
    ],
)
def test_what_is_odd_is_said_with_what_to_look_at(
    shop: Shop, line: str, kind: str, says: str, look: str
) -> None:
    told = shop.answer("gas", line, status=0)
    assert [sign["kind"] for sign in told["signs"]] == [kind]
    (warning,) = told["warnings"]
    assert says in warning
    assert look in warning
    words = flat(shop(line).out)
    assert f"! {told['signs'][0]['says']}" in words
    assert f"Look: {told['signs'][0]['look']}" in words
    assert set(told["signs"][0]["checks"]) <= set(catalogue().checks)


def test_stray_air_names_the_mixture_the_engine_itself_runs_at(shop: Shop) -> None:
    told = shop.answer("gas", STRAY)
    assert told["lambda"] > 1.0
    assert told["lambda_without_stray_air"] == pytest.approx(0.94, abs=0.01)
    assert "the engine runs near 0.94" in told["warnings"][0]


def test_readings_that_cannot_be_are_not_called_rich_or_lean(shop: Shop) -> None:
    words = flat(shop(WRONG).out)
    assert "Lambda 1.60 ± 0.05, worth nothing yet: see the warning below." in words
    assert "Air-fuel ratio" not in words
    assert "163 %, where 96 to 100 % is right" in words


def test_no_lambda_is_null(shop: Shop) -> None:
    told = shop.answer("gas", "gas --co 0.1 --co2 4 --o2 15 --hc 20 --fuel E5")
    assert [told[key] for key in ("lambda", "u", "afr", "co_corrected", "expected")] == [None] * 5
    assert "No lambda can be told from these gases." in shop("gas --co 0.2 --fuel E5").out


def test_co_alone_is_answered_with_what_it_supposes(shop: Shop) -> None:
    told = shop.answer("gas", "gas --co 1.5 --fuel E5", status=0)
    assert told["method"] == "co"
    assert told["lambda"] == pytest.approx(0.96, abs=0.01)
    assert told["co_corrected"] is None
    assert "no stray air" in flat(shop("gas --co 1.5 --fuel E5").out)


def test_hc_that_was_not_read_is_said(shop: Shop) -> None:
    assert "HC was not read: 0 to 300 ppm" in shop("gas --co 1.5 --co2 14 --o2 0.5 --fuel E5").out


def test_propane_is_made_hexane(shop: Shop) -> None:
    line = "gas --co 3.0 --co2 12.5 --o2 0.7 --hc {} --fuel E5 --class I"
    hexane = shop.answer("gas", line.format("130"))
    propane = shop.answer("gas", line.format("250 --hc-as propane --pef 0.52"))
    carbon = shop.answer("gas", line.format("780 --hc-as carbon"))
    assert propane["lambda"] == carbon["lambda"] == pytest.approx(hexane["lambda"])
    usual = shop.answer("gas", line.format("250 --hc-as propane"))
    assert "PEF on the analyser's plate" in usual["notes"][0]
    assert usual["lambda"] == pytest.approx(hexane["lambda"], abs=1e-4)


def test_wet_gas_is_dried(shop: Shop) -> None:
    dry = shop.answer("gas", SOUND)
    wet = shop.answer("gas", "gas --co 1.31 --co2 12.13 --o2 0.524 --hc 157 --fuel E5 --class I --wet")
    assert wet["lambda"] == pytest.approx(dry["lambda"], abs=0.001)
    assert wet["gases"][1]["value"] == pytest.approx(13.9, abs=0.1)
    assert "read wet" in wet["notes"][0]


def test_a_display_for_another_fuel_is_converted(shop: Shop) -> None:
    told = shop.answer("gas", "gas --meter '14.1 AFR' --fuel E85", status=0)
    assert told["lambda"] == told["meter"]["lambda"] == pytest.approx(14.1 / 14.7)
    assert told["afr"] == told["meter"]["afr"] == pytest.approx(14.1 / 14.7 * 9.7973, abs=1e-3)
    assert told["expected"]["co"] == pytest.approx(1.5, abs=0.2)
    other = shop.answer("gas", "gas --meter '9.4 AFR' --meter-scale 9.8 --fuel E10")
    assert other["afr"] == pytest.approx(9.4 / 9.8 * 14.006, abs=1e-3)
    assert "9.4 AFR (9.8 at lambda 1) on the display" in other["meter"]["words"]


def test_a_display_that_disagrees_with_the_gases_is_said(shop: Shop) -> None:
    near, far = (shop.answer("gas", f"{SOUND} --meter {one}") for one in ("0.975", "0.93"))
    assert near["warnings"] == []
    assert [sign["kind"] for sign in far["signs"]] == ["meter_differs"]
    assert far["lambda"] == near["lambda"]


def test_a_display_answers_where_the_gases_cannot(shop: Shop) -> None:
    told = shop.answer("gas", "gas --co 0.2 --meter 0.98 --fuel E5")
    assert (told["lambda"], told["method"]) == (0.98, "meter")
    assert [sign["kind"] for sign in told["signs"]] == ["little_co"]


@example(co=0.0, co2=6.0, o2=10.0, hc=30_000, ethanol=0)
@given(
    co=st.floats(0.0, 16.0),
    co2=st.floats(0.1, 20.0),
    o2=st.floats(0.0, 21.0),
    hc=st.integers(0, 30_000),
    ethanol=st.integers(0, 100),
)
@settings(max_examples=60)
def test_any_readings_get_an_answer_of_finite_numbers_or_a_complaint(
    co: float, co2: float, o2: float, hc: int, ethanol: int
) -> None:
    texts = {"co": f"{co:.2f}", "co2": f"{co2:.2f}", "o2": f"{o2:.2f}", "hc": f"{hc}"}
    try:
        told = gas_answer(GasAsked(texts, fuel=f"E{ethanol}"))
    except FieldProblem as complaint:
        assert "nothing burnt" in str(complaint)  # noqa: PT017  the one complaint that is right here
        return
    if told.lambda_ is None:
        assert told.warnings
    else:
        numbers = [told.lambda_, told.u, told.low, told.high, told.afr, told.u_afr]
        assert all(number is not None and math.isfinite(number) for number in numbers)
        assert told.low <= told.high


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("gas --co 1.5 --co2 40 --o2 0.6 --hc 180 --fuel E5", "exhaust_co2 '40 %' is odd"),
        ("gas --co 1.5 --co2 40 --o2 0.6 --hc 180 --fuel E5", "Was it 4 %?"),
        ("gas --co 1.5 --co2 14 --o2 30 --hc 180 --fuel E5", "exhaust_o2 '30 %' is odd"),
        ("gas --co 1.5 --co2 14 --o2 1 --hc '180 %' --fuel E5", "Was it 180 ppm"),
        ("gas --co=-1 --fuel E5", "exhaust_co '-1 %' is odd"),
        ("gas --co nan --fuel E5", "is no finite number"),
        ("gas --co high --fuel E5", "does not start with a number"),
        ("gas --co '1.5 bar' --fuel E5", "is a pressure, not a share"),
        ("gas --co 0 --co2 0 --o2 20.9 --hc 0 --fuel E5", "nothing burnt in this gas"),
        ("gas --co2 14 --o2 1 --fuel E5", "co is missing"),
        ("gas --co 1 --o2 1 --fuel E5", "co2 is missing"),
        ("gas --fuel E5", "co is missing"),
        ("gas --co 1.5", "fuel is missing"),
        ("gas --co 1.5 --fuel super", "fuel 'super' is no blend"),
        ("gas --co 1.5 --fuel E101", "fuel 'E101' is no blend"),
        ("gas --co 1.5 --fuel E5 --class III", "Allowed: 00, 0, I"),
        ("gas --co 1.5 --fuel E5 --hc 100 --hc-as methane", "Allowed: hexane, propane, carbon"),
        ("gas --co 1.5 --fuel E5 --hc 100 --pef 0.5", "belongs to HC shown as propane"),
        ("gas --meter 14.1 --fuel E5", "Was it 14.1 AFR"),
        ("gas --meter '14.1 AFR' --meter-scale 147 --fuel E5", "is no fuel's air-fuel ratio"),
        ("gas --co 1.5 --wet --fuel E5", "co2 is missing"),
    ],
)
def test_nonsense_is_refused_by_name(shop: Shop, line: str, words: str) -> None:
    assert words in shop.bad(line)


@pytest.mark.parametrize("gas", ["--co2 40 --o2 0.6", "--co2 14 --o2 30"])
def test_nonsense_that_is_insisted_on_is_answered_with_a_warning(shop: Shop, gas: str) -> None:
    told = shop.answer("gas", f"gas --co 1.5 {gas} --hc 180 --fuel E5 --sure", status=0)
    assert [sign["kind"] for sign in told["signs"]] == ["not_together"]


def test_words_and_times_without_a_job_are_refused(shop: Shop) -> None:
    assert "say --job as well" in shop.bad(f"{SOUND} state=idle_warm")
    assert "say --job as well" in shop.bad(f"{SOUND} --at 2026-05-03T10:12")


# ------------------------------------------------------------------------- kept in a job


KEPT = "gas --co 1.5 --co2 13.9 --o2 0.6 --hc 180 --class I --job 1 state=idle_warm who=AB"


def begun(shop: Shop) -> Shop:
    shop.begin()
    shop("add 1 conditions fuel=E10")
    return shop


def test_readings_go_into_the_job_like_any_others(shop: Shop) -> None:
    told = begun(shop).answer("gas", f"{KEPT} --at {AT.format(12)}", status=0)
    assert told["fuel"]["name"] == "E10"
    rows = shop.answer("judge", "judge 1")["readings"]
    assert [row["what"] for row in rows] == ["exhaust_co", "exhaust_co2", "exhaust_o2", "exhaust_hc"]
    assert {row["verdict"] for row in rows} == {"within"}
    assert rows[0]["conditions"]["state"] == "idle_warm"
    assert [row["entries"] for row in rows] == [[one] for one in told["kept"]]
    for row, gas in zip(rows, told["gases"], strict=True):
        assert row["value"] == pytest.approx(gas["value"])
        assert row["u"] == pytest.approx(gas["u"], rel=0.01)  # the class's doubt, to two digits
    assert {entry["who"] for entry in shop.entries(1) if entry["kind"] == "reading"} == {"AB"}


def test_a_reading_outside_ends_with_one(shop: Shop) -> None:
    said = begun(shop)(KEPT.replace("--co 1.5", "--co 3.0").replace("13.9", "12.9"))
    assert said.status == 1
    assert "OUTSIDE" in said.out
    assert "To put it right, or to find out: " in flat(said.out)


def test_people_are_told_that_it_was_kept(shop: Shop) -> None:
    out = begun(shop)(KEPT).out
    assert "Kept in job 1: 4 readings" in out
    assert re.search(r"CO +1\.50 ± 0\.09 % +within", out)


def test_a_caution_that_was_read_is_said_in_short(shop: Shop) -> None:
    before = flat(begun(shop)(KEPT).out)
    assert "Headache" in before
    assert "When you have read it: evenpour add 1 read carbon_monoxide who=YOUR-NAME" in before
    shop("add 1 read carbon_monoxide who=AB")
    after = flat(shop(KEPT).out)
    assert after.startswith("CAUTION, Exhaust gas kills without smell (read by AB) Lambda")
    assert "Headache" not in after


def test_what_was_converted_is_noted_beside_the_reading(shop: Shop) -> None:
    begun(shop).answer("gas", KEPT.replace("--hc 180", "--hc 350 --hc-as propane --pef 0.52"))
    row = shop.answer("judge", "judge 1")["readings"][3]
    assert row["value"] == pytest.approx(182.0)
    assert row["comments"] == ["shown as propane; times 0.52 it is hexane"]


def test_the_jobs_own_analyser_gives_the_doubt(shop: Shop) -> None:
    begun(shop)('add 1 instrument bench analyser error="0.05 %"')
    told = shop.answer("gas", "gas --co 1.5 --co2 13.9 --o2 0.6 --job 1 state=idle_warm with=bench")
    assert {gas["basis"] for gas in told["gases"]} == {"analyser, ± 0.05 %"}
    assert shop.answer("judge", "judge 1")["readings"][0]["instrument"] == "bench"


def test_a_gas_at_the_end_of_the_analysers_scale_is_said(shop: Shop) -> None:
    begun(shop)('add 1 instrument bench analyser range="10 %" error="0.05 %"')
    told = shop.answer("gas", "gas --co 10 --job 1 state=idle_warm with=bench")
    assert "CO stands at the end of the analyser's scale: it may be more." in told["notes"]


def test_a_display_is_kept_as_lambda_on_its_own_scale(shop: Shop) -> None:
    begun(shop)('add 1 instrument wide wideband display scale="14.6 AFR at lambda 1" error="0.1 AFR"')
    told = shop.answer("gas", "gas --meter '14.0 AFR' --job 1 state=idle_warm with=wide")
    (row,) = shop.answer("judge", "judge 1")["readings"]
    assert row["what"] == "exhaust_lambda"
    assert row["value"] == pytest.approx(14.0 / 14.6, abs=1e-4)
    assert told["lambda"] == pytest.approx(14.0 / 14.6)
    assert "14.6 AFR at lambda 1, showed 14.0 AFR" in row["comments"][0]


def test_a_condition_that_one_gas_does_not_ask_for_is_left_to_the_others(shop: Shop) -> None:
    begun(shop).answer("gas", f"{KEPT} --nox 90 loads=off")
    rows = {row["what"]: row for row in shop.answer("judge", "judge 1")["readings"]}
    assert rows["exhaust_co"]["conditions"]["loads"] == "off"
    assert "loads" not in rows["exhaust_nox"]["conditions"]


def test_another_fuel_than_the_jobs_goes_with_the_readings(shop: Shop) -> None:
    told = begun(shop).answer("gas", f"{KEPT} --fuel E85")
    assert told["fuel"]["name"] == "E85"
    assert shop.answer("judge", "judge 1")["readings"][0]["conditions"]["fuel"] == "E85"


def test_readings_of_which_one_is_wrong_are_kept_only_when_insisted_on(shop: Shop) -> None:
    line = KEPT.replace("--o2 0.6", "--o2 14")
    words = begun(shop).bad(line)
    assert "cannot belong together" in words
    assert "--sure on the command line" in words
    assert shop.answer("judge", "judge 1")["readings"] == []
    assert shop(f"{line} --sure").status == 1  # O2 of 14 % is outside its limit
    assert len(shop.answer("judge", "judge 1")["readings"]) == 4


def test_all_or_none_are_kept(shop: Shop) -> None:
    begun(shop).bad(f"{KEPT} stat=idle_warm")
    shop.bad(f"{KEPT} --at yesterday")
    shop.bad(KEPT.replace("--hc 180", "--hc lots"))
    shop.bad(KEPT.replace("--job 1 state", "--job 1 rubbish state"))
    assert shop.answer("judge", "judge 1")["readings"] == []


def test_a_file_or_a_closed_job_is_refused(shop: Shop) -> None:
    assert "is no stored job's number" in shop.refused(f"{SOUND} --job car.toml")
    assert "not in this store" in shop.bad(f"{SOUND} --job 9")


def test_hc_that_infrared_does_not_see_is_said_where_it_would_matter(shop: Shop) -> None:
    line = "gas --co 1.5 --co2 13.9 --o2 0.6 --class I --fuel E5 --hc"
    much, little = shop.answer("gas", f"{line} 180"), shop.answer("gas", f"{line} 20")
    twice = shop.answer("gas", f"{line} 360")["lambda"]
    assert any(f"With twice as much, lambda is {twice:.3f}" in note for note in much["notes"])
    assert much["low"] < twice  # and the doubt holds it
    assert "HC, of which infrared may see only half" in much["sharpen"]
    assert not any("Infrared" in note for note in little["notes"])
    by_flame = shop.answer("gas", f"{line} 1080 --hc-as carbon")
    assert not any("Infrared" in note for note in by_flame["notes"])


@pytest.mark.parametrize(
    ("meter", "fuel", "kind"),
    [("9.4 AFR", "E85", "meter_too_rich"), ("22 AFR", "E5", "meter_too_lean"), ("0.95", "E5", None)],
)
def test_a_display_alone_is_questioned_where_no_engine_runs(
    shop: Shop, meter: str, fuel: str, kind: str | None
) -> None:
    answer = shop.answer("gas", f"gas --fuel {fuel} --meter", meter, status=0)
    assert [sign["kind"] for sign in answer["signs"]] == ([kind] if kind else [])


def test_a_display_is_questioned_as_well_beside_a_gas_that_tells_no_lambda(shop: Shop) -> None:
    answer = shop.answer("gas", "gas --fuel E5 --co 0.1 --meter", "22 AFR", status=0)
    assert answer["method"] == "meter"
    assert [sign["kind"] for sign in answer["signs"]] == ["little_co", "meter_too_lean"]


def test_the_scale_that_a_display_is_taken_to_have_is_said_where_nobody_said_it(shop: Shop) -> None:
    assumed = shop.answer("gas", "gas --fuel E10 --meter", "14.1 AFR", status=0)["notes"]
    stated = shop.answer("gas", "gas --fuel E10 --meter-scale 14.1 --meter", "13.6 AFR", status=0)["notes"]
    assert any("taken to show 14.7 at lambda 1" in note for note in assumed)
    assert not any("taken to show" in note for note in stated)


def test_raw_fuel_beside_no_more_oxygen_than_a_sound_engine_leaves_is_no_misfire(shop: Shop) -> None:
    told = shop.answer("gas", "gas --co 1.5 --co2 13.9 --o2 0.8 --hc 850 --fuel E5", status=0)
    assert [sign["kind"] for sign in told["signs"]] == ["unburnt_fuel"]
