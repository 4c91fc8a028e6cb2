"""Writing the record: whole or not at all, and only as a kind of file it can be."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

import record_samples as samples
from evenpour.cli import main
from evenpour.errors import FieldProblem
from evenpour.record import writing
from evenpour.record.blocks import Record
from evenpour.record.content import record_of
from evenpour.record.writing import check_place, write_record

DEMO = Path(writing.__file__).resolve().parent.parent / "data" / "demo.toml"


@pytest.fixture(scope="module")
def record() -> Record:
    return record_of(samples.good())


def test_the_ending_decides_the_form(record: Record, tmp_path: Path) -> None:
    write_record(record, tmp_path / "record.PDF")
    write_record(record, tmp_path / "record.html")
    assert (tmp_path / "record.PDF").read_bytes().startswith(b"%PDF-")
    assert (tmp_path / "record.html").read_text(encoding="utf-8").startswith("<!doctype html>")
    assert sorted(os.listdir(tmp_path)) == ["record.PDF", "record.html"]


@pytest.mark.parametrize("name", ["record.docx", "record", "record.pdf.gz"])
def test_another_ending_is_refused_with_what_is_allowed(tmp_path: Path, name: str) -> None:
    with pytest.raises(FieldProblem, match=r"Allowed: \.pdf or \.html"):
        check_place(tmp_path / name)


def test_a_name_longer_than_the_disk_takes_is_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(FieldProblem, match="cannot be written"):
        check_place(tmp_path / f"{'x' * 300}.pdf")


def test_a_folder_that_is_not_there_is_refused_before_any_work(tmp_path: Path) -> None:
    with pytest.raises(FieldProblem, match="folder that is not there"):
        check_place(tmp_path / "nowhere" / "record.pdf")
    (tmp_path / "folder.pdf").mkdir()
    with pytest.raises(FieldProblem, match="is a folder"):
        check_place(tmp_path / "folder.pdf")


def test_a_fault_half_way_leaves_the_old_file_and_nothing_else(
    record: Record, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "record.html"
    place.write_text("the old one")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FieldProblem, match="No space left on device"):
        write_record(record, place)
    assert place.read_text() == "the old one"
    assert os.listdir(tmp_path) == ["record.html"]


def test_the_file_may_be_read_by_whom_other_files_may(record: Record, tmp_path: Path) -> None:
    plain = tmp_path / "plain.txt"
    plain.write_text("")
    write_record(record, tmp_path / "record.html")
    assert (tmp_path / "record.html").stat().st_mode == plain.stat().st_mode


def test_the_command_writes_the_demos_record_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "demo.html"
    assert main(["record", str(DEMO), "-o", str(place), "--units", "us"]) == 0
    assert str(place) in capsys.readouterr().out
    page = place.read_text(encoding="utf-8").replace("\u00a0", " ")
    assert " psi" in page
    assert "US fl oz/min" in page


def test_the_command_refuses_an_unknown_ending_with_status_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["record", str(DEMO), "-o", str(tmp_path / "demo.txt")]) == 2
    assert "Allowed: .pdf or .html" in capsys.readouterr().err
    assert os.listdir(tmp_path) == []
