"""Lost, tipped, empty and mistyped amounts; times; openings without a limit."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest

from evenness_world import LIMITS, Car, Fault, p_off
from evenpour.errors import FieldProblem, OutOfRange
from evenpour.measure.catches import Run
from evenpour.measure.evenness import Evenness, evenness
from evenpour.measure.suspects import off_by_a_point


def bare(count: int = 2, faults: tuple[Fault, ...] = (), cylinders: int = 6, opening: str = "idle") -> Car:
    car = Car(np.random.default_rng(5), cylinders, faults)
    for _ in range(count):
        car.catch("lines", opening)
    return car


def changed(car: Car, run: int, position: int, amount: float | None, typed: str | None = None) -> Evenness:
    old = car.runs[run]
    amounts = tuple(amount if k == position else a for k, a in enumerate(old.amounts))
    texts = None if typed is None else tuple(typed if k == position else "20" for k in range(old.size))
    u = tuple(0.7e-6 for _ in amounts)
    runs = list(car.runs)
    runs[run] = dataclasses.replace(old, amounts=amounts, typed=texts, u=u)
    return evenness(runs, car.parts, LIMITS)


def test_a_tipped_container_is_named_and_no_part_is_blamed_for_it() -> None:
    car = bare(3)
    answer = changed(car, 1, 3, (car.runs[1].amounts[3] or 0.0) * 0.6)
    assert [(suspect.run, suspect.position) for suspect in answer.suspect_amounts] == [(1, 3)]
    assert "tipped" in answer.suspect_amounts[0].why
    assert answer.suspect_amounts[0].offer is None
    assert max(part.p_off or 0.0 for part in answer.parts) < 0.3


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (10.0, "ten times too much"),
        (0.1, "a tenth"),
        (29.5735, "millilitres written as US fluid ounces"),
        (1.0 / 29.5735, "US fluid ounces written as millilitres"),
    ],
)
def test_a_slip_of_the_pen_is_named_with_what_may_have_been_meant(factor: float, words: str) -> None:
    car = bare(3)
    meant = car.runs[1].amounts[3] or 0.0
    answer = changed(car, 1, 3, meant * factor)
    (suspect,) = answer.suspect_amounts
    assert words in suspect.why
    assert suspect.offer == pytest.approx(meant)
    assert (suspect.run, suspect.position) == (1, 3)


def test_a_tenth_written_once_blocks_nothing() -> None:
    car = bare(1)
    answer = changed(car, 0, 3, (car.runs[0].amounts[3] or 0.0) * 0.1)
    assert answer.dry == ()
    assert max(part.p_off or 0.0 for part in answer.parts) < 0.5


def test_exchanged_digits_are_offered_from_the_figure_as_typed() -> None:
    answer = changed(bare(3), 1, 3, 12e-6, typed="12")
    (suspect,) = answer.suspect_amounts
    assert "21 meant" in suspect.why
    assert suspect.offer == pytest.approx(21e-6)


def test_a_suspect_amount_with_no_second_one_asks_for_the_same_catch_again() -> None:
    car = bare(1)
    answer = changed(car, 0, 3, (car.runs[0].amounts[3] or 0.0) * 10.0)
    assert len(answer.suspect_amounts) == 1
    asked = answer.next_catch
    assert asked is not None
    assert (asked.through, asked.opening, asked.swaps) == ("lines", "idle", ())
    assert "port 4 of catch 1" in asked.why


def test_a_lost_amount_leaves_the_other_runs_to_speak_for_its_path() -> None:
    answer = changed(bare(3, (("port", 4, "moderate", -0.35),)), 1, 3, None)
    assert answer.suspect_amounts == ()
    assert p_off(answer, "port", 4) + p_off(answer, "line", 4) > 0.9


def test_a_path_dry_in_every_catch_is_a_finding_shared_by_its_parts() -> None:
    car = bare(2)
    for index in range(2):
        amounts = tuple(0.0 if k == 2 else a for k, a in enumerate(car.runs[index].amounts))
        car.runs[index] = dataclasses.replace(car.runs[index], amounts=amounts)
    answer = car.answer()
    assert {(dry.run, dry.position) for dry in answer.dry} == {(0, 2), (1, 2)}
    assert p_off(answer, "port", 3) + p_off(answer, "line", 3) == pytest.approx(1.0, abs=0.05)
    assert (("port", 3), ("line", 3)) in answer.undivided
    assert answer.even_by_run["lines:idle"] < 0.01
    assert answer.next_catch is not None
    assert any(3 in (a, b) for _, a, b in answer.next_catch.swaps)


def test_a_swap_divides_a_dry_path() -> None:
    car = bare(1)
    car.catch("lines", "idle", [("line", 3, 6)])
    for index, position in ((0, 2), (1, 5)):  # it moved along with line 3
        amounts = tuple(0.0 if k == position else a for k, a in enumerate(car.runs[index].amounts))
        car.runs[index] = dataclasses.replace(car.runs[index], amounts=amounts)
    answer = car.answer()
    assert p_off(answer, "line", 3) > 0.95
    assert max(p_off(answer, "port", 3), p_off(answer, "port", 6)) < 0.1


def test_a_container_empty_once_while_its_path_poured_before_is_suspect_and_not_blocked() -> None:
    answer = changed(bare(3), 1, 3, 0.0)
    (suspect,) = answer.suspect_amounts
    assert "empty" in suspect.why
    assert p_off(answer, "port", 4) < 0.1


def test_a_catch_in_which_nothing_came_says_nothing() -> None:
    car = bare(1)
    car.runs.append(dataclasses.replace(car.runs[0], amounts=(0.0,) * 6))
    answer = car.answer()
    assert answer.dry == ()
    assert any("nothing anywhere" in note for note in answer.notes)


def test_a_catch_at_rest_is_for_dryness_and_not_counted() -> None:
    car = bare(1)
    car.runs.append(dataclasses.replace(car.runs[0], opening="rest"))
    answer = car.answer()
    assert list(answer.spread_by_run) == ["lines:idle"]
    assert any("at rest" in note for note in answer.notes)


def test_unequal_times_are_taken_out() -> None:
    car = bare(2)
    before = car.answer()
    stretched = (60.0, 45.0, 60.0, 90.0, 60.0, 30.0)
    for index, run in enumerate(car.runs):
        amounts = tuple(a * t / 60.0 for a, t in zip(run.amounts, stretched, strict=True) if a is not None)
        u = tuple(u * t / 60.0 for u, t in zip(run.u, stretched, strict=True))
        car.runs[index] = dataclasses.replace(run, amounts=amounts, u=u, durations=stretched)
    after = car.answer()
    for old, new in zip(before.parts, after.parts, strict=True):
        assert new.p_off == pytest.approx(old.p_off, abs=1e-9)


def test_a_doubtful_clock_matters_only_where_each_container_had_its_own() -> None:
    car = bare(2, (("port", 4, "moderate", -0.2),))

    def with_clock(u: float, each: bool) -> float:
        runs = [dataclasses.replace(run, u_duration=u, timed_each=each) for run in car.runs]
        answer = evenness(runs, car.parts, LIMITS)
        return p_off(answer, "port", 4) + p_off(answer, "line", 4)

    assert with_clock(6.0, each=False) == pytest.approx(with_clock(0.1, each=False), abs=1e-12)
    assert with_clock(6.0, each=True) < with_clock(0.1, each=True) - 0.1


def test_an_opening_without_a_limit_is_reported_and_not_judged() -> None:
    car = bare(2)
    car.runs[1] = dataclasses.replace(car.runs[1], opening="12 mm")
    answer = evenness(car.runs, car.parts, {**LIMITS, "12 mm": None})
    assert "lines:12 mm" in answer.spread_by_run
    assert "lines:12 mm" not in answer.even_by_run
    assert any("12 mm" in note for note in answer.notes)
    blind = evenness(car.runs, car.parts, {})
    assert blind.even is None
    assert blind.spread is not None
    assert {part.p_off for part in blind.parts} == {None}


def test_a_bigger_reading_error_makes_less_sure() -> None:
    car = bare(2, (("port", 4, "moderate", -0.3),))
    vague = [dataclasses.replace(run, u=tuple(4.0 * u for u in run.u)) for run in car.runs]
    sure, unsure = car.answer(), evenness(vague, car.parts, LIMITS)
    assert p_off(unsure, "port", 4) < p_off(sure, "port", 4)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"through": "hoses"}, "no way of catching"),
        ({"u": (1e-6,)}, "stand beside 6 amounts"),
        ({"lines": (0, 0, 2, 3, 4, 5)}, "in two places"),
        ({"lines": (0, 1, 2, 3, 4, 77)}, "no known line"),
        ({"durations": (0.0,) * 6}, "above zero"),
        ({"amounts": (float("nan"),) * 6}, "is no amount"),
        ({"amounts": (-1e-6,) * 6}, "is no amount"),
    ],
)
def test_a_run_that_cannot_be_a_catch_is_refused(change: dict[str, object], words: str) -> None:
    car = bare(1)
    broken: Run = dataclasses.replace(car.runs[0], **change)  # type: ignore[arg-type]
    with pytest.raises((FieldProblem, OutOfRange), match=words):
        evenness([broken], car.parts, LIMITS)


@pytest.mark.parametrize(
    ("amounts", "found"),
    [
        ([80.0, 80.5, 79.5, 8.0, 80.5, 79.5], (3, 10.0)),
        ([80.0, 80.5, 79.5, 660.0, 80.5, 79.5], (3, 0.1)),
        ([80.0, None, 79.5, 8.0], (3, 10.0)),
        ([80.0, 80.5, 79.5, 40.0, 80.5, 79.5], None),  # short, by no point
        ([80.0, 8.0, 79.5, 8.0, 80.5, 79.5], None),  # two of them: no slip of one figure
        ([80.0, 30.0, 12.0, 8.0], None),  # nothing says what is usual
        ([80.0, 8.0], None),
        ([0.0, 0.0, 0.0, 0.0], None),
    ],
)
def test_an_amount_that_stands_a_point_apart_from_its_neighbours_is_found(
    amounts: list[float | None], found: tuple[int, float] | None
) -> None:
    told = off_by_a_point(amounts)
    assert (None if told is None else told[:2]) == found


def test_a_slip_of_the_point_on_a_short_path_is_offered_beside_a_tipped_container() -> None:
    car = bare(3, opening="full")
    old = car.runs[1]
    meant = old.amounts[3] or 0.0
    amounts = tuple(0.121 * meant if k == 3 else amount for k, amount in enumerate(old.amounts))
    car.runs[1] = dataclasses.replace(old, amounts=amounts, u=(0.1e-6,) * old.size)
    (suspect,) = evenness(car.runs, car.parts, LIMITS).suspect_amounts
    assert re.match(r"8\d % less than the other catches lead to expect: tipped", suspect.why)
    assert suspect.why.endswith("or typed wrong by a point?")
    assert suspect.offer == pytest.approx(1.21 * meant)
