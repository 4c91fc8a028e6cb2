"""``evenpour trace``: what it says, what it keeps in a job, and what it asks instead of guessing."""

from __future__ import annotations

import hashlib
import math
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from cli_world import Shop, shop
from trace_world import engine_log

__all__ = ["shop"]

TRACES = Path(__file__).parent / "traces"
HOLDING = f"trace {TRACES / 'holding_three_heads.csv'} --kind holding"
WARM_UP = f"trace {TRACES / 'warm_up.csv'} --kind warm_up"
DRIVE = f"trace {TRACES / 'drive.csv'} --kind running"


@pytest.fixture
def log(tmp_path: Path) -> Callable[..., str]:
    """Writes a log of time and pressure, and gives the command that reads it as a holding trace."""

    def written(pressure: Callable[[float], float], many: int = 130, digits: int = 3) -> str:
        rows = [f"{10 * one},{pressure(10.0 * one):.{digits}f}" for one in range(many)]
        path = tmp_path / "log.csv"
        path.write_text("\n".join(["t [s],P [bar]", *rows]) + "\n")
        return f"trace {path}"

    return written


def flat(text: str) -> str:
    """Without line ends, which depend on the terminal's width."""
    return " ".join(text.split())


def test_a_holding_trace_is_answered_with_its_fixed_keys(shop: Shop) -> None:
    answer = shop.answer("trace", f"{HOLDING} --sheet flat-six", status=0)
    assert answer["fit"]["law"] == "orifice"
    rate = next(one for one in answer["fit"]["parameters"] if one["name"] == "rate")
    assert rate["low"] < rate["value"] < rate["high"]
    assert {one["name"] for one in answer["predictions"]} == {"pressure", "time_to", "restart_margin"}
    assert [one["used_as"] for one in answer["columns"]] == ["time", "pressure", None, None]
    assert answer["verdict"] == "cannot_tell"


def test_one_pressure_of_a_recording_has_one_probability_and_no_figure_is_finer_than_its_gauge(
    shop: Shop,
) -> None:
    answer = shop.answer("trace", f"{HOLDING} --sheet flat-six", status=0)
    within = [one["p"] for one in answer["predictions"] if one["name"] == "pressure" and not one["beyond"]]
    assert within == [row["p_within"] for row in answer["readings"]]
    start, rate, *_ = answer["fit"]["parameters"]
    gauge = min(row["u"] for row in answer["readings"])
    assert start["u"] > 0.95 * gauge
    assert rate["u"] / rate["value"] > 0.8 * gauge / start["value"]


def test_what_the_hot_restart_assumes_is_said_and_can_be_said_otherwise(shop: Shop) -> None:
    said = flat(shop(f"{HOLDING} --sheet flat-six").out)
    assert "the leaks are taken to be the same hot as in this trace" in said
    assert "Assumed: air outside 20 °C, fuel E5, summer fuel, sea level" in said
    known = "ambient_temperature=35C fuel=E10 fuel_grade=winter altitude=300m"
    said = flat(shop(f"{HOLDING} --sheet flat-six {known}").out)
    assert "Assumed" not in said


def test_winter_fuel_and_a_hot_day_leave_less_over_boiling(shop: Shop) -> None:
    def margins(words: str) -> list[float]:
        answer = shop.answer("trace", f"{HOLDING} --sheet flat-six {words}", status=0)
        return [one["value"] for one in answer["predictions"] if one["name"] == "restart_margin"]

    summer = margins("ambient_temperature=20C fuel_grade=summer")
    hot = margins("ambient_temperature=38C fuel_grade=summer")
    winter = margins("ambient_temperature=20C fuel_grade=winter")
    assert all(one < other for one, other in zip(hot, summer, strict=True))
    assert all(one < other for one, other in zip(winter, summer, strict=True))


def test_a_gauge_that_never_moves_tells_that_it_held_or_stuck_and_no_more_than_its_step(
    shop: Shop, log: Callable[..., str]
) -> None:
    line = f"{log(lambda time: 2.4)} --kind holding --sheet flat-six"
    answer = shop.answer("trace", line, status=0)
    rate = next(one for one in answer["fit"]["parameters"] if one["name"] == "rate")
    # A whole step of the gauge (0.1 bar is assumed) in the 21.5 min recorded is more than it can have fallen.
    assert 0.0 <= rate["low"] < rate["high"] <= 0.1 / 21.5
    said = flat(shop(line).out)
    assert "either nothing leaks that this gauge could show, or its needle sticks" in said
    assert "waves" not in said


def test_a_pressure_that_only_climbs_shows_no_leak(shop: Shop, log: Callable[..., str]) -> None:
    said = shop.bad(f"{log(lambda time: 2.4 + 0.001 * time)} --kind holding --sheet flat-six")
    assert "climbs by 1.28 bar and does not fall" in said


def test_a_warm_up_is_told_with_its_plateau_time_constant_and_cold_start_point(shop: Shop) -> None:
    answer = shop.answer("trace", f"{WARM_UP} --sheet flat-six", status=0)
    names = {one["name"] for one in answer["fit"]["parameters"]}
    assert {"start", "plateau", "time_constant", "knee", "slope", "bimetal_end"} <= names
    assert any("at 12.05 V" in note for note in answer["notes"])


def test_the_cold_start_point_is_judged_at_the_temperature_that_was_logged(shop: Shop) -> None:
    answer = shop.answer("trace", f"{WARM_UP} --sheet flat-six", status=0)
    cold = next(row for row in answer["readings"] if row["what"] == "control_pressure_cold")
    assert cold["conditions"]["regulator_temperature"].startswith("18")
    assert cold["conditions"]["heater"] == "unplugged"
    assert cold["limit"]["low"] < cold["value"] < cold["limit"]["high"]
    typed = shop.answer("trace", f"{WARM_UP} --sheet flat-six regulator_temperature=25C", status=1)
    other = next(row for row in typed["readings"] if row["what"] == "control_pressure_cold")
    assert other["conditions"]["regulator_temperature"].startswith("25")
    assert other["limit"]["low"] > cold["limit"]["low"]


@pytest.mark.parametrize("noise", [0.0, 0.004])
def test_a_regulator_that_was_warm_already_has_a_plateau_and_no_time_constant(
    shop: Shop, log: Callable[..., str], noise: float
) -> None:
    random = np.random.default_rng(3)
    line = log(lambda time: 3.6 + noise * random.standard_normal(), many=40)
    answer = shop.answer("trace", f"{line} --kind warm_up --sheet flat-six voltage=12V", status=0)
    assert [one["name"] for one in answer["fit"]["parameters"]] == ["plateau"]
    assert any("No climb shows" in note for note in answer["notes"])
    assert [row["what"] for row in answer["readings"]] == ["control_pressure_warm"]


def test_a_pressure_that_falls_is_no_warm_up(shop: Shop, log: Callable[..., str]) -> None:
    line = log(lambda time: 3.6 - 0.0015 * time, many=40)
    said = shop.bad(f"{line} --kind warm_up --sheet flat-six voltage=12V")
    assert "falls, from 3.60 bar to" in said
    assert "this is no warm-up" in said


def test_two_pressures_are_asked_about_and_answered_when_said(shop: Shop) -> None:
    line = f"trace {TRACES / 'two_pressures.csv'} --kind holding --sheet flat-six"
    said = shop.bad(line)
    assert "could be column 2 'P1 [bar]' or 3 'P2 [bar]'" in said
    assert "--column pressure=2" in said
    assert shop(f"{line} --column pressure=2").status == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("--kind hold --sheet flat-six", "'hold' is no kind of trace"),
        ("--kind holding", "Say --sheet flat-six, or --job 3"),
        ("--kind holding --sheet flat-six --job 1", "stands beside a job"),
        ("--kind holding --sheet flat-six valve=ajar", "valve 'ajar' is no choice of valve"),
        ("--kind holding --sheet flat-six colour=red", "'colour' is no condition"),
        ("--kind holding --sheet flat-six rubbish", "say nothing here"),
        ("--kind holding --sheet flat-six --column pressure", "does not say which column"),
        ("--kind holding --sheet flat-six --rows all", "names no lines"),
        ("--kind holding --sheet flat-six --rows 900-100", "run backwards"),
        ("--kind running --sheet flat-six --state flying", "'flying' is no state of the engine"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(shop: Shop, words: str, says: str) -> None:
    said = shop.bad(f"trace {TRACES / 'holding_three_heads.csv'} {words}")
    assert says in said
    assert "trace-" not in said


def test_readings_go_into_the_job_with_the_files_hash_and_its_lines(shop: Shop) -> None:
    number = shop.begin()
    said = flat(shop(f"{HOLDING} --job {number} who=AB").out)
    assert f"Kept in job {number} as trace-" in said
    (ten, twenty) = shop.entries(number)
    digest = hashlib.sha256((TRACES / "holding_three_heads.csv").read_bytes()).hexdigest()
    for entry in (ten, twenty):
        assert entry["kind"] == "reading"
        assert entry["who"] == "AB"
    exported = shop.home.parent / "job.json"
    assert shop(f"job export {number} -o {exported}").status == 0
    assert exported.read_text().count(digest) == 2
    assert "lines 4 to 474" in exported.read_text()
    kept = list((shop.home / "recordings").iterdir())
    assert any(hashlib.sha256(one.read_bytes()).hexdigest() == digest for one in kept)


def test_the_same_recording_read_twice_counts_once(shop: Shop) -> None:
    number = shop.begin()
    shop(f"{HOLDING} --job {number}")
    shop(f"{HOLDING} --job {number}")
    assert len(shop.entries(number)) == 2


def test_the_record_shows_the_recording_with_its_chart_and_hash(shop: Shop, tmp_path: Path) -> None:
    number = shop.begin()
    shop(f"{HOLDING} --job {number}")
    page = tmp_path / "record.html"
    assert shop(f"record {number} -o {page}").status == 0
    text = page.read_text()
    digest = hashlib.sha256((TRACES / "holding_three_heads.csv").read_bytes()).hexdigest()
    assert digest in text
    assert "Pressure after the stop" in text


@pytest.mark.parametrize("line", [HOLDING, WARM_UP, f"{DRIVE} --warm"])
def test_every_kind_has_its_chart_in_letters_and_as_a_drawing(shop: Shop, tmp_path: Path, line: str) -> None:
    chart = tmp_path / "chart.svg"
    said = shop(f"{line} --sheet flat-six --chart {chart}")
    assert said.status in (0, 1)
    assert "· read, * fitted" in said.out
    root = ET.parse(chart).getroot()
    assert root.tag.endswith("svg")
    title = "".join(root.itertext())
    assert shop.answer("trace", f"{line} --sheet flat-six")["plot"]["title"] in title


def test_a_chart_is_written_as_svg_or_not_at_all(shop: Shop, tmp_path: Path) -> None:
    said = shop(f"{HOLDING} --sheet flat-six --chart {tmp_path / 'chart.png'}")
    assert said.status == 2
    assert "FILE.svg" in said.err


def test_figures_follow_the_units_asked_for(shop: Shop) -> None:
    metric = shop.answer("trace", f"{HOLDING} --sheet flat-six", status=0)["predictions"][0]
    us = shop.answer("trace", f"{HOLDING} --sheet flat-six --units us", status=0)["predictions"][0]
    assert (metric["unit"], us["unit"]) == ("bar", "psi")
    assert us["value"] == pytest.approx(metric["value"] * 1e5 / 6894.757293168)
    assert math.isfinite(us["u"])


Effects = dict[str, dict[str, float]]


def effects_of(shop: Shop, path: Path, words: str = "") -> tuple[Effects, list[list[str]]]:
    """What a drive tells of each cause, in per cent richer, and what it cannot tell apart."""
    answer = shop.answer("trace", f"trace {path} --kind running --sheet flat-six {words}")
    return {one["name"]: one for one in answer["fit"]["parameters"]}, answer["fit"]["undivided"]


@pytest.fixture
def drive_of(shop: Shop, tmp_path: Path) -> Callable[..., tuple[Effects, list[list[str]]]]:
    """Logs a car that the model drives, and reads the log."""

    def told(words: str = "", **off: float) -> tuple[Effects, list[list[str]]]:
        path = tmp_path / "drive.csv"
        path.write_text(engine_log(**off), encoding="utf-8")
        return effects_of(shop, path, words)

    return told


def test_a_healthy_engine_is_told_to_have_nothing(drive_of: Callable[..., tuple[Effects, list]]) -> None:
    effects, _ = drive_of()
    for name in ("everywhere", "screw", "leak", "screw+leak"):
        assert effects[name]["low"] <= 0.0 <= effects[name]["high"], name
    assert abs(effects["everywhere"]["value"]) < 0.5
    assert abs(effects["screw+leak"]["value"]) < 0.5
    assert effects["scatter"]["high"] < 0.5


def test_a_screw_a_control_pressure_and_a_leak_each_bend_lambda_in_their_own_way(
    drive_of: Callable[..., tuple[Effects, list]],
) -> None:
    screw, _ = drive_of(mixture_screw=0.125)
    # An eighth of a turn is about half of the nine per cent of a quarter (the screw's own check).
    assert 3.5 < screw["screw+leak"]["value"] < 7.0
    assert screw["everywhere"]["low"] < 0.0 < screw["everywhere"]["high"]
    control, _ = drive_of(warm_setting=-0.4e5)
    # The lift goes with the root of the control pressure: 3.6 over 3.2 bar is 6 per cent.
    assert control["everywhere"]["low"] < 6.1 < control["everywhere"]["high"]
    assert control["screw+leak"]["high"] < 1.0
    leak, undivided = drive_of(common_leak=1.5e-6)
    assert leak["screw+leak"]["high"] < -3.0
    assert ["screw", "leak"] in undivided


def test_without_an_air_meter_the_flow_comes_from_speed_manifold_and_the_engines_size(
    shop: Shop, tmp_path: Path
) -> None:
    whole, bare = tmp_path / "whole.csv", tmp_path / "bare.csv"
    whole.write_text(engine_log(mixture_screw=0.125), encoding="utf-8")
    rows = [line.split(";") for line in whole.read_text(encoding="utf-8").splitlines()]
    bare.write_text("\n".join(";".join([*row[:2], *row[3:]]) for row in rows), encoding="utf-8")
    measured, _ = effects_of(shop, whole)
    told, _ = effects_of(shop, bare)
    assert told["screw+leak"]["value"] == pytest.approx(measured["screw+leak"]["value"], abs=0.3)
    assert "the size of the sheet's engine" in flat(shop(f"trace {bare} --kind running --sheet flat-six").out)


def test_an_idle_alone_is_judged_and_has_no_shape(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "idle.csv"
    path.write_text("\n".join(engine_log().splitlines()[:201]), encoding="utf-8")
    answer = shop.answer("trace", f"trace {path} --kind running --sheet flat-six", status=0)
    assert answer["fit"]["law"] == "none"
    assert answer["fit"]["parameters"] == []
    (row,) = answer["readings"]
    assert row["conditions"]["state"] == "idle_warm"
    assert row["limit"]["low"] < row["value"] < row["limit"]["high"]
    assert shop(f"trace {path} --kind running --sheet flat-six --chart {tmp_path / 'idle.svg'}").status == 0


def test_with_its_oxygen_sensor_connected_an_engine_tells_nothing_and_that_is_said(
    shop: Shop, tmp_path: Path
) -> None:
    path = tmp_path / "drive.csv"
    path.write_text(engine_log("flat-six-oxygen"), encoding="utf-8")
    line = f"trace {path} --kind running --sheet flat-six-oxygen"
    assert "holds lambda at 1 itself" in flat(shop(line).out)
    assert "holds lambda at 1 itself" not in flat(shop(f"{line} sensor=off").out)


def test_a_flow_that_this_engine_cannot_draw_is_asked_about(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "drive.csv"
    path.write_text(engine_log("vee-eight"), encoding="utf-8")
    assert "is it the right sheet" in flat(shop(f"trace {path} --kind running --sheet inline-four").out)


def hole(time: float) -> float:
    """Pressure behind a small hole, bar."""
    return (math.sqrt(2.6) - 0.0003 * time) ** 2


@pytest.mark.parametrize("gap", [(300.0, 700.0), (200.0, 1500.0)])
def test_a_gap_in_the_log_is_no_stop_of_the_pump(
    shop: Shop, tmp_path: Path, gap: tuple[float, float]
) -> None:
    path = tmp_path / "log.csv"
    times = [2.0 * one for one in range(900) if not gap[0] < 2.0 * one < gap[1]]
    path.write_text("t [s],P [bar]\n" + "\n".join(f"{time},{hole(time):.3f}" for time in times) + "\n")
    answer = shop.answer("trace", f"trace {path} --kind holding --sheet flat-six")
    for moment, told in zip((600.0, 1200.0), answer["predictions"], strict=False):
        assert told["low"] < hole(moment) < told["high"]
        assert told["value"] == pytest.approx(hole(moment), abs=0.01)
    assert not any("stop shows" in note for note in answer["notes"])


def test_a_stop_is_seen_whether_the_log_runs_through_it_or_not(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    for missing in ((0.0, 0.0), (20.0, 200.0)):
        rows = [(2.0 * one, 4.9 if one < 15 else hole(2.0 * one - 30.0)) for one in range(900)]
        kept = [f"{time},{value:.3f}" for time, value in rows if not missing[0] < time < missing[1]]
        path.write_text("\n".join(["t [s],P [bar]", *kept]) + "\n")
        answer = shop.answer("trace", f"trace {path} --kind holding --sheet flat-six")
        assert any("stop shows" in note for note in answer["notes"])
        rate = next(one for one in answer["fit"]["parameters"] if one["name"] == "start")
        assert rate["value"] < 2.65


def test_a_quick_leak_written_by_hand_is_read_and_not_taken_for_stops(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    rows = ["0,2.60", "5,1.98", "10,1.52", "15,1.16", "20,0.88", "25,0.67", "30,0.51"]
    path.write_text("\n".join(["min,bar", *rows]) + "\n")
    answer = shop.answer("trace", f"trace {path} --kind holding --sheet flat-six", status=1)
    assert answer["verdict"] == "outside"
    assert answer["predictions"][0]["value"] == pytest.approx(1.52, abs=0.03)


def test_a_stop_said_too_late_is_answered_with_how_many_rows_are_left(shop: Shop) -> None:
    said = shop.bad(f"{HOLDING} --sheet flat-six --started 1485s")
    assert "too few to fit a fall" in said
    assert "--started 0s" in said


def test_a_time_on_the_car_is_taken_in_the_form_of_the_help(shop: Shop) -> None:
    number = shop.begin()
    assert shop(f"{HOLDING} --job {number} --at 2026-05-03T10:12").status in (0, 1)
    assert all(entry["at"].startswith("2026-05-03T10:12") for entry in shop.entries(number))
    assert shop(f"{HOLDING} --sheet flat-six --at 2026-05-03T10:12").status in (0, 1)
    assert "at" in shop.bad(f"{HOLDING} --sheet flat-six --at yesterday")


def test_a_reading_of_a_doubtful_fit_carries_the_fits_doubt_too(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    random = np.random.default_rng(5)
    strays = np.convolve(0.5 * random.standard_normal(70), np.ones(8) / 8.0, "same")
    values = [hole(10.0 * one) + strays[one] for one in range(70)]
    path.write_text("t [s],P [bar]\n" + "\n".join(f"{10 * n},{v:.3f}" for n, v in enumerate(values)) + "\n")
    answer = shop.answer("trace", f"trace {path} --kind holding --sheet flat-six")
    ten, row = answer["predictions"][0], answer["readings"][0]
    assert row["u"] == pytest.approx(ten["u"], rel=0.1)
    assert row["u"] > 1.1 * 0.1 / math.sqrt(3.0)  # more than the error that is assumed of a gauge


def test_a_cold_start_point_in_the_first_row_is_judged_where_the_temperature_is_said(
    shop: Shop, log: Callable[..., str]
) -> None:
    line = f"{log(lambda time: 3.6 - 2.2 * math.exp(-time / 60.0), many=60)} --kind warm_up --sheet flat-six"
    said = shop.answer("trace", f"{line} voltage=12V regulator_temperature=17C")
    cold = next(row for row in said["readings"] if row["what"] == "control_pressure_cold")
    assert cold["value"] == pytest.approx(1.4, abs=0.02)
    bare = shop.answer("trace", f"{line} voltage=12V")
    assert [row["what"] for row in bare["readings"]] == ["control_pressure_warm"]
    assert any("say it like regulator_temperature=18C" in note for note in bare["notes"])
