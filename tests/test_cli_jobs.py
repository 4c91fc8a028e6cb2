"""``evenpour job``: beginning, listing, showing, importing, exporting and closing, as typed in a terminal."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from cli_world import DEMO, Shop, shop, validator

__all__ = ["shop"]


def test_a_new_job_is_numbered_listed_and_told_how_to_go_on(shop: Shop) -> None:
    assert shop("job list").out == "No job yet. Begin one with: evenpour job new SHEET\n"
    said = shop('job new flat-six --car "Red one" --chassis 7 --mileage "84 210 km" --workshop Shed --who AB')
    assert said == (0, "Job 1 begun. Next: evenpour path 1\n", "")
    lines = shop("job list").out.splitlines()
    assert lines[0].split() == ["job", "car", "sheet", "state", "entries"]
    assert lines[1].split("  ")[0] == "1"
    assert "Red one" in lines[1]


def test_the_list_in_json_finds_by_car_workshop_and_sheet(shop: Shop) -> None:
    shop('job new flat-six --car "Red one"')
    shop('job new inline-four --workshop "Brook End"')
    jobs = shop.answer("jobs", "job list", status=0)["jobs"]
    assert [(one["job"], one["car"], one["sheet"], one["state"]) for one in jobs] == [
        (2, None, "inline-four", "open"),
        (1, "Red one", "flat-six", "open"),
    ]
    for words, number in (("red", 1), ("brook", 2), ("inline", 2)):
        assert [one["job"] for one in shop.answer("jobs", f"job list {words}")["jobs"]] == [number]
    assert shop("job list nothing").out == "No job found.\n"
    assert shop.answer("jobs", "job list nothing") == {"jobs": []}


def test_a_job_on_a_sheet_that_is_not_there_is_not_begun(shop: Shop) -> None:
    assert "Did you mean flat-six" in shop.bad("job new flat-sixx")
    assert shop.answer("jobs", "job list") == {"jobs": []}


def test_the_journal_shows_every_entry_with_its_id_who_and_what_became_of_it(shop: Shop) -> None:
    shop.begin()
    shop("add 1 system 4.9 bar who=AB --id first --at 2026-05-03T10:12")
    shop("add 1 system 4.9 bar --id second --at 2026-05-03T10:13")
    shop('add 1 correct first reason="read from the wrong ring" system 4.8 bar')
    shop('add 1 withdraw second reason="entered twice"')
    told = shop("job show 1").out
    assert "2026-05-03 10:12: System pressure: 4.8 bar (corrected by correction-" in told
    assert "(WITHDRAWN: entered twice) [second]" in told
    assert "first corrected: read from the wrong ring" in told
    answer = shop.answer("journal", "job show 1", status=0)
    assert {one["entry"] for one in answer["entries"]} == {"engine", "first", "second"}
    assert len(answer["corrections"]) == 2


def test_export_and_import_round_trip_in_every_form(shop: Shop, tmp_path: Path) -> None:
    shop.begin()
    for words in ("system 4.9 bar", "replaced injector 4", "move +1/8 turn", "note cold morning"):
        assert shop(f"add 1 {words}").status in (0, 1)
    printed = shop("job export 1").out
    for name in ("job.toml", "job.json"):
        target = tmp_path / name
        assert shop("job export 1 -o", str(target)).out == f"Wrote {target}.\n"
        number = shop.answer("job", "job import", str(target), status=0)["job"]
        assert shop(f"job export {number}").out == printed
    assert (tmp_path / "job.toml").read_text(encoding="utf-8") == printed
    assert shop.answer("path", "path 1") == shop.answer("path", f"path {number}")


def test_the_export_as_json_is_a_job_file(shop: Shop, tmp_path: Path) -> None:
    shop.begin()
    shop("add 1 system 4.9 bar")
    validator("job-file").validate(json.loads(shop("job export 1 --json").out))
    answer = shop.answer("written", "job export 1 -o", str(tmp_path / "job.csv"), status=0)
    assert Path(answer["file"]).read_text(encoding="utf-8").count("system_pressure") == 1


def test_an_export_goes_nowhere_if_its_ending_or_folder_is_wrong(shop: Shop, tmp_path: Path) -> None:
    shop.begin()
    assert "Allowed: .toml, .json, .csv" in shop.bad("job export 1 -o", str(tmp_path / "job.pdf"))
    assert "Make the folder first" in shop.bad("job export 1 -o", str(tmp_path / "no" / "job.toml"))
    assert not (tmp_path / "no").exists()


def test_a_file_with_a_fault_is_not_imported_at_all(shop: Shop, tmp_path: Path) -> None:
    text = DEMO.read_text(encoding="utf-8").replace('value = "4.95 bar"', 'value = "49.5 bar"')
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert "is odd" in shop.bad("job import", str(tmp_path / "job.toml"))
    assert shop.answer("jobs", "job list") == {"jobs": []}


@pytest.mark.parametrize(
    ("name", "says"), [("missing.toml", "does not exist"), (".", "is a folder"), ("photo.toml", "UTF-8")]
)
def test_what_is_no_job_file_is_told_apart(shop: Shop, tmp_path: Path, name: str, says: str) -> None:
    (tmp_path / "photo.toml").write_bytes(b"\xff\xd8\xff\xe0")
    assert says in shop.bad("job import", str(tmp_path / name))


@pytest.mark.parametrize(
    "command", ["judge 7", "path 7", "catch 7", "job show 7", "job export 7", "add 7 oil clean"]
)
def test_a_number_no_job_has_is_bad_input(shop: Shop, command: str) -> None:
    assert "job '7' is not in this store" in shop.bad(command)


def test_the_same_work_from_a_file_and_from_the_store_is_answered_alike(shop: Shop) -> None:
    shop("job import", str(DEMO))
    for name in ("judge", "path", "catch"):
        assert shop.answer(name, f"{name} 1") == shop.answer(name, name, str(DEMO))


def test_the_demo_job_is_proved_to_the_end_and_closed(shop: Shop) -> None:
    shop("job import", str(DEMO))
    assert [one["state"] for one in shop.answer("jobs", "job list")["jobs"]] == ["closed"]
    answer = shop.answer("path", "path 1")
    assert {stage["state"] for stage in answer["stages"]} == {"proved"}
    assert (answer["put_back"], answer["repeat"]) == ([], [])


def test_a_closed_job_takes_nothing_but_notes_and_corrections(shop: Shop) -> None:
    shop("job import", str(DEMO))
    before = len(shop.entries(1))
    for words in (
        "system 4.9 bar",
        "replaced injector 4",
        "move +1/8 turn",
        "read fire",
        "done spark_disabled",
    ):
        assert "Job 1 is closed; nothing was added." in shop.refused(f"add 1 {words}")
    assert "is closed" in shop.refused("job close 1")
    assert len(shop.entries(1)) == before
    assert shop('add 1 note "The owner rang: it runs well."').status == 0
    assert (
        shop('add 1 correct co-1 reason="typed a 5 for a 6" co 0.65 % state=idle_warm with=analyser').status
        == 0
    )
    assert len(shop.entries(1)) == before + 1


def test_a_car_with_its_pump_bridge_in_is_not_handed_over(shop: Shop) -> None:
    shop.begin()
    shop("add 1 fitted pump_bridge")
    told = shop.refused("job close 1 --who AB")
    assert told.startswith(
        "The job cannot be closed:\n  - still on the put-back list: pump bridge in the relay socket"
    )
    assert [one["state"] for one in shop.answer("jobs", "job list")["jobs"]] == ["open"]
    assert len(shop.entries(1)) == 1


def test_who_answers_for_the_bridge_by_name_and_reason_may_close_and_it_shows(shop: Shop) -> None:
    shop.begin()
    shop("add 1 fitted pump_bridge")
    assert "who is missing from an override" in shop.bad(
        'add 1 override pump_bridge reason="towed to the store"'
    )
    assert "reason is missing from an override" in shop.bad("add 1 override pump_bridge who=AB")
    said = shop('add 1 override pump_bridge who=AB reason="towed to the store"')
    assert "Stays on the car: pump bridge in the relay socket; AB: towed to the store." in said.out
    answer = shop.answer("add", "job close 1 --who AB --cause pump_weak", status=0)
    assert answer["entry"].startswith("closed-")
    assert [one["overridden"] for one in shop.answer("path", "path 1")["put_back"]] == [
        "AB: towed to the store"
    ]
    assert "(stays: AB: towed to the store)" in shop("path 1").out
    assert "Job closed, cause: the fuel pump is worn" in shop("job show 1").out


def test_taking_the_bridge_out_opens_the_way_too(shop: Shop) -> None:
    shop.begin()
    shop("add 1 fitted pump_bridge")
    assert (
        "Off the put-back list: pump bridge in the relay socket." in shop("add 1 taken_out pump bridge").out
    )
    assert "Job 1 is closed. Print its record with: evenpour record 1" in shop("job close 1").out


def test_closing_an_unfinished_job_says_so_and_what_is_missing_first(shop: Shop) -> None:
    shop.begin()
    said = shop("job close 1")
    assert said.status == 0
    assert said.out.startswith(
        "Closed, but not finished: 0 of 15 stages are proved.\nMissing first: Take the"
    )
    assert "anded over" not in said.out
    assert shop.answer("jobs", "job list")["jobs"][0]["state"] == "closed"


def test_closing_a_finished_job_hands_the_car_over(shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(DEMO.read_text(encoding="utf-8").partition("[[closed]]")[0], encoding="utf-8")
    shop("job import", str(file))
    answer = shop.answer("add", "job close 1 --who AB", status=0)
    assert answer["closing"] == {"handed_over": True, "proved": 15, "stages": 15, "missing": []}


def test_an_unread_caution_is_named_by_its_title_and_how_to_read_it(shop: Shop) -> None:
    shop.begin()
    shop("add 1 system 4.95 bar")
    told = shop.refused("job close 1")
    assert "- caution “Fuel burns, and its vapour finds the flame” was not read" in told
    assert "Once it is read: evenpour add 1 read fire who=NAME" in told
    assert shop("add 1 read fire who=NAME").status == 0
    assert "Fuel burns" not in shop.refused("job close 1")


def test_a_stale_proof_and_an_unread_caution_hold_the_car_back(shop: Shop) -> None:
    shop.begin()
    shop("add 1 drip 4 dry --at 2026-05-03T10:12")
    shop("add 1 replaced injector 4 --at 2026-05-03T10:20")
    told = shop.refused("job close 1")
    assert "is to be proved again: injector 4 was replaced" in told
    assert "caution" in told
    assert "was not read" in told


def test_the_tour_of_the_readme_works_as_it_stands_and_follows_the_tools_own_advice(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    tour = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8").split("```sh\n")[2:]
    lines = [line for block in tour for line in block.partition("```")[0].splitlines()]
    assert len(lines) >= 14
    advised: list[str] = []
    for line in lines:
        words = line.partition(" #")[0].removeprefix("evenpour ")
        said = shop(words)
        assert said.status in (0, 1), (line, said.err)
        if advised and words.startswith("add 1 "):
            assert words.startswith("add 1 catch")
            assert f'swap="{advised[0]}"' in words
        after = shop.answer("catch", "catch 1")["next_catch"] if "add 1 catch" in words else None
        advised = after["swaps"] if after else []
        if "replaced" in words:
            assert "catch again: through injectors, full opening" in said.out
    assert (tmp_path / "record.pdf").is_file()


def test_two_people_adding_at_once_lose_nothing(shop: Shop) -> None:
    shop.begin()
    program = (
        "import sys\n"
        "from evenpour import cli\n"
        "mine = sys.argv[1]\n"
        "for number in range(4):\n"
        "    assert cli.main(['add', '1', 'note', f'{mine} {number}', '--id', f'{mine}-{number}']) == 0\n"
    )
    environment = {**os.environ, "EVENPOUR_HOME": str(shop.home)}
    running = [
        subprocess.Popen(
            [sys.executable, "-c", program, name],
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        for name in ("phone", "laptop")
    ]
    for process in running:
        _, errors = process.communicate(timeout=60)
        assert (process.returncode, errors) == (0, "")
    kept = [one["entry"] for one in shop.entries(1)]
    assert sorted(kept) == sorted(f"{name}-{number}" for name in ("phone", "laptop") for number in range(4))


def test_a_store_that_is_no_store_is_refused_in_words(shop: Shop) -> None:
    shop.begin()
    (database,) = shop.home.rglob("*.db")
    for path in shop.home.glob("*.db*"):
        path.unlink()
    database.write_bytes(b"this is no database, but a letter" * 100)
    told = shop.refused("job list")
    assert "cannot be used" in told


def test_a_folder_that_may_not_be_made_is_refused_in_words(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path / "file" / "home"))
    said = shop("job list")
    assert said.status in (1, 2)
    assert "Traceback" not in said.err
    assert said.err
