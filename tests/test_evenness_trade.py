"""What an old hand would say of a set of catches. Common practice, no source."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenness_world import LIMITS, Car, Fault, group_sum, p_off
from evenpour.measure.evenness import Part, Run, evenness

STARVED = math.log(0.84)  # twice the tolerance of 8 %


def caught(faults: list[Fault], *catches: tuple[str, str], cylinders: int = 6, seed: int = 1) -> Car:
    car = Car(np.random.default_rng(seed), cylinders, faults)
    for through, opening in catches:
        car.catch(through, opening)
    return car


def test_uneven_bare_lines_point_to_the_port_or_the_line_and_never_to_an_injector() -> None:
    answer = caught([("port", 3, "moderate", STARVED)], ("lines", "full"), ("lines", "full")).answer()
    assert group_sum(answer, "port", 3) > 0.9
    assert (("port", 3), ("line", 3)) in answer.undivided
    assert max(part.p_off or 0.0 for part in answer.parts if part.kind == "injector") < 0.1


def test_even_bare_and_uneven_through_injectors_points_to_injector_or_line_and_asks_for_a_swap() -> None:
    catches = (("lines", "idle"), ("lines", "full"), ("injectors", "full"), ("injectors", "full"))
    answer = caught([("injector", 4, "moderate", STARVED)], *catches).answer()
    assert (("line", 4), ("injector", 4)) in answer.undivided
    assert group_sum(answer, "injector", 4) > 0.9
    assert p_off(answer, "port", 4) < 0.05
    asked = answer.next_catch
    assert asked is not None
    assert asked.through == "injectors"
    assert any(4 in (a, b) for _, a, b in asked.swaps)
    assert "line 4 and injector 4" in asked.why


@pytest.mark.parametrize(
    "fault", [("injector", 4, "moderate"), ("line", 4, "moderate"), ("port", 4, "moderate")]
)
@pytest.mark.parametrize("cylinders", [4, 5, 6, 8])
def test_after_the_catch_asked_for_the_right_part_is_named(
    fault: tuple[str, int, str], cylinders: int
) -> None:
    car = Car(np.random.default_rng(2), cylinders, [(*fault, STARVED)])
    answer, more = car.follow(car.usual())
    assert more >= 1
    assert p_off(answer, *fault[:2]) > 0.9
    assert answer.undivided == ()
    found = next(part for part in answer.parts if (part.kind, part.number) == fault[:2])
    truth = math.expm1(car.effect(fault[0], fault[1] - 1, "injectors", "full"))
    assert abs(found.deviation - truth) < 3.0 * found.u


def test_lines_that_reach_no_other_port_are_never_to_be_exchanged() -> None:
    car = Car(np.random.default_rng(2), 6, [("port", 4, "moderate", STARVED)], lines_swappable=False)
    answer = car.usual()
    asked = answer.next_catch
    assert asked is not None
    assert all(kind != "line" for kind, _, _ in asked.swaps)
    assert asked.spare == 4
    assert "spare line" in asked.why
    answer, _ = car.follow(answer)
    assert p_off(answer, "port", 4) > 0.9


def test_an_even_catch_at_idle_clears_no_line_and_no_injector() -> None:
    car = caught([("injector", 2, "moderate", STARVED)], ("injectors", "idle"), ("injectors", "idle"))
    answer = car.answer()
    assert answer.even_by_run["injectors:idle"] > 0.95
    untouched = evenness([], car.parts, LIMITS)
    assert p_off(answer, "injector", 5) > 0.3 * p_off(untouched, "injector", 5)
    assert answer.next_catch is not None


def test_with_nothing_odd_the_catches_go_on_in_the_plain_order() -> None:
    car = caught([], ("lines", "idle"), ("lines", "idle"))
    asked = []
    while (following := car.answer().next_catch) is not None:
        asked.append((following.through, following.opening))
        car.catch(following.through, following.opening)
    plain = [
        ("lines", "part"),
        ("lines", "full"),
        ("injectors", "idle"),
        ("injectors", "part"),
        ("injectors", "full"),
    ]
    assert list(dict.fromkeys(asked)) == plain  # one of them may be asked for again
    answer = car.answer()
    assert answer.next_catch is None
    assert any("all are even" in note for note in answer.notes)


def test_nothing_caught_yet_asks_for_bare_lines_at_the_smallest_opening() -> None:
    answer = evenness([], caught([]).parts, LIMITS)
    assert answer.next_catch is not None
    assert (answer.next_catch.through, answer.next_catch.opening) == ("lines", "idle")
    assert answer.spread is None


def test_a_named_part_is_to_be_put_right_and_the_catch_made_again() -> None:
    car = Car(np.random.default_rng(2), 6, [("injector", 4, "moderate", STARVED)])
    answer, _ = car.follow(car.usual())
    assert answer.next_catch is not None
    assert answer.next_catch.why.startswith("Put injector 4 right first")
    assert answer.next_catch.swaps == ()


def test_a_replaced_injector_starts_afresh_and_the_old_catches_still_speak_for_the_rest() -> None:
    car = Car(np.random.default_rng(2), 6, [("injector", 4, "moderate", STARVED)])
    car.follow(car.usual())
    fresh = Part("injector", 4, 60)
    parts = [
        Part(p.kind, p.number, p.identity, current=(p.kind, p.number) != ("injector", 4)) for p in car.parts
    ]
    answer = evenness(car.runs, [*parts, fresh], LIMITS)
    assert p_off(answer, "injector", 4) < 0.1
    assert sum(1 for part in answer.parts if (part.kind, part.number) == ("injector", 4)) == 1
    assert p_off(answer, "line", 4) < 0.1
    # What was caught with the old one proves nothing of the new one.
    asked = evenness(car.runs, [*parts, fresh], {"full": 0.08}).next_catch
    assert asked is not None
    assert (asked.through, asked.opening) == ("injectors", "full")
    assert "changed since" in asked.why


def test_six_equal_ports_read_with_noise_are_not_called_uneven_by_the_spread_of_the_amounts() -> None:
    answers = [caught([], ("lines", "idle"), seed=seed).answer() for seed in range(12)]
    seen = np.mean([answer.observed_by_run["lines:idle"] for answer in answers])
    true = np.mean([answer.spread_by_run["lines:idle"].value for answer in answers])
    assert seen > 0.07  # the range of six normals is 2.53 standard deviations
    assert true < 0.06


def test_three_cylinders_carry_a_warning() -> None:
    answer = caught([], ("lines", "idle"), cylinders=3).answer()
    assert any("few cylinders" in note for note in answer.notes)


def test_a_visibility_from_outside_is_used() -> None:
    car = caught([("injector", 4, "moderate", STARVED)], ("lines", "full"), ("injectors", "full"))
    blind = {"port": {"moderate": 1.0}, "line": {"moderate": 0.0}, "injector": {"moderate": 0.0}}
    runs = [
        Run(r.through, r.opening, r.amounts, r.u, r.durations, r.u_duration, r.timed_each, r.ports, r.lines,
            r.injectors, visibility=blind)
        for r in car.runs
    ]  # fmt: skip
    assert p_off(evenness(runs, car.parts, LIMITS), "injector", 4) < 0.1
