"""What catches say, as a shop keeps it on disk: the same again, anew where anything changed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from evenpour.job import kept_files
from evenpour.job.catch import catching, kept
from evenpour.job.demo import demo_entries
from evenpour.job.entries import Draft
from evenpour.job.kept_files import folder
from evenpour.job.shop import Shop
from evenpour.job.store import Store
from evenpour.measure.evenness import Evenness

really = catching.evenness


@pytest.fixture(autouse=True)
def weighed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """How many runs were weighed, each time that any were."""
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path))
    times: list[int] = []

    def counted(runs: object, *more: object, **named: object) -> Evenness:
        times.append(len(runs))  # type: ignore[arg-type]
        return really(runs, *more, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(catching, "evenness", counted)
    catching._evenness.cache_clear()
    yield times
    catching._evenness.cache_clear()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A store with one job that has a catch."""
    told = demo_entries()
    upto = next(place for place, one in enumerate(told, 1) if one.kind == "catch")
    with Store(tmp_path / "jobs.db") as opened:
        opened.import_job([Draft(one.kind, one.content, one.id, one.at) for one in told[:upto]])
        yield opened


def opened_anew(store: Store) -> Evenness:
    """The job in a server that was just started."""
    catching._evenness.cache_clear()
    found = Shop(store).open(1).weighed
    assert found is not None
    return found.evenness


def test_a_job_opened_in_another_server_is_not_weighed_again(store: Store, weighed: list[int]) -> None:
    first = opened_anew(store)
    assert len(weighed) == 1
    assert opened_anew(store) == first
    assert len(weighed) == 1
    assert first.spread is not None
    assert first.parts


def test_what_an_entry_changes_is_kept_when_it_comes(store: Store, weighed: list[int]) -> None:
    shop = Shop(store)
    before = next(one for one in shop.open(1).entries if one.kind == "catch")
    more = {**before.content, "amounts": ["20.5 ml", "20.0 ml", "20.5 ml", "18.0 ml", "20.5 ml", "20.0 ml"]}
    shop.keep(1, [Draft("catch", more, "again")])
    count = len(weighed)
    assert count == 2
    opened_anew(store)
    assert len(weighed) == count


def test_where_no_shop_is_open_nothing_is_kept(store: Store, weighed: list[int]) -> None:
    with kept.kept_on_disk():
        pass
    job = Shop(store).open(1)
    for file in folder().glob("*"):
        file.unlink()
    catching._evenness.cache_clear()
    catching.weigh(job.facts, job.sheet)
    assert len(weighed) == 2
    assert not list(folder().glob("*"))


@pytest.mark.parametrize("spoilt", [b"", b"{", b'{"evenness": 1}', b"\xff\xfe"])
def test_a_spoilt_file_is_worked_out_anew_and_mended(store: Store, weighed: list[int], spoilt: bytes) -> None:
    first = opened_anew(store)
    (file,) = folder().glob("evenness-*.json")
    whole = file.read_bytes()
    file.write_bytes(spoilt)
    assert opened_anew(store) == first
    assert len(weighed) == 2
    assert file.read_bytes() == whole


def test_another_model_weighs_anew(store: Store, weighed: list[int], monkeypatch: pytest.MonkeyPatch) -> None:
    opened_anew(store)
    monkeypatch.setattr(kept, "model_stamp", lambda: "another")
    opened_anew(store)
    assert len(weighed) == 2


def test_a_home_that_cannot_be_written_is_no_fault(
    store: Store, weighed: list[int], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path / "file"))
    first = opened_anew(store)
    assert opened_anew(store) == first
    assert len(weighed) == 2


def test_the_folder_keeps_no_more_of_a_kind_than_it_may(tmp_path: Path) -> None:
    for number in range(4):
        kept_files.keep_file("evenness", str(number), b"{}", 2)
        kept_files.keep_file("causes", str(number), b"{}", 9)
    assert len(list(folder().glob("evenness-*.json"))) == 2
    assert len(list(folder().glob("causes-*.json"))) == 4
