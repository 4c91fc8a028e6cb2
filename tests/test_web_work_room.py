"""The process beside the server: each question once, the newest first, a first look before, its end said."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator

import pytest

from evenpour.errors import FieldProblem
from evenpour.web import beside, work_room
from evenpour.web.work_room import NotYet, WorkRoom

PATIENCE = 60.0  # s, for a busy machine


def worked(word: str) -> str:
    return word.upper()


def slow(word: str) -> str:
    time.sleep(0.6)
    return word


def broken(word: str) -> str:
    raise FieldProblem("value", word, "is no number")


def failing(word: str) -> str:
    raise ZeroDivisionError(word)


def endless(word: str) -> str:
    time.sleep(600.0)
    return word


def glimpsed(word: str) -> str:
    return f"{word}?"


def nothing_yet(word: str) -> None:
    return None


def lost(word: str) -> str:
    os._exit(3)


def unfit(word: str) -> Callable[[], str]:
    return lambda: word  # cannot travel from one process to another


@pytest.fixture(scope="module")
def room() -> Iterator[WorkRoom]:
    opened = WorkRoom()
    yield opened
    opened.close()


@pytest.fixture
def own_room() -> Iterator[WorkRoom]:
    """One whose process may be lost."""
    opened = WorkRoom()
    yield opened
    opened.close()


def test_the_work_room_answers_once_and_keeps_it(room: WorkRoom) -> None:
    assert room.found("a") is None
    with pytest.raises(NotYet):
        room.wait("a", 0.01)  # nobody asked
    room.begin("about", "a", worked, "even")
    outcome = room.wait("a", PATIENCE)
    assert outcome is not None
    assert outcome.found == "EVEN"
    assert room.last("about") == "EVEN"


def test_of_several_questions_about_one_thing_only_the_newest_waits(room: WorkRoom) -> None:
    room.begin("one", "first", slow, "first")
    room.begin("two", "older", slow, "older")
    room.begin("two", "newer", worked, "newer")
    room.begin("one", "first", slow, "first")  # asked again while it is worked on
    given_up = threading.Event()

    def waits() -> None:
        with pytest.raises(NotYet):
            room.wait("older", PATIENCE)
        given_up.set()

    threading.Thread(target=waits).start()
    outcome = room.wait("newer", PATIENCE)
    assert outcome is not None
    assert outcome.found == "NEWER"
    assert given_up.wait(5.0)
    assert room.found("first") is not None
    assert room.found("older") is None


def test_a_problem_comes_back_in_words_and_is_tried_again(
    room: WorkRoom, capsys: pytest.CaptureFixture[str]
) -> None:
    room.begin("three", "bad", broken, "x")
    assert wrong(room, "bad") == "Value “x” is no number."
    room.begin("three", "bad", worked, "x")
    outcome = room.wait("bad", PATIENCE)
    assert outcome is not None
    assert outcome.found == "X"
    for make, fault in ((failing, "ZeroDivisionError"), (unfit, "pickle")):
        room.begin("three", make, make, "x")
        assert "a fault of the tool" in wrong(room, make)
        assert fault in capsys.readouterr().err


def wrong(room: WorkRoom, key: object) -> str:
    outcome = room.wait(key, PATIENCE)
    assert outcome is not None
    (words,) = outcome.wrong
    return words


def test_a_first_look_is_there_before_the_answer_and_goes_with_it(room: WorkRoom) -> None:
    room.begin("four", "whole", slow, "whole", first=glimpsed)
    assert room.wait("whole", PATIENCE, or_first=True) is None
    assert room.first("whole") == "whole?"
    outcome = room.wait("whole", PATIENCE)
    assert outcome is not None
    assert outcome.found == "whole"
    assert room.first("whole") is None


def test_a_first_look_does_not_wait_for_what_is_worked_out_in_front(room: WorkRoom) -> None:
    room.begin("five", "5a", slow, "5a")
    room.begin("five", "5b", slow, "5b", first=glimpsed)
    room.wait("5b", PATIENCE, or_first=True)
    assert room.first("5b") == "5b?"
    assert room.found("5a") is None  # it is still being worked out
    room.begin("five", "5c", worked, "5c", first=glimpsed)
    room.wait("5c", PATIENCE)
    assert room.first("5b") is None  # the newest took its place


@pytest.mark.parametrize("first", [nothing_yet, failing, broken])
def test_without_a_first_look_the_answer_comes_all_the_same(
    room: WorkRoom, first: Callable[[str], object], capsys: pytest.CaptureFixture[str]
) -> None:
    room.begin("six", first, worked, "six", first=first)
    outcome = room.wait(first, PATIENCE)
    assert outcome is not None
    assert outcome.found == "SIX"
    assert room.first(first) is None


def test_what_takes_too_long_is_given_up_and_says_so(
    own_room: WorkRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    own_room.begin("about", "endless", endless, "x")
    monkeypatch.setattr(work_room, "TOO_LONG", 0.0)
    own_room.begin("about", "endless", endless, "x")  # asked for again by a page that waits for it
    assert "given up after" in wrong(own_room, "endless")
    own_room.begin("else", "next", worked, "even")
    outcome = own_room.wait("next", PATIENCE)
    assert outcome is not None
    assert outcome.found == "EVEN"
    own_room.close()
    own_room.close()  # nothing is left to end


def test_a_process_that_is_lost_at_it_again_and_again_says_so_and_the_next_question_is_answered(
    own_room: WorkRoom,
) -> None:
    own_room.begin("about", "lost", lost, "x")
    own_room.begin("else", "next", worked, "even")
    assert "ended 2 times" in wrong(own_room, "lost")
    outcome = own_room.found("lost")
    assert outcome is not None
    assert outcome.lost
    following = own_room.wait("next", PATIENCE)
    assert following is not None
    assert following.found == "EVEN"


def test_a_process_that_cannot_be_begun_says_so_at_once(
    own_room: WorkRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> beside.Beside:
        raise OSError(12, "Cannot allocate memory")

    monkeypatch.setattr(work_room, "Beside", full)
    own_room.begin("about", "a", worked, "even")
    assert "cannot be begun: Cannot allocate memory" in wrong(own_room, "a")
    monkeypatch.undo()
    own_room.begin("about", "a", worked, "even")  # it is tried again when somebody asks
    outcome = own_room.wait("a", PATIENCE)
    assert outcome is not None
    assert outcome.found == "EVEN"
