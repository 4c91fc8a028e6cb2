"""Instruments keep the day of their calibration, through files and stores, and an old one is said."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from evenpour.errors import Problem
from evenpour.job.instruments import calibration_words, is_old, known_instruments
from evenpour.job.job_file import read_file
from evenpour.job.store import Store
from evenpour.job.writing import write_json, write_toml
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]
JOB = """\
format = "evenpour-job/1"

[engine]
sheet = "flat-six"

[[instrument]]
id = "gauge"
kind = "pressure gauge"
range = "6 bar"
class = 1.0
calibrated = {date}

[[reading]]
what = "system_pressure"
value = "4.9 bar"
instrument = "gauge"
at = 2026-05-03T10:12:00
"""


def written(folder: Path, stated: str) -> Path:
    path = folder / "job.toml"
    path.write_text(JOB.format(date=stated), "utf-8")
    return path


@pytest.mark.parametrize("stated", ["2026-03-01", '"2026-03-01"'])
def test_a_calibration_may_be_a_date_or_its_text_and_comes_back_so(tmp_path: Path, stated: str) -> None:
    entries = read_file(written(tmp_path, stated)).entries
    instrument = next(one for one in entries if one.kind == "instrument")
    assert instrument.content["calibrated"] == "2026-03-01"
    for name, text in (("again.toml", write_toml(entries)), ("again.json", write_json(entries))):
        again = tmp_path / name
        again.write_text(text, "utf-8")
        assert [one.content for one in read_file(again).entries] == [one.content for one in entries]


@pytest.mark.parametrize("stated", ['"last spring"', '"2026-02-30"', "2026", "2026-03-01T10:00:00", "true"])
def test_what_is_no_day_is_refused_at_its_field(tmp_path: Path, stated: str) -> None:
    with pytest.raises(Problem, match=r"calibrated .*is no date"):
        read_file(written(tmp_path, stated))


def test_a_year_is_not_old_and_a_day_more_is() -> None:
    assert not is_old(date(2025, 5, 3), date(2026, 5, 3))
    assert not is_old(date(2024, 2, 29), date(2025, 3, 1))
    assert is_old(date(2025, 5, 1), date(2026, 5, 3))
    assert "longer ago" in calibration_words(date(2024, 5, 3), date(2026, 5, 3))
    assert calibration_words(date(2026, 5, 1), date(2026, 5, 3)) == "calibrated 1 May 2026"
    assert "after the day it was used" in calibration_words(date(2026, 6, 1), date(2026, 5, 3))


def test_one_gauge_on_several_jobs_is_one_line_as_it_was_stated_last(tmp_path: Path) -> None:
    gauge = {"id": "red", "kind": "pressure gauge", "range": "6 bar", "class": 1.0}
    with Store(tmp_path / "jobs.db") as store:
        first, second = (store.new_job({"sheet": "flat-six"}) for _ in range(2))
        store.append(first, "instrument", {**gauge, "calibrated": "2024-03-01"}, id="a")
        store.append(second, "instrument", {**gauge, "calibrated": "2026-03-01"}, id="a")
        store.append(second, "instrument", {"id": "scale", "kind": "scale"}, id="b")
        store.append(
            second, "correction", {"of": "b", "reason": "slip", "id": "balance", "kind": "scale"}, id="c"
        )
        known = known_instruments(store, [second, first], date(2026, 5, 3))
    assert [(one.id, one.jobs, one.old) for one in known] == [
        ("red", (second, first), False),
        ("balance", (second,), False),
    ]
    assert (known[0].calibrated, known[0].accuracy) == ("1 March 2026", "class 1")


def test_the_page_of_instruments_says_which_calibration_is_old(pages: Pages) -> None:
    assert "No instrument is stated" in pages.get("/instruments").text
    job = pages.begin()
    kept = {"id": "red gauge", "instrument_kind": "pressure gauge", "range": "6", "calibrated": "2019-03-01"}
    pages.send(f"{job}/enter", "gauge", **kept, **{"class": "1.0"})
    page = pages.get("/instruments")
    assert (
        "Pressure gauge called red gauge 6 bar; class 1 Calibrated 1 March 2019 longer ago than a year"
        in page.text
    )
    assert job in page.html.links
    assert "calibrated 1 March 2019, longer ago" in pages.get(f"{job}/enter").text


def test_a_job_without_a_date_says_nothing_of_it(pages: Pages) -> None:
    job = pages.begin("")
    assert "calibrated" not in pages.get(f"{job}/enter").text.lower().replace("last calibrated", "")


def test_a_gauge_stated_on_one_job_is_taken_over_by_the_next(pages: Pages) -> None:
    first = pages.begin()
    kept = {
        "id": "blue gauge",
        "instrument_kind": "pressure gauge",
        "range": "10",
        "calibrated": "2026-03-01",
    }
    pages.send(f"{first}/enter", "gauge", **kept, **{"class": "1.6"})
    second = pages.begin()
    page = pages.send(f"{second}/enter", "taken", known="pressure gauge, blue gauge")
    assert page.status == 200
    kind, content = pages.entries(second)[-1]
    assert kind == "instrument"
    assert content == {
        "id": "blue gauge", "kind": "pressure gauge", "range": "10 bar", "class": 1.6,
        "calibrated": "2026-03-01",
    }  # fmt: skip
    again = pages.get(f"{second}/enter")
    assert "pressure gauge, blue gauge" not in again.html.source
    assert pages.send(f"{first}/enter", "gauge", id="blue gauge", instrument_kind="").status == 422


def test_nothing_chosen_is_nothing_taken_over(pages: Pages) -> None:
    pages.send(f"{pages.begin()}/enter", "gauge", id="green", instrument_kind="scale")
    second = pages.begin()
    page = pages.send(f"{second}/enter", "taken")
    assert (page.status, "Choose one of the list" in page.text) == (422, True)
    assert len(pages.entries(second)) == 1
