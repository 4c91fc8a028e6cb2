"""Job files that are well formed but mean what cannot be: each is told so in one message that helps."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from evenpour import cli
from evenpour.errors import FieldProblem, Problems
from evenpour.job import job_of_file
from evenpour.job.job_file import read_file

BAD = Path(__file__).parent / "bad_meanings"
EXPECTED: list[dict[str, Any]] = tomllib.loads((BAD / "expected.toml").read_text(encoding="utf-8"))["bad"]


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path))


@pytest.mark.parametrize("bad", EXPECTED, ids=lambda bad: bad["file"])
def test_a_file_that_means_the_impossible_is_told_what_where_and_what_to_do(bad: dict[str, Any]) -> None:
    path = BAD / bad["file"]
    read_file(path)  # its form is right, or it would belong among the bad jobs
    with pytest.raises(Problems) as caught:
        job_of_file(path)
    (problem,) = caught.value.all
    assert isinstance(problem, FieldProblem)
    told = str(problem)
    line = f", line {bad['line']}" if "line" in bad else ""
    assert told.startswith(f"{bad['file']}{line} (")
    for fragment in bad["says"]:
        assert fragment in told
    assert problem.allowed or problem.remedy, "it says what is wrong, but not how to mend it"


@pytest.mark.parametrize("bad", EXPECTED, ids=lambda bad: bad["file"])
def test_the_line_that_is_named_holds_what_is_complained_of(bad: dict[str, Any]) -> None:
    if "line" not in bad:
        return
    with pytest.raises(Problems) as caught:
        job_of_file(BAD / bad["file"])
    (problem,) = caught.value.all
    assert isinstance(problem, FieldProblem)
    line = (BAD / bad["file"]).read_text(encoding="utf-8").splitlines()[bad["line"] - 1]
    named = str(problem.value).strip("[]' ").split(",")[0]
    assert problem.value is None or named in line or named.split("[")[0] in line or line.startswith("claim")


def test_every_file_has_its_expected_message() -> None:
    files = {path.name for path in BAD.iterdir()} - {"expected.toml"}
    assert files == {bad["file"] for bad in EXPECTED}


def test_there_are_enough_of_them() -> None:
    assert len(EXPECTED) >= 60


@pytest.mark.parametrize("command", ["judge", "path", "catch"])
def test_the_command_line_says_it_on_standard_error_and_ends_with_two(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main([command, str(BAD / "point_forgotten.toml")]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(
        "point_forgotten.toml, line 8 (reading 1, value): system_pressure '48 bar' is odd"
    )


def test_such_a_file_is_not_taken_into_the_store(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["job", "import", str(BAD / "move_of_no_screw.toml")]) == 2
    assert "is no screw" in capsys.readouterr().err
    assert cli.main(["job", "list"]) == 0
    assert "No job yet" in capsys.readouterr().out


def test_all_that_is_wrong_is_said_in_one_go_and_in_the_order_of_the_file(tmp_path: Path) -> None:
    text = (BAD / "point_forgotten.toml").read_text(encoding="utf-8")
    text += '\n[[step]]\nid = "spark_disable"\ndone = true\n'
    text += '\n[[reading]]\nwhat = "compression"\nvalue = "10 bar"\n'
    (tmp_path / "many.toml").write_text(text, encoding="utf-8")
    with pytest.raises(Problems) as caught:
        job_of_file(tmp_path / "many.toml")
    lines = [
        problem.place.line
        for problem in caught.value.all
        if isinstance(problem, FieldProblem) and problem.place
    ]
    assert lines == [8, 11, 14]


def test_clicks_on_a_sheet_without_clicks_have_their_place_and_hide_nothing_else(tmp_path: Path) -> None:
    text = (BAD / "point_forgotten.toml").read_text(encoding="utf-8")
    text += '\n[[reading]]\nwhat = "onset"\nvalue = "2 clicks"\n'
    (tmp_path / "clicks.toml").write_text(text, encoding="utf-8")
    with pytest.raises(Problems) as caught:
        job_of_file(tmp_path / "clicks.toml")
    told = [str(problem) for problem in caught.value.all]
    assert told[0].startswith("clicks.toml, line 8 (reading 1, value)")
    assert told[1].startswith("clicks.toml, line 12 (reading 2, value): onset '2 clicks' cannot be told")


def test_what_a_correction_says_now_is_complained_of_at_the_correction() -> None:
    with pytest.raises(Problems, match=r"correction 1, value\): system_pressure '490 bar'"):
        job_of_file(BAD / "correction_means_nothing.toml")
