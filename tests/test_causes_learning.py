"""What closed jobs teach: counted, shown, forgotten and remembered, given to others and taken from them."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from cli_world import Shop, validator
from evenpour.errors import FieldProblem, UnknownName
from evenpour.job.causes.experience import prior_now
from evenpour.job.causes.prior import Counts, chances, moved_prior, shipped_prior
from evenpour.job.closing import choices, closed_with, closing_content
from evenpour.job.opening import open_job

ELSEWHERE = "0123456789abcdef0123456789abcdef"


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("EVENPOUR_STORE", raising=False)
    monkeypatch.delenv("EVENPOUR_UNITS", raising=False)
    return Shop(tmp_path / "home", capsys)


def closed(shop: Shop, *causes: str, more: str = "") -> int:
    number = shop.begin()
    said = " ".join(f"--cause {cause}" for cause in causes)
    assert shop(f"job close {number} {said} {more}").status == 0
    return number


def lines(shop: Shop) -> dict[str, dict[str, Any]]:
    return {one["cause"]: one for one in shop.answer("experience", "experience")["lines"]}


def counts(**changed: Any) -> dict[str, Any]:
    whole = {
        "format": "evenpour-counts/1", "workshop": ELSEWHERE, "edition": 1, "jobs": 10, "nothing_wrong": 2,
        "two_at_once": 1, "causes": {"pump_weak": 5, "air_leak_common": 4},
    }  # fmt: skip
    return {**whole, **changed}


def take(shop: Shop, tmp_path: Path, **changed: Any) -> str:
    file = tmp_path / "counts.json"
    file.write_text(json.dumps(counts(**changed)))
    return str(file)


def test_a_job_closed_with_its_cause_makes_that_cause_more_to_be_expected(shop: Shop) -> None:
    before = lines(shop)
    closed(shop, "pump_weak")
    closed(shop, "injector_restricted[4]", "air_leak_common")
    after = lines(shop)
    assert after["pump_weak"]["own"] == 1
    assert after["pump_weak"]["now"] > before["pump_weak"]["now"]
    # one of 40 jobs' worth more, of 43: both causes of the second job count
    assert after["pump_weak"]["now"] == pytest.approx((40 * before["pump_weak"]["shipped"] + 1) / 43)
    assert after["injector_restricted"]["own"] == after["air_leak_common"]["own"] == 1
    assert after["spark_none"]["now"] < before["spark_none"]["now"]
    told = shop.answer("experience", "experience")
    assert told["jobs"] == 2
    assert told["two_at_once"]["own"] == 1
    assert sum(one["now"] for one in told["lines"]) == pytest.approx(1.0)


def test_nothing_wrong_counts_and_a_suspicion_or_silence_does_not(shop: Shop) -> None:
    closed(shop, "none")
    closed(shop, "pump_weak", more="--suspected")
    closed(shop, "not_found")
    closed(shop)
    told = shop.answer("experience", "experience")
    assert told["jobs"] == 1
    assert lines(shop)["nothing_wrong"]["own"] == 1
    assert lines(shop)["pump_weak"]["own"] == 0
    assert told["not_counted"] == ["3 closed jobs without a confirmed cause"]


def test_a_corrected_closing_counts_as_corrected_and_a_withdrawn_one_not(shop: Shop) -> None:
    first, second = closed(shop, "pump_weak"), closed(shop, "pump_weak")
    entry = shop.answer("journal", f"job show {first}")["entries"][-1]["entry"]
    assert shop(
        f'add {first} correct {entry} reason="it was the filter" closed cause=filter_restricted'
    ).status in (0, 2)
    entry = shop.answer("journal", f"job show {second}")["entries"][-1]["entry"]
    assert shop(f'add {second} withdraw {entry} reason="not closed yet"').status == 0
    assert shop.answer("experience", "experience")["jobs"] == 1


def test_a_cause_that_is_none_is_refused_with_the_nearest_and_cylinders_go_where_they_belong(
    shop: Shop,
) -> None:
    shop.begin()
    assert "Did you mean pump_weak" in shop.bad("job close 1 --cause pump_week")
    assert "like injector_restricted[4]" in shop.bad("job close 1 --cause injector_restricted")
    assert "does not go with pump_weak" in shop.bad("job close 1 --cause pump_weak --cylinder 2")
    assert "Give it alone" in shop.bad("job close 1 --cause none --cause pump_weak")
    assert "Give each once" in shop.bad("job close 1 --cause pump_weak --cause pump_weak")
    assert "1 to 6" in shop.bad("job close 1 --cause spark_missing[2] --cause spark_missing[9]")
    assert shop("job close 1 --cause injector_restricted --cylinder 4").status == 0
    assert "cause: the injector is clogged, cylinder 4" in shop("job show 1").out


def test_the_content_of_a_closing_says_what_was_wrong() -> None:
    content = closing_content(["injector_restricted", "spark_missing[2]"], cylinder=4)
    assert content == {
        "cause": "injector_restricted", "cylinder": 4, "also": ["spark_missing[2]"], "confirmed": True
    }  # fmt: skip
    assert closed_with(content).causes == ("injector_restricted", "spark_missing")
    assert closed_with({**content, "confirmed": False}).causes == ()
    assert closed_with({"cause": "a nest in the filter box"}).own_words == "a nest in the filter box"
    assert closing_content([]) == {}
    with pytest.raises(UnknownName):
        closing_content(["nest"])
    with pytest.raises(FieldProblem, match="sits at a cylinder"):
        closing_content(["spark_missing"])


def test_every_cause_can_be_chosen_to_close_with() -> None:
    for one in choices():
        text = f"{one.cause}[1]" if one.per_cylinder else one.cause
        assert closing_content([text])["cause"] == one.cause


def test_a_job_s_own_closing_does_not_speak_for_itself(shop: Shop) -> None:
    first = closed(shop, "pump_weak")
    shipped = shipped_prior()
    assert prior_now(open_job(str(first))) == shipped
    closed(shop, "pump_weak")
    moved = prior_now(open_job(str(first)))
    assert moved.weights["pump_weak"] > chances(shipped)["pump_weak"]
    assert "one closed job of your own" in moved.told


def test_what_is_forgotten_comes_back_and_the_journal_is_untouched(shop: Shop) -> None:
    number = closed(shop, "pump_weak")
    journal = shop(f"job export {number}").out
    assert "Nothing was forgotten" in shop.refused("experience remember")
    assert shop.answer("experience-done", "experience forget")["jobs"] == 0
    told = shop.answer("experience", "experience")
    assert told["jobs"] == 0
    assert told["since"] is not None
    assert "forgotten" in told["not_counted"][0]
    assert lines(shop)["pump_weak"]["now"] == pytest.approx(lines(shop)["pump_weak"]["shipped"])
    closed(shop, "filter_restricted")
    assert shop.answer("experience", "experience")["jobs"] == 1
    assert shop.answer("experience-done", "experience remember")["jobs"] == 2
    assert shop(f"job export {number}").out == journal


def test_an_export_names_nobody_and_is_what_its_schema_says(shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "counts.json"
    assert "nothing to export" in shop.refused("experience export", str(file))
    number = shop.answer("job", 'job new flat-six --car "Grey coupé" --chassis X123 --who Ines')["job"]
    shop(f"job close {number} --cause spark_missing[3] --who Ines")
    shop("experience export", str(file))
    written = json.loads(file.read_text())
    validator("counts-file").validate(written)
    assert written["causes"] == {"spark_missing": 1}
    assert written["edition"] == 1
    text = file.read_text()
    assert not any(word in text for word in ("Grey", "X123", "Ines", "flat-six"))
    assert not re.search(r"\d{4}-\d{2}", text)
    shop("experience export", str(file))
    assert json.loads(file.read_text()) == written  # nothing new: the same edition
    closed(shop, "pump_weak")
    shop("experience export", str(file))
    assert json.loads(file.read_text())["edition"] == 2
    assert "your own counts" in shop.refused("experience import", str(file))


def test_counts_taken_in_twice_count_once_and_a_later_export_replaces_the_earlier(
    shop: Shop, tmp_path: Path
) -> None:
    assert shop.answer("experience-done", "experience import", take(shop, tmp_path))["other_jobs"] == 10
    assert "count already" in shop.refused("experience import", take(shop, tmp_path))
    later = take(shop, tmp_path, edition=2, jobs=12, causes={"pump_weak": 7, "air_leak_common": 4})
    assert shop.answer("experience-done", "experience import", later)["other_jobs"] == 12
    assert lines(shop)["pump_weak"]["others"] == 7
    assert "count already" in shop.refused("experience import", take(shop, tmp_path))
    other = take(shop, tmp_path, workshop="f" * 32)
    assert shop.answer("experience-done", "experience import", other)["other_jobs"] == 22
    closed(shop, "pump_weak")
    file = tmp_path / "mine.json"
    shop("experience export", str(file))
    assert json.loads(file.read_text())["jobs"] == 1  # others' counts are not passed on


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"format": "evenpour-job/1"}, "is not that of counts"),
        ({"workshop": "my garage"}, "is no workshop's number"),
        ({"edition": 0}, "edition '0' is no count"),
        ({"jobs": "ten"}, "jobs 'ten' is no count"),
        ({"jobs": 2.5}, "jobs '2.5' is no count"),
        ({"jobs": True}, "jobs 'True' is no count"),
        ({"jobs": -1}, "jobs '-1' is no count"),
        ({"causes": {"pump_week": 1}}, "Did you mean pump_weak"),
        ({"causes": {"pump_weak": 11}}, "pump_weak '11' is more than there are jobs"),
        ({"causes": {"pump_weak": None}}, "pump_weak is no count"),
        ({"causes": []}, "is no table of counts"),
        ({"two_at_once": 11}, "two_at_once '11' is more than there are jobs"),
        ({"jobs": 400}, "is more than the counts tell of"),
        ({"owner": "somebody"}, "owner"),
    ],
)
def test_a_bad_file_of_counts_names_its_field_and_changes_nothing(
    shop: Shop, tmp_path: Path, changed: dict[str, Any], says: str
) -> None:
    assert says in shop.bad("experience import", take(shop, tmp_path, **changed))
    assert shop.answer("experience", "experience")["other_jobs"] == 0


@pytest.mark.parametrize("text", ["", "{", "[1]", "\x00", "[" * 100_000])
def test_what_is_no_file_of_counts_is_refused_in_words(shop: Shop, tmp_path: Path, text: str) -> None:
    file = tmp_path / "counts.json"
    file.write_text(text)
    assert "counts.json" in shop.bad("experience import", str(file))
    assert "cannot be read" in shop.bad("experience import", str(tmp_path / "none.json"))


def test_a_handful_of_jobs_shifts_the_shipped_figures_and_forty_outweigh_them() -> None:
    shipped = shipped_prior()
    before = chances(shipped)["pump_weak"]
    after = [chances(moved_prior(shipped, Counts({"pump_weak": n}, jobs=n)))["pump_weak"] for n in (3, 40)]
    assert before < after[0] < 0.1
    assert after[1] == pytest.approx(0.5, abs=0.02)
    assert moved_prior(shipped, Counts()) is shipped


def test_the_causes_of_a_job_say_whose_experience_they_use(shop: Shop) -> None:
    number = shop.begin()
    shop(f"add {number} system 4.9 bar")
    assert shop.answer("causes", f"causes {number}")["experience"] == ""
    closed(shop, "air_leak_common")
    told = shop.answer("causes", f"causes {number}")
    assert told["experience"].startswith("How common each cause is was moved by one closed job of your own")
    assert "moved by one closed job of your own" in shop(f"causes {number}").out


def test_two_at_once_is_learned_from_jobs_in_which_something_was_wrong() -> None:
    shipped = shipped_prior()
    sound = moved_prior(shipped, Counts(nothing_wrong=30, jobs=30))
    assert sound.pairs == pytest.approx(shipped.pairs)
    two = moved_prior(shipped, Counts({"pump_weak": 30}, two_at_once=30, jobs=30))
    assert two.pairs == pytest.approx((30 * shipped.pairs + 30) / 60)  # of forty jobs one in four was sound
