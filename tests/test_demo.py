"""The demo tells its job on real computation, briefly, and as well the second time."""

import re
from pathlib import Path

import pytest

from evenpour import data
from evenpour.cli import main
from evenpour.job import job_of_text
from evenpour.job.demo import demo_entries, play
from evenpour.job.job import job_from
from evenpour.job.job_file import read_text


@pytest.fixture
def told(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["demo"]) == 0
    return capsys.readouterr().out


def upto(entry: str):
    entries = demo_entries()
    end = next(place for place, one in enumerate(entries, 1) if one.id == entry)
    return job_from("demo", entries[:end])


def test_it_fits_on_a_page(told):
    assert len(told.splitlines()) <= 60
    assert max(map(len, told.splitlines())) <= 80


def test_it_writes_the_record_and_names_it(told):
    assert "demo-out/record.pdf" in " ".join(told.split())
    assert Path("demo-out/record.pdf").read_bytes().startswith(b"%PDF")
    assert Path("demo-out/record.html").read_text(encoding="utf-8").startswith("<!doctype html>")


def test_a_second_run_is_as_good_as_the_first(told, capsys):
    assert main(["demo"]) == 0
    assert capsys.readouterr().out == told


def test_the_job_it_leaves_is_handed_over_with_everything_proved():
    job = job_of_text(read_text(data.shipped_text("demo.toml"), "demo.toml"))
    path = job.path()
    assert job.closed
    assert {stage.state for stage in path.stages} == {"proved"}
    assert path.put_back == []
    assert path.may_close == []
    assert path.questions == []


def test_the_regulator_outside_blocks_the_catch():
    job = upto("cold-1")
    cold = next(row for row in job.judge().readings if "cold-1" in row.entries)
    catch = next(stage for stage in job.path().stages if stage.stage == "catch_lines")
    assert (cold.verdict, catch.state) == ("outside", "blocked")


def test_the_short_injector_hides_at_idle_and_shows_at_full():
    answer = upto("injectors-full-1").catch()
    assert answer.even_by_run["injectors:idle"] >= 0.95
    assert answer.even_by_run["injectors:full"] <= 0.05
    assert all(answer.even_by_run[f"lines:{opening}"] >= 0.95 for opening in ("idle", "part", "full"))


def test_the_demo_does_what_the_tool_advised():
    advised = upto("injectors-full-1").catch().next_catch
    done = upto("swapped").catch().runs[-1]
    assert (advised.through, advised.opening) == (done.through, done.opening)
    assert [sorted(map(int, swap.split()[1::2])) for swap in advised.swaps] == [
        sorted(map(int, swap.split()[1::2])) for swap in done.swaps
    ]


def test_the_swap_names_the_injector():
    worst = max(upto("swapped").catch().parts, key=lambda part: part.p_off)
    assert (worst.part, worst.cylinder) == ("injector", 4)
    assert worst.p_off > 0.9


def test_the_bridge_holds_up_first_fire_until_it_is_out():
    tempted = upto("tempted").path()
    fire = next(stage for stage in tempted.stages if stage.stage == "first_fire")
    assert fire.state == "blocked"
    assert "pump_bridge" in {item.item for item in tempted.put_back}
    assert "pump_bridge" not in {item.item for item in upto("bridge-out").path().put_back}


def test_key_and_wedge_are_out_before_the_pump_runs_with_the_injectors_in():
    done = [entry.content["id"] for entry in demo_entries() if entry.kind == "step"]
    assert done.index("key_and_wedge_out") < done.index("gauge_out") < done.index("injector_unions_wiped")


def test_every_beat_says_something(tmp_path):
    for beat in play(tmp_path):
        assert beat.lines, beat.title


def test_it_ends_by_naming_the_address_of_its_pages(told):
    address = re.escape("EVENPOUR_STORE=demo-out/jobs.db evenpour serve, http://127.0.0.1") + r":\d+/$"
    assert re.search(address, told.strip())
