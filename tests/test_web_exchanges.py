"""Exchanged parts: where one acts it is said where they hang, and no catch puts them back by itself."""

from __future__ import annotations

import pytest

from evenpour.errors import Questioned
from evenpour.job import advice as rule
from evenpour.job.adding import add
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.exchanges import exchanged_now, hangs_now, left_unsaid, stands_at
from evenpour.job.job import Job
from evenpour.job.opening import stored_job
from evenpour.web.causes_told import found_of
from test_web_advice import ANSWER
from web_world import Page, Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]

SWAPPED = "swapped"  # the catch with injectors 4 and 1 exchanged
AMOUNTS = {"amount__1": "66"} | {f"amount__{port}": "80" for port in range(2, 7)}
WHERE = "now at port 1, exchanged with injector 1"
HUNG = ANSWER.repairs[0].model_copy(update={"hangs": WHERE})
WORTH = ANSWER.model_copy(
    update={"worth_doing": f"Clean or renew the injector, cylinder 4; {WHERE}", "repairs": [HUNG]}
)


def job_at(pages: Pages, job: str) -> Job:
    return stored_job(pages.store, int(job.rpartition("/")[2]))


def put_back(pages: Pages, job: str) -> list[tuple[str, int | None]]:
    found = [(one.item, one.cylinder) for one in job_at(pages, job).path().put_back]
    return [one for one in found if one[0].startswith("exchanged_")]


def catch(pages: Pages, job: str, **typed: str) -> Page:
    typed = {"through": "injectors", "opening": "full", "duration": "35", "who": "Ines"} | AMOUNTS | typed
    return pages.send(f"{job}/catch", "catch", **typed)


def test_where_a_part_hangs_follows_all_exchanges_in_their_order() -> None:
    swaps = [("injector", 1, 2), ("injector", 2, 3), ("line", 4, 5)]
    assert [stands_at("injector", port, swaps) for port in (1, 2, 3, 4)] == [2, 3, 1, 4]
    assert stands_at("line", 4, swaps) == 5


def test_a_catch_through_bare_lines_need_not_speak_of_injectors() -> None:
    standing = [("injector", 4, 1), ("line", 2, 3)]
    assert left_unsaid(standing, {"through": "lines"}) == [("line", 2, 3)]
    assert left_unsaid(standing, {"through": "injectors", "swaps": ["injector 1 with 4"]}) == [("line", 2, 3)]
    assert left_unsaid(standing, {"through": "injectors", "swaps": ["line 3 with 2"]}) == [("injector", 4, 1)]


def test_an_exchanged_injector_is_told_where_it_hangs_wherever_its_repair_is_told(
    pages: Pages, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers: list[CausesAnswer] = [WORTH]
    monkeypatch.setattr(rule, "answer_at_hand", lambda job, *, store=None: answers[0])
    job = pages.begin(SWAPPED, warned=True)
    stored = job_at(pages, job)
    assert hangs_now(stored, "injector", 4) == WHERE
    assert hangs_now(stored, "injector", 1) == "now at port 4, exchanged with injector 4"
    assert [hangs_now(stored, "injector", 2), hangs_now(stored, "line", 4)] == ["", ""]
    assert f"Clean or renew the injector, cylinder 4; {WHERE}" in pages.get(job).text
    told = found_of(stored, WORTH)
    assert told.doing is not None
    for words in (told.worth_doing, told.doing.words, told.repairs[0].words):
        assert words.endswith(f"cylinder 4; {WHERE}")
    assert f"of this cylinder is {WHERE}" in pages.get(f"{job}/enter?part=injector&cylinder=4").text
    assert "of this cylinder is" not in pages.get(f"{job}/enter?part=injector&cylinder=2").text


def test_the_page_of_catches_knows_its_own_advice_in_what_all_readings_advise(
    pages: Pages, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rule, "answer_at_hand", lambda job, *, store=None: WORTH)
    text = pages.get(f"{pages.begin(SWAPPED)}/catch").text
    assert f"Injector 4 is {WHERE}." in text
    assert "All readings together advise to put the same right first." in text
    assert "another thing goes first" not in text


def test_once_it_is_back_nothing_is_said_of_an_exchange(pages: Pages) -> None:
    job = pages.begin(SWAPPED)
    back = {"action": "refitted", "part": "exchanged_injector", "who": "Ines"}
    pages.store.append(int(job.rpartition("/")[2]), "did", back)
    stored = job_at(pages, job)
    assert (exchanged_now(stored), hangs_now(stored, "injector", 4)) == ((), "")
    assert "For this catch they hang" not in pages.get(f"{job}/catch").text


def test_a_later_catch_is_asked_where_exchanged_parts_hang_and_takes_nothing_for_granted(
    pages: Pages,
) -> None:
    job = pages.begin(SWAPPED, warned=True)
    standing = [("exchanged_injector", 1), ("exchanged_injector", 4)]
    assert put_back(pages, job) == standing
    assert "not entered as put back since: injector 4 with 1" in pages.get(f"{job}/catch").text
    asked = catch(pages, job)
    assert asked.status == 422
    assert "“For this catch they hang” is empty. Look where they hang, and choose it." in asked.text
    assert put_back(pages, job) == standing
    assert catch(pages, job, stands="still").status == 200
    assert pages.entries(job)[-1][1]["swaps"] == ["injector 4 with 1"]
    assert put_back(pages, job) == standing
    back = catch(pages, job, stands="back", amount__1="80", amount__4="66")
    assert back.status == 200
    assert put_back(pages, job) == []
    (did, caught) = pages.entries(job)[-2:]
    assert did == ("did", {"action": "refitted", "part": "exchanged_injector", "who": "Ines"})
    assert "swaps" not in caught[1]


def test_a_catch_added_at_a_prompt_is_questioned_alike(pages: Pages) -> None:
    job = pages.begin(SWAPPED)
    number = int(job.rpartition("/")[2])
    content = {
        "through": "injectors", "opening": "full", "duration": "35 s", "who": "Ines",
        "amounts": ["80 ml", "80 ml", "80 ml", "66 ml", "80 ml", "80 ml"],
    }  # fmt: skip
    with pytest.raises(Questioned, match="injector 4 with 1, exchanged for an earlier catch"):
        add(pages.store, number, "catch", content)
    add(pages.store, number, "catch", {**content, "swaps": ["injector 4 with 1"]})
    assert len(put_back(pages, job)) == 2
    add(pages.store, number, "catch", content, sure=True)
    assert put_back(pages, job) == []
