"""``evenpour judge``, ``path`` and ``catch``: what they say, in which units, and how they end."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from cli_world import AT, DEMO, Shop, shop
from evenpour.cli.path import print_next
from evenpour.job.answers import NextAnswer
from evenpour.job.demo import demo_entries
from evenpour.job.job_file import write_toml

__all__ = ["shop"]
HEAD = 'format = "evenpour-job/1"\n[engine]\nsheet = "{}"\n'
READING = '[[reading]]\nwhat = "{}"\nvalue = "{}"\n'
CATCH = '[[catch]]\nthrough = "{}"\nopening = "{}"\nduration = "35 s"\namounts = {}\n'
EVEN = ["80 ml", "80.5 ml", "79.5 ml", "80 ml", "80 ml", "80.5 ml"]
FOUR_LOW = ["80 ml", "80.5 ml", "79.5 ml", "40 ml", "80 ml", "80.5 ml"]


def job_file(folder: Path, *parts: str, sheet: str = "flat-six") -> str:
    """The path of a job file made of these parts."""
    path = folder / "job.toml"
    path.write_text("\n".join([HEAD.format(sheet), *parts]), encoding="utf-8")
    return str(path)


def system(value: str) -> str:
    return READING.format("system_pressure", value) + 'conditions = { valve = "shut" }\n'


@pytest.mark.parametrize(
    ("value", "verdict", "status"),
    [("4.95 bar", "within", 0), ("5.6 bar", "outside", 1), ("4.72 bar", "cannot_tell", 0)],
)
def test_judge_ends_with_one_only_for_a_reading_outside(
    shop: Shop, tmp_path: Path, value: str, verdict: str, status: int
) -> None:
    file = job_file(tmp_path, system(value))
    (row,) = shop.answer("judge", "judge", file, status=status)["readings"]
    assert row["verdict"] == verdict
    assert (row["limit"]["low"], row["limit"]["high"]) == (4.7, 5.2)
    assert "not verified" in row["limit"]["source"]
    said = shop("judge", file)
    assert said.status == status
    marks = {
        "within": "within, over 99 % sure",
        "outside": "OUTSIDE, over 99 % sure",
        "cannot_tell": "cannot tell, ",
    }
    assert marks[verdict] in said.out


def test_a_reading_that_cannot_be_told_says_what_would_settle_it(shop: Shop, tmp_path: Path) -> None:
    file = job_file(tmp_path, system("4.72 bar"))
    (row,) = shop.answer("judge", "judge", file)["readings"]
    assert row["settle"]
    assert 0.05 < row["p_within"] < 0.95
    assert "- System pressure: to settle it: " in shop("judge", file).out


def test_an_earlier_reading_outside_no_longer_counts(shop: Shop, tmp_path: Path) -> None:
    early = system("5.6 bar") + "at = 2026-05-03T10:12:00\n"
    late = system("4.95 bar") + "at = 2026-05-03T12:12:00\n"
    said = shop("judge", job_file(tmp_path, early, late))
    assert said.status == 0
    assert "System pressure (earlier)" in said.out
    assert "(earlier): a newer reading of the same counts instead." in said.out


def test_a_reading_of_a_part_that_was_replaced_says_so_and_names_no_newer_one(
    shop: Shop, tmp_path: Path
) -> None:
    drip = '[[reading]]\nwhat = "injector_drip"\ncylinder = 4\nvalue = "{}"\nat = 2026-05-03T{}:00:00\n'
    replaced = '[[did]]\naction = "replaced"\npart = "injector"\ncylinder = 4\nat = 2026-05-03T11:00:00\n'
    file = job_file(tmp_path, drip.format("drips", "09"), drip.format("dry", "10"), replaced)
    rows = shop.answer("judge", "judge", file, status=0)["readings"]
    assert [(row["stands"], row["overtaken"]) for row in rows] == [(False, "part_changed")] * 2
    out = shop("judge", file).out
    assert "cylinder 4 (of the old part)  dry" in out
    assert "(of the old part): what was read has been changed since, and not been read again." in out
    assert "a newer reading" not in out
    file = job_file(tmp_path, drip.format("drips", "09"), replaced, drip.format("dry", "12"))
    rows = shop.answer("judge", "judge", file, status=0)["readings"]
    assert [row["overtaken"] for row in rows] == ["newer", None]


def test_a_job_without_readings_says_so(shop: Shop, tmp_path: Path) -> None:
    file = job_file(tmp_path)
    assert shop("judge", file).out.startswith("No reading yet.")
    assert shop.answer("judge", "judge", file, status=0)["readings"] == []
    assert "Nothing has been caught yet." in shop("catch", file).out
    assert shop.answer("catch", "catch", file, status=0)["spread"] is None


def test_a_choice_has_its_allowed_choices_as_limit(shop: Shop, tmp_path: Path) -> None:
    file = job_file(tmp_path, READING.format("plate_travel", "binds"))
    (row,) = shop.answer("judge", "judge", file, status=1)["readings"]
    assert (row["value"], row["limit"]["allowed"], row["p_within"], row["unit"]) == (
        "binds",
        ["free"],
        0.0,
        None,
    )


def test_without_a_limit_it_cannot_be_told_and_the_manual_decides(shop: Shop, tmp_path: Path) -> None:
    file = job_file(tmp_path, READING.format("onset", "3/8 turn"))
    (row,) = shop.answer("judge", "judge", file, status=0)["readings"]
    assert (row["verdict"], row["limit"], row["p_within"]) == ("cannot_tell", None, None)
    assert "manual" in row["settle"]


def test_repeats_are_judged_as_one_reading(shop: Shop, tmp_path: Path) -> None:
    text = '[[reading]]\nwhat = "system_pressure"\nvalues = ["4.9 bar", "5.0 bar", "4.95 bar"]\n'
    (row,) = shop.answer("judge", "judge", job_file(tmp_path, text))["readings"]
    assert (row["n"], row["typed"]) == (3, ["4.9 bar", "5.0 bar", "4.95 bar"])
    assert row["value"] == pytest.approx(4.95)
    assert " bar, mean of 3  " in shop("judge", str(tmp_path / "job.toml")).out


def test_few_repeats_are_shown_with_the_width_that_holds_19_in_20(shop: Shop, tmp_path: Path) -> None:
    values = ["4.7 bar", "5.0 bar", "5.3 bar"]
    gauge = (
        '[[instrument]]\nid = "g"\nkind = "pressure gauge"\nerror = "0.01 bar"\nresolution = "0.001 bar"\n'
    )
    text = f'[[reading]]\nwhat = "system_pressure"\nvalues = {json.dumps(values)}\ninstrument = "g"\n'
    (row,) = shop.answer("judge", "judge", job_file(tmp_path, gauge, text))["readings"]
    assert row["dof"] == 2
    assert row["u"] == pytest.approx(0.3 / 3**0.5, rel=1e-2)
    # t(0.975, 2) = 4.30 (any table of Student's t): 4.30 x 0.1733 = 0.75, not 2 x 0.1733 = 0.35
    assert row["shown"] == "5.0 ± 0.7 bar"


@pytest.mark.parametrize(
    ("units", "unit", "value"), [("metric", "bar", 4.9), ("us", "psi", 71.07), ("imperial", "psi", 71.07)]
)
def test_units_are_those_asked_for(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, units: str, unit: str, value: float
) -> None:
    file = job_file(tmp_path, system("4.9 bar"))
    (asked,) = shop.answer("judge", f"judge --units {units}", file)["readings"]
    assert (asked["unit"], asked["value"]) == (unit, pytest.approx(value, abs=0.01))
    monkeypatch.setenv("EVENPOUR_UNITS", units)
    (set_once,) = shop.answer("judge", "judge", file)["readings"]
    assert set_once == asked


def test_units_asked_for_go_before_those_set(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVENPOUR_UNITS", "us")
    (row,) = shop.answer("judge", "judge --units metric", job_file(tmp_path, system("71 psi")))["readings"]
    assert row["unit"] == "bar"


def test_without_units_a_reading_stays_as_it_was_typed(shop: Shop, tmp_path: Path) -> None:
    (row,) = shop.answer("judge", "judge", job_file(tmp_path, system("71 psi")))["readings"]
    assert (row["unit"], row["limit"]["words"]) == ("psi", "68.2 to 75.4 psi")


def test_what_would_settle_it_is_said_in_the_units_asked_for(shop: Shop, tmp_path: Path) -> None:
    cold = READING.format("control_pressure_cold", "1.48 bar")
    file = job_file(
        tmp_path, system("4.74 bar"), cold + 'conditions = { regulator_temperature = "17 degC" }\n'
    )
    for units, own, other in (("us", "psi", " bar"), ("metric", "bar", "psi")):
        rows = shop.answer("judge", f"judge --units {units}", file)["readings"]
        settle = " ".join(row["settle"] for row in rows)
        assert own in settle
        assert other not in settle
        notes = " ".join(words for row in rows for words in row["notes"])
        assert ("± 1.5 psi assumed" if units == "us" else "± 0.10 bar assumed") in notes
        assert ("± 2 °F assumed" if units == "us" else "± 1 °C assumed") in notes


def test_fluid_ounces_say_whose_they_are(shop: Shop, tmp_path: Path) -> None:
    file = job_file(tmp_path, CATCH.format("lines", "full", json.dumps(EVEN)))
    assert "2.71 US fl oz" in shop("catch --units us", file).out
    assert "2.82 imp fl oz" in shop("catch --units imperial", file).out
    assert "80.0 ml" in shop("catch --units metric", file).out
    assert "80 ml, 80.5 ml" in shop("catch", file).out


@pytest.mark.parametrize("set_by", ["option", "environment"])
def test_units_nobody_has_are_bad_input(shop: Shop, monkeypatch: pytest.MonkeyPatch, set_by: str) -> None:
    if set_by == "environment":
        monkeypatch.setenv("EVENPOUR_UNITS", "metrik")
        assert "Did you mean metric?" in shop.bad("judge", str(DEMO))
    else:
        assert "Did you mean metric?" in shop.bad("judge --units metrik", str(DEMO))


def test_path_of_a_new_job_says_where_to_begin_and_ends_well(shop: Shop) -> None:
    shop.begin()
    answer = shop.answer("path", "path 1", status=0)
    states = {stage["stage"]: stage["state"] for stage in answer["stages"]}
    assert states["intake"] == "open"
    assert states["first_fire"] == "blocked"
    assert answer["next"][0]["step"] == "story"
    said = shop("path 1")
    assert said.status == 0
    assert "To put back\n  empty\n" in said.out
    assert "A step whole, cautions first: evenpour path 1 --step STEP" in said.out


@pytest.mark.parametrize("share", [0.17, 0.25, 0.33, 0.5, 0.67])
def test_path_in_the_middle_of_a_job_fits_a_screen_or_so(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, share: float
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    entries = demo_entries()
    file = tmp_path / "job.toml"
    file.write_text(write_toml(entries[: int(share * len(entries))]), encoding="utf-8")
    told = shop("path", str(file)).out.splitlines()
    assert len(told) <= 80
    needs = [line for line in told if line.startswith("    * ")]
    assert len(needs) == len(set(needs))


def test_like_items_of_the_put_back_list_share_a_line(shop: Shop) -> None:
    for number in (1, 2, 3, 4):
        shop.begin()
        for cylinder in range(1, number + 1):
            shop(f"add {number} removed spark_plug {cylinder} --at {AT.format(12)}")
    assert ", cylinder 1 [spark_plug 1], since 3 May 2026, 10:12" in shop("path 1").out
    assert "cylinders 1 to 4 [spark_plug CYLINDER], since 3 May 2026, 10:12" in shop("path 4").out


def test_what_several_steps_wait_for_is_said_once(capsys: pytest.CaptureFixture[str]) -> None:
    def step(name: str, why: str, *unmet: str) -> NextAnswer:
        return NextAnswer(
            step=name, title=name, stage="pressures", cylinders=[], minutes=5, why=why, cautions=[],
            unmet=list(unmet), repeat=False, foresee=["No gauge here would do."],
        )  # fmt: skip

    print_next([step("one", "a", "no spark", "gauge in"), step("two", "gauge in", "no spark", "gauge in")])
    told = capsys.readouterr().out
    assert told.startswith("  First, for these steps:\n    * no spark\n  - one [one], 5 min\n")
    assert told.count("no spark") == 1
    assert told.count("gauge in") == 1, "a step of the list brings it about, and says so"
    assert told.count("No gauge here would do.") == 1


def test_a_stage_that_is_merely_blocked_is_no_reason_to_end_with_one(shop: Shop, tmp_path: Path) -> None:
    answer = shop.answer("path", "path", job_file(tmp_path, system("4.95 bar")), status=0)
    assert "blocked" in {stage["state"] for stage in answer["stages"]}


def test_a_stale_proof_ends_path_with_one_and_names_what_to_repeat(shop: Shop) -> None:
    shop.begin()
    shop(f"add 1 drip 4 dry --at {AT.format(12)}")
    shop(f"add 1 replaced injector 4 --at {AT.format(20)}")
    answer = shop.answer("path", "path 1", status=1)
    assert {"injector_drip_test"} <= {one["step"] for one in answer["repeat"]}
    said = shop("path 1")
    assert said.status == 1
    assert "STALE" in said.out
    assert f"To repeat, {answer['repeat_minutes']} minutes in all" in said.out


def test_a_reading_outside_ends_path_with_one_and_is_named(shop: Shop, tmp_path: Path) -> None:
    file = job_file(tmp_path, system("5.6 bar"))
    answer = shop.answer("path", "path", file, status=1)
    assert answer["outside"] == ["System pressure"]
    assert "Outside their limits\n  - System pressure\n" in shop("path", file).out


def test_the_put_back_list_names_the_word_that_takes_it_off(shop: Shop) -> None:
    shop.begin()
    shop("add 1 disconnected injector_union 2")
    assert "[injector_union 2]" in shop("path 1").out
    said = shop("add 1 reconnected injector_union 2")
    assert "Off the put-back list: " in said.out


def test_a_step_is_told_whole_with_its_caution_first(shop: Shop) -> None:
    shop.begin()
    told = shop.answer("step", "path 1 --step spark_disabled", status=0)
    assert told["cautions"][0]["id"] == "ignition_voltage"
    assert told["cautions"][0]["read_by"] is None
    out = shop("path 1 --step spark_disabled").out
    assert out.index("CAUTION") < out.index("Ignition off")
    assert "evenpour add 1 read ignition_voltage who=" in out
    shop("add 1 read ignition_voltage who=AB")
    assert "(read by AB)" in shop("path 1 --step spark_disabled").out


def test_a_step_can_be_told_from_a_file_as_well(shop: Shop) -> None:
    out = shop("path", str(DEMO), "--step", "read_system_pressure").out
    assert "4.70 to 5.20 bar" in out
    assert (
        "68.2 to 75.4 psi" in shop("path", str(DEMO), "--step", "read_system_pressure", "--units", "us").out
    )
    assert "system_pressure" in out


def test_every_step_of_every_sheet_can_be_told(shop: Shop) -> None:
    from evenpour.data import sheet_names
    from evenpour.job import new_job, open_job

    for sheet in sheet_names():
        job = open_job(str(new_job({"sheet": sheet})), units="us")
        for step in job.plan.step:
            told = job.step(step)
            assert told.how
            assert not set("{}") & set(told.how + told.why + told.look_out + "".join(told.tools))


@pytest.mark.parametrize("step", ["spark_disable", "sensor_unplugged"])
def test_a_step_this_engine_does_not_have_is_bad_input(shop: Shop, step: str) -> None:
    shop.begin()
    assert "is no step of this engine's path" in shop.bad(f"path 1 --step {step}")


def test_an_even_catch_ends_well_and_an_uneven_one_with_one(shop: Shop, tmp_path: Path) -> None:
    even = job_file(tmp_path, *[CATCH.format("lines", "full", json.dumps(EVEN))] * 2)
    answer = shop.answer("catch", "catch", even, status=0)
    assert (answer["verdict"], answer["parts"] and max(part["p_off"] for part in answer["parts"]) < 0.5) == (
        "within",
        True,
    )
    assert ": even, over 99 % sure" in shop("catch", even).out
    low = job_file(tmp_path, *[CATCH.format("injectors", "full", json.dumps(FOUR_LOW))] * 2)
    answer = shop.answer("catch", "catch", low, status=1)
    assert answer["verdict"] == "outside"
    assert {one["cylinder"] for group in answer["undivided"] for one in group} == {4}
    out = shop("catch", low).out
    assert ": UNEVEN, over 99 % sure" in out
    assert re.search(r"- line 4: \d\d % likely to be off; if so, about 4\d % short", out)


def test_a_swap_moves_the_blame_with_the_part(shop: Shop, tmp_path: Path) -> None:
    moved = ["40 ml", "80.5 ml", "79.5 ml", "80 ml", "80 ml", "80.5 ml"]
    runs = [CATCH.format("injectors", "full", json.dumps(FOUR_LOW))] * 2
    runs += [CATCH.format("injectors", "full", json.dumps(moved)) + 'swaps = ["injector 4 with 1"]\n'] * 2
    answer = shop.answer("catch", "catch", job_file(tmp_path, *runs), status=1)
    worst = max(answer["parts"], key=lambda part: part["p_off"])
    assert (worst["part"], worst["cylinder"]) == ("injector", 4)
    out = shop("catch", str(tmp_path / "job.toml")).out
    assert re.search(r"- injector 4\b[^:]*: (49|50|51) ± \d % short, over 99 % sure\n", out)
    assert "njector 4 is now at port 1, exchanged with injector 1." in out


def test_a_part_that_is_surely_off_ends_catch_with_one_though_its_catch_no_longer_counts(
    shop: Shop, tmp_path: Path
) -> None:
    moved = [*FOUR_LOW[3:4], *FOUR_LOW[1:3], *EVEN[3:]]
    runs = [CATCH.format("injectors", "full", json.dumps(FOUR_LOW)) + f"at = {AT.format(1)}:00\n"] * 2
    swap = 'swaps = ["injector 4 with 1"]\n'
    runs += [CATCH.format("injectors", "full", json.dumps(moved)) + swap + f"at = {AT.format(2)}:00\n"] * 2
    changed = f'[[did]]\naction = "replaced"\npart = "line"\ncylinder = 2\nat = {AT.format(3)}:00\n'
    answer = shop.answer("catch", "catch", job_file(tmp_path, *runs, changed), status=1)
    assert answer["verdict"] == "cannot_tell"
    new = f'[[did]]\naction = "replaced"\npart = "injector"\ncylinder = 4\nat = {AT.format(4)}:00\n'
    assert shop("catch", job_file(tmp_path, *runs, changed, new)).status == 0


def test_a_plain_look_stands_beside_repeat_scatter_and_what_sticks_out(shop: Shop, tmp_path: Path) -> None:
    two = [EVEN, ["80.5 ml", "80 ml", "80 ml", "79.5 ml", "80.5 ml", "80 ml"]]
    file = job_file(tmp_path, *[CATCH.format("lines", "full", json.dumps(amounts)) for amounts in two])
    answer = shop.answer("catch", "catch", file)
    # Differences of the repeats, 0.5 ml either way in 80 ml, over root 2 and one freedom in six spent.
    assert answer["repeat_scatter"] == pytest.approx(0.0045, rel=0.1)
    assert [run["sticks_out"] for run in answer["runs"]] == [None, None]
    out = shop("catch", file).out
    assert "Repeats of one catch scatter by about 0." in out
    assert "sticks out" not in out
    single = job_file(tmp_path, CATCH.format("injectors", "full", json.dumps(FOUR_LOW)))
    answer = shop.answer("catch", "catch", single)
    assert answer["repeat_scatter"] is None
    (run,) = answer["runs"]
    assert run["sticks_out"]["position"] == 4
    assert run["sticks_out"]["critical"] == pytest.approx(
        1.887, abs=1e-3
    )  # table of Grubbs, n = 6, two-sided
    assert run["sticks_out"]["g"] > run["sticks_out"]["critical"]
    assert "Catch 1: port 4 sticks out from the others." in shop("catch", single).out


def test_lost_amounts_weights_and_purge_runs_are_told(shop: Shop, tmp_path: Path) -> None:
    lost = CATCH.format("lines", "full", json.dumps([*EVEN[:2], "", *EVEN[3:]]))
    weighed = CATCH.format("lines", "full", json.dumps([f"{one[:-3]} g" for one in EVEN]))
    purge = CATCH.format("lines", "full", json.dumps(EVEN)) + "discard = true\n"
    file = job_file(tmp_path, lost, weighed, purge)
    runs = shop.answer("catch", "catch", file)["runs"]
    assert runs[0]["amounts"][2] is None
    assert runs[1]["amounts"][0] == pytest.approx(107.4, abs=1.0)  # 80 g of petrol at 745 g/l
    assert runs[2]["discarded"]
    out = shop("catch", file).out
    assert "lost" in out
    assert "(does not count)" in out
    assert "80 g" in out
    assert "Weighed without a fuel temperature: 15 °C taken" in out


def test_answers_are_the_same_however_often_they_are_asked(shop: Shop) -> None:
    for name in ("judge", "path", "catch"):
        assert shop(name, str(DEMO), "--json") == shop(name, str(DEMO), "--json")


@pytest.mark.parametrize("command", ["judge", "path", "catch"])
def test_a_file_that_is_not_there_is_bad_input(shop: Shop, command: str) -> None:
    assert "is neither a job file nor a stored job's number" in shop.bad(command, "nothing.toml")


def test_a_file_whose_name_is_a_number_is_named_by_its_path(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path(job_file(tmp_path, system("4.95 bar"))).rename(tmp_path / "12")
    monkeypatch.chdir(tmp_path)
    assert "is not in this store" in shop.bad("judge 12")
    assert shop("judge ./12").status == 0


def test_a_mistake_of_ours_ends_with_three(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evenpour.job.job.judge_answer", lambda *_: 1 / 0)
    said = shop("judge", str(DEMO))
    assert (said.status, said.out) == (3, "")
    assert said.err.startswith("evenpour failed: ZeroDivisionError")


def test_readings_of_one_check_are_told_apart_by_what_differs(shop: Shop, tmp_path: Path) -> None:
    twice = [
        READING.format("holding_pressure", value) + f'conditions = {{ after = "{after}", valve = "open" }}\n'
        for value, after in (("2.3 bar", "10 min"), ("2.1 bar", "20 min"))
    ]
    out = shop("judge", job_file(tmp_path, *twice)).out
    assert "Holding pressure after the stop, after 10 min  2.30" in out
    assert "Holding pressure after the stop, after 20 min  2.10" in out
    assert "valve open" not in out
    assert "(after 20 min, gauge valve open)" in shop("job show", str(tmp_path / "job.toml")).out


@pytest.mark.parametrize("command", ["judge", "path", "causes"])
def test_a_lambda_typed_as_an_air_fuel_ratio_is_told_as_lambda_everywhere(
    shop: Shop, tmp_path: Path, command: str
) -> None:
    file = job_file(
        tmp_path, READING.format("exhaust_lambda", "14.0 AFR") + 'conditions = { state = "idle_warm" }\n'
    )
    told = shop(command, file)
    assert (told.status, told.err) == (0, "")
    assert "14.0" not in told.out
    assert command != "judge" or "lambda 0.952" in told.out
