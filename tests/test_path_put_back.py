"""The put-back list: what is on it, since when, and what takes it off."""

from __future__ import annotations

import pytest

from evenpour.path import put_back, put_back_groups
from path_world import Diary


def items(diary: Diary) -> list[str]:
    return [item.item for item in put_back(diary.state)]


@pytest.mark.parametrize("action", ["disconnected", "removed", "fitted"])
def test_what_is_taken_apart_or_fitted_goes_on_the_list(action):
    assert items(Diary().did(action, "coil_feed")) == ["coil_feed"]


@pytest.mark.parametrize("action", ["reconnected", "refitted", "replaced", "taken_out"])
def test_what_is_undone_comes_off_the_list(action):
    diary = Diary().did("disconnected", "coil_feed").did(action, "coil_feed")
    assert items(diary) == []
    assert diary.state.questions == ()


@pytest.mark.parametrize("action", ["adjusted", "cleaned", "moved"])
def test_other_work_leaves_the_list_alone(action):
    assert items(Diary().did(action, "coil_feed")) == []
    assert items(Diary().did("removed", "coil_feed").did(action, "coil_feed")) == ["coil_feed"]


@pytest.mark.parametrize("action", ["reconnected", "refitted", "taken_out"])
def test_taking_off_what_is_not_on_is_asked_about_and_kept(action):
    diary = Diary().did(action, "mixture_key")
    assert items(diary) == []
    (question,) = diary.state.questions
    assert question.words.startswith("Mixture key was ")
    assert "it was not on the put-back list" in question.words


def test_replacing_what_was_never_noted_as_removed_is_no_question():
    assert Diary().did("replaced", "injector", 3).state.questions == ()


def test_a_new_one_takes_off_what_was_removed_by_hand_and_not_what_a_step_took_out():
    assert items(Diary().did("removed", "coil_feed").did("replaced", "coil_feed")) == []
    diary = Diary().step("cut_spark").did("replaced", "coil_feed")
    assert items(diary) == ["coil_feed"]
    assert items(diary.step("spark_back")) == []


def test_an_item_says_since_when_by_which_entry_and_which_step_takes_it_off():
    (item,) = put_back(Diary().did("removed", "charger").did("taken_out", "charger").step("cut_spark").state)
    assert (item.item, item.since, item.entry, item.step) == ("coil_feed", "10:02", "e2", "spark_back")
    assert item.words == "connect the coil feed"
    assert item.how == "by step “Cut the spark”"


def test_on_again_while_on_keeps_the_first_time():
    (item,) = put_back(Diary().did("disconnected", "coil_feed").step("cut_spark").state)
    assert item.since == "10:00"


def test_six_injectors_read_as_one_line_and_lose_the_one_that_is_back():
    diary = Diary().did("removed", "injector")
    (group,) = put_back_groups(diary.state)
    assert group.name == "injectors 1 to 6"
    (group,) = put_back_groups(diary.did("refitted", "injector", 4).state)
    assert group.name == "injectors 1 to 3, 5 and 6"
    (group,) = put_back_groups(diary.did("refitted", "injector").did("removed", "injector", 2).state)
    assert group.name == "injector 2"
    assert diary.state.questions == ()


def test_a_step_passed_over_puts_nothing_on_and_takes_nothing_off():
    assert items(Diary().step("cut_spark", done=False, reason="no key")) == []
    diary = Diary().step("cut_spark").step("spark_back", done=False, reason="later")
    assert items(diary) == ["coil_feed"]
    assert items(diary.step("spark_back")) == []


def test_a_step_that_takes_off_what_is_off_already_asks_nothing():
    assert Diary().step("spark_back").state.questions == ()


def test_an_override_lets_an_item_stay_but_not_the_next_time_it_is_on():
    diary = Diary().did("fitted", "charger").override("charger")
    (item,) = put_back(diary.state)
    assert item.override is not None
    diary.did("taken_out", "charger").did("fitted", "charger")
    (item,) = put_back(diary.state)
    assert item.override is None


def test_an_override_on_one_cylinder_stands_on_a_line_of_its_own():
    diary = Diary().did("removed", "injector").override("injector[3]")
    assert [group.name for group in put_back_groups(diary.state)] == [
        "injectors 1, 2 and 4 to 6",
        "injector 3",
    ]


def test_an_unknown_part_or_step_is_asked_about():
    diary = Diary().did("removed", "windscreen").step("wax_it").override("windscreen").override("no such[x]")
    assert len(diary.state.questions) == 4
    assert items(diary) == []
