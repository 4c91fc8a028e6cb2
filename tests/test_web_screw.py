"""The page of the mixture screw: the advice, the dial, the move that is entered."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from evenpour.job import advice as rule
from evenpour.job.advice import Advice, beside_screw
from evenpour.job.causes.page import NextCheck
from evenpour.job.demo import demo_entries
from evenpour.job.job import Job, job_from
from evenpour.job.screw.answer import screw_answer
from evenpour.job.screw.answers import ScrewAnswer
from evenpour.job.screw.page import screw_told
from evenpour.web.screw_dial import MIDDLE, dial
from test_web_advice import ANSWER, REPAIR
from test_web_pages import JARGON
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]

BEFORE_THE_FIRST_MOVE = next(
    earlier.id
    for earlier, one in zip(demo_entries(), demo_entries()[1:], strict=False)
    if one.kind == "move" and one.content["turns"] == "+1/16 turn"
)

WORTH = ANSWER.model_copy(update={"worth_doing": "Clean or renew the injector, cylinder 4"})


def job_upto(entry: str) -> Job:
    told = demo_entries()
    end = next(place for place, one in enumerate(told, 1) if one.id == entry)
    return job_from("a job", told[:end], number=1)


@pytest.fixture(scope="module")
def idling() -> ScrewAnswer:
    return screw_answer(job_upto(BEFORE_THE_FIRST_MOVE))


def test_the_move_advised_leads_with_its_likely_outcome_and_is_filled_in(
    pages: Pages, idling: ScrewAnswer
) -> None:
    job = pages.begin(BEFORE_THE_FIRST_MOVE, warned=True)
    page = pages.get(f"{job}/screw")
    assert idling.advice == "move"
    assert re.search(r"turn (anti)?clockwise, (richer|leaner)", page.text)
    assert "likely that the idle lands where it should (CO 1 to 2 %)" in page.text
    assert "It should then read about CO" in page.text
    assert "evenpour add" not in page.text
    assert not re.search(r"\b[a-z]+_[a-z_]+=", page.text)
    assert not JARGON.search(page.text)
    fields = page.html.form("move").fields
    assert fields["turns-way"] == ("clockwise" if (idling.turns or 0.0) > 0.0 else "anticlockwise")
    assert fields["turns-part"]
    assert fields["approach"] == "lean"


def test_a_move_entered_there_stands_in_the_ledger_and_is_counted(pages: Pages) -> None:
    job = pages.begin(BEFORE_THE_FIRST_MOVE, warned=True)
    before = len([kind for kind, _ in pages.entries(job) if kind == "move"])
    page = pages.send(
        f"{job}/screw", "move", who="Ines", turns_way="clockwise", turns_part="1/8", turns_whole=""
    )
    assert page.status == 200
    assert "Mend or withdraw it" in page.text
    moves = [content for kind, content in pages.entries(job) if kind == "move"]
    assert len(moves) == before + 1
    assert moves[-1]["turns"] == "+1/8 turn"
    assert "Read the idle before you turn" in page.text
    assert f"{job}/steps/idle_mixture_and_speed" in page.html.links


def test_a_mark_alone_is_entered_without_a_turn(pages: Pages) -> None:
    job = pages.begin(warned=True)
    page = pages.send(f"{job}/screw", "move", mark="scribed", who="Ines")
    assert page.status == 200
    assert [content["turns"] for kind, content in pages.entries(job) if kind == "move"] == ["0 turn"]
    assert "Scribed" in page.text[page.text.index("Marks") :]


def test_why_no_move_is_advised_is_said_with_what_comes_first(pages: Pages) -> None:
    page = pages.get(f"{pages.begin()}/screw")
    assert "No move is advised" in page.text
    assert "The engine has not run since" in page.text
    assert any(link.endswith("/steps/onset_lines") for link in page.html.links)
    assert "CAUTION" in page.text
    assert "step onset_lines" not in page.text


def test_a_move_without_a_direction_is_shown_again_with_what_was_typed(pages: Pages) -> None:
    job = pages.begin(warned=True)
    form = pages.get(f"{job}/screw").html.form("move")
    answer = pages.client.post(f"{job}/screw", data={**form.fields, "turns-part": "1/8", "who": "Ines"})
    assert answer.status_code == 422
    assert "no direction" in answer.text


def point(path: str) -> tuple[float, float]:
    x, y = path.removeprefix("M").split("A")[0].split("L")[0].split()
    return float(x), float(y)


def test_the_dial_turns_as_the_key_does(idling: ScrewAnswer) -> None:
    quarter = idling.model_copy(update={"total_turns": 1.25, "turns": 0.125, "advice": "move"})
    drawn = dial(quarter, [(0.5, False), (1.5, True), (0.52, False)], "1/8 turn clockwise", "somewhere")
    assert drawn.key.startswith("rotate(90 ")  # a whole turn and a quarter: at three o'clock
    assert drawn.ghost.startswith("rotate(135 ")
    x, y = point(drawn.arc)
    assert (x > MIDDLE[0], y) == (True, MIDDLE[1])
    assert " 0 0 1 " in drawn.arc  # the short way, clockwise
    places = [(ball.x, ball.y) for ball in drawn.balls]
    assert len(set(places)) == 3  # marks that would lie on each other are set apart
    assert min(abs(a[0] - b[0]) + abs(a[1] - b[1]) for a in places for b in places if a != b) > 15.0
    back = dial(quarter.model_copy(update={"turns": -0.6}), [], "", "")
    assert " 0 1 0 " in back.arc  # more than half a turn, anticlockwise
    still = dial(quarter.model_copy(update={"advice": "stay"}), [], "", "")
    assert (still.arc, still.ghost) == ("", "")


def test_the_key_covers_no_word_of_the_dial(idling: ScrewAnswer) -> None:
    for here, by in ((0.0, 0.0), (0.0, 0.0625), (0.0, -0.0625), (0.5, 0.0), (0.27, 0.25), (1.0, 0.5)):
        drawn = dial(
            idling.model_copy(update={"total_turns": here, "turns": by, "advice": "move"}), [], "", ""
        )
        words = [(tick.x, tick.y) for tick in drawn.ticks if tick.word]
        assert len(words) == 4
        for turns in {here, here + by}:
            x, y = math.sin(2.0 * math.pi * turns), -math.cos(2.0 * math.pi * turns)
            for across, down in ((a - MIDDLE[0], b - MIDDLE[1]) for a, b in words):
                beside = abs(across * y - down * x)  # px from the key's middle line
                assert beside > 15.0 or across * x + down * y < 0.0, (here, by, turns)


def test_a_size_that_the_form_does_not_offer_is_not_filled_in(idling: ScrewAnswer) -> None:
    job = job_upto(BEFORE_THE_FIRST_MOVE)
    fine = screw_told(job, idling.model_copy(update={"advice": "move", "turns": 1 / 32}))
    assert fine.typed is None
    assert fine.headline == "1/32 turn clockwise, richer"
    whole = screw_told(job, idling.model_copy(update={"advice": "start", "turns": -2.25}))
    assert whole.typed is not None
    assert (whole.typed.way, whole.typed.whole, whole.typed.part) == ("anticlockwise", "2", "1/4")


def test_where_all_readings_advise_another_thing_first_the_screw_says_so_at_its_top(
    pages: Pages, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = [WORTH]
    monkeypatch.setattr(rule, "answer_at_hand", lambda job, *, store=None: answers[0])
    job = pages.begin(BEFORE_THE_FIRST_MOVE, warned=True)
    words = "By all readings together another thing goes first: Clean or renew the injector, cylinder 4"
    text = pages.get(f"{job}/screw").text
    assert "So say the screw’s own readings alone." in text
    assert text.index("What to do with it now") < text.index(words) < text.index("In this order")
    itself = REPAIR.model_copy(update={"part": "mixture_screw", "cylinder": None, "remedy": "turn it back"})
    answers[0] = WORTH.model_copy(update={"worth_doing": "Turn it back", "repairs": [itself]})
    assert "another thing goes first" not in pages.get(f"{job}/screw").text


def test_the_screw_says_nothing_of_another_thing_where_it_advises_none_itself() -> None:
    check = NextCheck(
        title="idle speed", step="idle_mixture_and_speed", through="", opening="",
        swaps=(), minutes=6.0, tells="", how="", before=(), apart="",
    )  # fmt: skip
    now = Advice("check", "idle speed", "", check, "", "", found=True, worked_out=True)
    assert beside_screw(now, "read", "idle_mixture_and_speed") == ""
    assert "goes first: idle speed" in beside_screw(now, "move", "")
    assert beside_screw(now, "stay", "") == beside_screw(None, "move", "") == ""
    open_yet = replace(now, kind="step", check=None, worked_out=False)
    assert "it may put another thing first" in beside_screw(open_yet, "move", "")
