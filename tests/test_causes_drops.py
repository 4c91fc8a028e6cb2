"""Falls of the idle with one spark earthed after the other: how far they all are is the car's own."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from evenpour.job import job_of_text
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.job_file import read_text
from shows_tools import FORM

HEAD = f"""{FORM}
[engine]
sheet = "%s"
[conditions]
ambient_temperature = "18 degC"
fuel = "E5"
"""
AT_FOUR = {"spark_missing", "air_leak_runner", "port_restricted", "compression_low", "injector_shut"}


def falls(rpm: Sequence[float], more: str = "", sheet: str = "inline-six") -> CausesAnswer:
    text = "".join(
        f'[[reading]]\nwhat = "cylinder_drop"\ncylinder = {k}\nvalue = "{fall} rpm"\n'
        f'conditions = {{ state = "idle_warm" }}\n'
        for k, fall in enumerate(rpm, start=1)
    )
    return causes_answer(job_of_text(read_text(HEAD % sheet + text + more, "job.toml")))


def at(answer: CausesAnswer, cylinder: int) -> float:
    return sum(one.probability for one in answer.causes if one.cylinder == cylinder)


@pytest.mark.parametrize(("others", "likely"), [(35, 0.2), (50, 0.6), (100, 0.9), (190, 0.9)])
def test_a_cylinder_that_hardly_falls_while_the_others_do_is_named_however_far_those_fall(
    others: int, likely: float
) -> None:
    """The nearer they all are to nothing, the less a counter that reads to 10 rpm tells of it."""
    answer = falls([others, others - 2, others + 2, 4, others, others + 1])
    assert answer.causes[0].cylinder == 4
    assert answer.causes[0].cause in AT_FOUR
    assert at(answer, 4) > likely
    assert at(answer, 4) > 20.0 * max(at(answer, other) for other in (1, 2, 3, 5, 6))


@pytest.mark.parametrize("all_", [45, 100, 190])
def test_cylinders_that_all_fall_alike_blame_none_of_them_however_far_they_fall(all_: int) -> None:
    answer = falls([all_, all_ - 3, all_ + 4, all_ + 1, all_ - 4, all_ + 2])
    assert answer.nothing_wrong > 0.2
    assert max(at(answer, k) for k in range(1, 7)) < 0.05
    assert not answer.clashes


def test_a_cylinder_that_is_off_by_causes_not_told_apart_is_named_with_all_of_them_together() -> None:
    (said,) = [one for one in falls([50, 48, 52, 4, 50, 51]).notes if one.startswith("Something is wrong")]
    assert said.startswith("Something is wrong at cylinder 4 (")
    assert not [one for one in falls([50, 48, 52, 49, 50, 51]).notes if one.startswith("Something is wrong")]


def test_nothing_is_said_to_speak_for_a_fault_only_where_nothing_does() -> None:
    uneven, even = falls([150, 150, 100, 150, 150, 150]), falls([98, 102, 99, 101, 100, 97])
    assert "nothing that was read speaks clearly for a fault" not in uneven.all_well
    assert "nothing that was read speaks clearly for a fault" in even.all_well


def test_where_nothing_wrong_is_first_only_for_want_of_a_name_that_is_said() -> None:
    """Two of eight hardly fall, the sound ones by no more than 40: a counter good to 10 names neither."""
    said = "That something is wrong is likelier than not"
    two = falls([40, 41, 5, 40, 39, 40, 4, 41], sheet="vee-eight")
    assert two.nothing_wrong == max([two.nothing_wrong, *(one.probability for one in two.causes)])
    assert [words for words in two.notes if words.startswith(said)]
    even = falls([40, 41, 39, 40, 39, 40, 41, 41], sheet="vee-eight")
    assert not [words for words in even.notes if words.startswith(said)]
