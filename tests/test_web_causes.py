"""The page of causes: it stands at once, fills in when the answer is there, and says it in words."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from evenpour.job.causes.answers import CauseLine, CauseName, CausesAnswer, NextCheckLine
from evenpour.job.causes.groups import alike, apart_words, cause_titles, group_says, left_out_because, whole
from evenpour.job.causes.page import next_check, next_checks, read_up_to
from evenpour.job.demo import demo_entries
from evenpour.job.entries import Draft
from evenpour.job.job import job_from
from evenpour.job.store import Store
from evenpour.web.causes_told import _lead
from test_web_pages import JARGON
from web_world import Pages, pages, served, shop_pages

__all__ = ["pages", "shop_pages"]


@pytest.fixture(scope="module", autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What is kept beside the store is kept for this module alone, by the process beside the server too."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("EVENPOUR_HOME", str(tmp_path_factory.mktemp("home")))
        yield


ID = re.compile(r"\b[a-z]+_[a-z_]+\b")
PATIENCE = 300.0  # s, for a busy machine
CAPITALS = re.compile(r"\b[A-Z]{2,}\d*\b")


def worked_out(pages: Pages, job: str) -> str:
    """What the page says once the answer is there."""
    while "data-again" in pages.client.get(f"{job}/causes/found", timeout=PATIENCE).text:
        pass
    return pages.get(f"{job}/causes").text


def test_the_page_stands_at_once_and_the_answer_is_fetched(pages: Pages) -> None:
    job = pages.begin("cold-1")
    page = pages.get(f"{job}/causes")
    assert "The readings are being explained together" in page.text  # so it has not waited for the answer
    assert f"{job}/causes/found" in page.html.source
    assert f"{job}/causes" in page.html.links  # without a script one looks again
    meanwhile = page.text.partition("Known so far")[2]
    assert meanwhile.strip().startswith("Control pressure, cold: 1.80")
    assert "Next in the order of the work: " in meanwhile
    assert any(link.startswith(f"{job}/steps/") for link in page.html.links)
    text = worked_out(pages, job)
    assert "being explained" not in text
    assert "the control-pressure regulator's bimetal is set too high" in text
    assert "Worked out from 45 readings up to 6 May 2026, 08:10" in text
    assert re.search(r"strongly: .*1\.80 bar.*without it", text)
    assert not JARGON.search(text)
    assert not ID.search(text), ID.search(text)
    assert set(CAPITALS.findall(text)) <= {"CO", "HC", "O2", "CO2"}


def test_one_tap_starts_the_check_that_tells_most(pages: Pages) -> None:
    job = pages.begin("cold-1")
    worked_out(pages, job)
    page = pages.get(f"{job}/causes")
    steps = [link for link in page.html.links if link.startswith(f"{job}/steps/")]
    assert steps
    for link in steps:
        assert pages.get(link).status == 200
    assert re.search(r"10 min.*would", page.text)


def test_what_was_known_before_stays_in_sight_while_a_new_reading_is_explained(pages: Pages) -> None:
    job = pages.begin("cold-1", warned=True)
    worked_out(pages, job)
    pages.send(f"{job}/read/system_pressure", "read-system_pressure", value="4.9")
    text = pages.get(f"{job}/causes").text
    assert "Something has been entered since" in text
    assert "the control-pressure regulator's bimetal is set too high" in text
    assert "Something has been entered since" not in worked_out(pages, job)


def looked_at(pages: Pages, job: str) -> list[str]:
    """What the page fetches, one answer after the other, until the full one is there."""
    seen = [pages.client.get(f"{job}/causes/found", timeout=PATIENCE).text]
    while "data-again" in seen[-1]:
        seen.append(pages.client.get(f"{job}/causes/found", timeout=PATIENCE).text)
    return seen


def test_a_first_look_with_a_new_reading_stands_before_the_full_answer_on_every_device(pages: Pages) -> None:
    job = pages.begin("system-1", warned=True)
    worked_out(pages, job)
    pages.send(f"{job}/read/control_pressure_cold", "read-control_pressure_cold", value="1.8")
    with httpx.Client(base_url=pages.address, timeout=PATIENCE) as other:
        there: list[str] = []

        def looks() -> None:
            while "data-again" in (text := other.get(f"{job}/causes/found").text):
                there.append(text)

        device = threading.Thread(target=looks)
        device.start()
        *before, whole = looked_at(pages, job)
        device.join()
    for seen in (before, there):
        first = next(text for text in seen if "data-first" in text)
        assert "First look: what speaks for and against follows." in first
        assert "The control-pressure regulator&#39;s bimetal is set too high</h3>" in first
        look, _, told = first.partition("Told before the newest entries")
        assert "Speaks for it" not in look
        assert "Check next" in told  # what was told before stays in sight
    assert "First look" not in whole
    assert "Told before" not in whole


def test_an_answer_is_asked_for_anew_once_another_job_is_closed_with_a_cause(
    pages: Pages, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[object, ...]] = []
    monkeypatch.setattr("evenpour.web.work_room.WorkRoom.begin", lambda *said, first: asked.append(said[1:3]))
    job, other = pages.begin("cold-1"), pages.begin("reading-16")
    pages.get(f"{job}/causes")
    pages.get(f"{job}/causes")
    closing = {"cause": "pump_weak", "confirmed": True}
    pages.store.append(int(other.rpartition("/")[2]), "closed", closing)
    pages.get(f"{job}/causes")
    assert len({about for about, _ in asked}) == 1
    first, again, then = (key for _, key in asked)
    assert first == again
    assert first != then  # the journal is the same: what is believed before any reading has moved


def test_where_nothing_can_be_worked_out_the_page_says_so_and_how_to_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(12, "Cannot allocate memory")

    with Store(tmp_path / "jobs.db") as store, served(store) as address, Pages(address, store) as pages:
        job = pages.begin("reading-16")
        monkeypatch.setattr("evenpour.web.work_room.Beside", full)
        pages.get(f"{job}/causes")
        for page in (pages.client.get(f"{job}/causes/found").text, pages.client.get(f"{job}/causes").text):
            assert "cannot be begun: Cannot allocate memory" in page
            assert "evenpour causes 1" in page
            assert "data-again" not in page  # nothing is waited for any more
            assert "Known so far" in page
        monkeypatch.undo()
        again = pages.get(f"{job}/causes")
        assert f"{job}/causes?again=1" in again.html.links
        assert "being explained" in pages.get(f"{job}/causes?again=1").text
        assert "Worked out from" in worked_out(pages, job)


def test_a_catch_worth_doing_leads_to_its_form_with_the_exchange_filled_in() -> None:
    told = demo_entries()
    end = next(place for place, one in enumerate(told, 1) if one.id == "injectors-full-1")
    job = job_from("a job", told[:end], number=1)
    line = NextCheckLine(
        what="catch", cylinder=None, state="", conditions={"through": "injectors", "opening": "full"},
        information=0.66, minutes=10.0, why="a catch: about 66 ml if one, 79 ml if the other",
        step="catch_injectors_full", before=[], cautions=[],
        swaps=["injector 1 with 2"],
    )  # fmt: skip
    check = next_check(job, line)
    assert check.title == "Catch again: through injectors, full opening, injector 1 with 2 exchanged"
    first = next_check(job_from("a job", told[:3], number=1), line.model_copy(update={"swaps": []}))
    assert first.title == "Catch: through injectors, full opening"
    assert check.apart == "about 66 ml if one, 79 ml if the other"
    assert check.tells == "would decide most of what is open"
    assert (check.through, check.opening, check.swaps) == ("injectors", "full", ("injector 1 with 2",))
    assert read_up_to(job) == job.newest


def test_a_check_that_would_ruin_the_usual_gauge_says_which_it_wants() -> None:
    job = job_from("a job", demo_entries(), number=1)
    pinched = NextCheckLine(
        what="pump_deadhead", cylinder=None, state="engine off", conditions={}, information=0.3, minutes=8.0,
        why="", step="deadhead_pump", before=[], cautions=[], swaps=[],
    )  # fmt: skip
    assert next_check(job, pinched).how == "engine off, with a gauge to 10 bar: one for less breaks"
    usual = pinched.model_copy(update={"what": "system_pressure", "step": "read_system_pressure"})
    assert next_check(job, usual).how == "engine off"


def test_two_checks_of_one_kind_stand_under_titles_of_their_own_and_none_twice() -> None:
    job = job_from("a job", demo_entries(), number=1)

    def check(what: str, state: str, step: str) -> NextCheckLine:
        return NextCheckLine(
            what=what, cylinder=None, state=state, conditions={}, information=0.3, minutes=10.0, why="",
            step=step, before=[], cautions=[], swaps=[],
        )  # fmt: skip

    told = next_checks(job, [
        check("holding_pressure", "after 10 min", "read_holding"),
        check("system_pressure", "idle", "read_system_pressure"),
        check("holding_pressure", "after 20 min", "read_holding"),
        check("system_pressure", "idle", "set_system_pressure"),
    ])  # fmt: skip
    assert [(one.title, one.how, one.step) for one in told] == [
        ("Holding pressure after the stop: after 10 min", "", "read_holding"),
        ("System pressure", "idle", "read_system_pressure"),
        ("Holding pressure after the stop: after 20 min", "", "read_holding"),
    ]


def test_money_of_repairs_is_said_to_be_ones_own_and_where_it_is_set(pages: Pages) -> None:
    job = pages.begin("cold-1")
    worked_out(pages, job)
    text = pages.get(f"{job}/causes").text
    assert re.search(r"parts about \d+ in your money", text)
    assert "yours to set: evenpour repairs" in text


def test_every_cause_has_a_title_that_is_a_sentence() -> None:
    for name, title in cause_titles().items():
        assert " " in title, name
        assert not ID.search(title), name


def line(cause: str, cylinder: int | None, probability: float) -> CauseLine:
    title = cause_titles()[cause]
    return CauseLine.model_validate({
        "cause": cause, "cylinder": cylinder, "probability": probability, "for": [], "against": [],
        "says": title if cylinder is None else f"{title} (cylinder {cylinder})", "severity": None,
        "severity_u": None, "severity_words": "", "if_mended": [], "part": None, "remedy": None,
    })  # fmt: skip


def test_one_cause_at_cylinders_as_likely_is_told_together_and_its_shares_add_up() -> None:
    lines = [
        line("pump_weak", None, 0.3), line("injector_shut", 2, 0.2), line("injector_shut", 5, 0.19),
        line("injector_shut", 1, 0.05),
    ]  # fmt: skip
    groups = alike(lines)
    assert [group_says(one) for one in groups] == [
        lines[1].says.replace("cylinder 2", "cylinder 2 or 5"), lines[0].says, lines[3].says,
    ]  # fmt: skip
    assert whole(groups[0]) == pytest.approx(0.39)
    names = [CauseName(cause="injector_shut", cylinder=number) for number in (3, 1, 2)]
    assert apart_words(names) == [f"{cause_titles()['injector_shut']} (cylinder 1, 2 or 3)"]


@pytest.mark.parametrize(
    ("nothing", "top", "unexplained", "lead", "fault"),
    [
        (0.4, 0.04, 0.0, ("Not clear yet; likeliest is that nothing known here is wrong", "40 %"), "4 %"),
        (0.2, 0.3, 0.0, ("Not clear yet; likeliest is that the fuel pump is worn", "30 %"), ""),
        (0.2, 0.7, 0.0, ("Most likely the fuel pump is worn", "70 %"), ""),
        (0.6, 0.3, 0.0, ("Nothing that is known here seems wrong", "60 %"), ""),
        (0.1, 0.2, 0.5, ("Not clear yet; likeliest is something that is not known here", "50 %"), "20 %"),
    ],
)
def test_the_head_names_what_is_likeliest_of_all(
    nothing: float, top: float, unexplained: float, lead: tuple[str, str], fault: str
) -> None:
    one = line("pump_weak", None, top)
    answer = CausesAnswer.model_construct(nothing_wrong=nothing, unexplained=unexplained)
    told = _lead(answer, [[one]])
    assert (told["lead"], told["lead_share"]) == lead
    assert (told["fault"], told["fault_share"]) == (one.says if fault else "", fault)
    assert told["sound"] == ("nothing" in told["lead"].lower())


def pair(first: CauseLine, second: CauseLine, probability: float) -> CauseLine:
    return first.model_copy(
        update={
            "probability": probability,
            "says": f"two things are wrong at once: {first.says}, and {second.says}",
            "with_": CauseName(cause=second.cause, cylinder=second.cylinder),
        }
    )


def test_two_causes_of_which_one_may_be_at_several_cylinders_are_told_once() -> None:
    pump, other = line("pump_weak", None, 0.0), line("spark_missing", 3, 0.0)
    shut = [line("injector_shut", number, 0.0) for number in (2, 4, 5)]
    lines = [pair(pump, one, 0.1) for one in shut] + [pair(shut[0], other, 0.09), pair(shut[2], other, 0.08)]
    crossed = pair(shut[1], line("spark_missing", 6, 0.0), 0.07)  # differs in both: a finding of its own
    groups = alike([*lines, crossed])
    assert [group_says(one) for one in groups] == [
        lines[0].says.replace("cylinder 2", "cylinder 2, 4 or 5"),
        lines[3].says.replace("cylinder 2", "cylinder 2 or 5"),
        crossed.says,
    ]
    assert [whole(one) for one in groups] == pytest.approx([0.3, 0.17, 0.07])


def test_readings_left_out_are_told_by_the_reason() -> None:
    said = [
        "the drip, dry: the injector was replaced since",
        "the spray, even: the injector was replaced since",
    ]
    assert left_out_because(said) == {"the injector was replaced since": ["the drip, dry", "the spray, even"]}


@pytest.mark.skipif(sys.platform == "win32", reason="a terminal's Ctrl-C goes to a group of processes")
def test_ctrl_c_ends_a_server_that_is_at_work_without_a_complaint(tmp_path: Path) -> None:
    environment = {**os.environ, "EVENPOUR_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    with Store(tmp_path / "jobs.db") as store:
        store.import_job([Draft(one.kind, one.content, one.id, one.at) for one in demo_entries()])
    command = [sys.executable, "-m", "evenpour", "serve"]
    with subprocess.Popen(
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        start_new_session=True,
    ) as running:  # fmt: skip
        assert running.stdout is not None
        address = re.search(re.escape("http://127.0.0.1") + r":\d+", running.stdout.readline())
        assert address is not None
        with httpx.Client(base_url=address[0], timeout=60.0) as client:
            assert "being explained" in client.get("/jobs/1/causes").text
            client.get("/jobs/1/causes/found")  # long enough for the process beside to be at it
            client.get("/jobs/1/catch/drawings")
        os.killpg(running.pid, signal.SIGINT)
        rest = running.stdout.read()
        assert (running.wait(timeout=30), rest) == (0, "Ended. Everything entered is kept.\n")
