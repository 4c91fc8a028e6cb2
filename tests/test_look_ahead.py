"""Which check to do first when the one after it counts too: on small cases whose answer is known."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from evenpour.causes.choice_line import ChoiceLine
from evenpour.causes.information import of_outcomes

sys.path.append(str(Path(__file__).parents[1] / "benchmarks" / "common"))

from look_ahead import Foreseen, Option, gain, greedy, two_steps


def foreseen(weight: list[float], mean: list[list[float]], sd: float) -> Foreseen:
    count, columns = np.shape(mean)
    cov = np.tile(sd**2 * np.eye(columns), (count, 1, 1))
    return Foreseen(np.array(weight), np.arange(count), np.array(mean, dtype=float), cov)


def test_greed_takes_what_tells_most_a_minute() -> None:
    now = foreseen([0.5, 0.5], [[0.0, 0.0], [2.0, 6.0]], 1.0)
    slow, quick = Option(np.array([1]), 60.0), Option(np.array([0]), 5.0)
    assert gain(now, slow) > gain(now, quick)
    assert greedy(now, [slow, quick]) == 1
    assert greedy(now, [slow, Option(np.array([0]), 60.0)]) == 0


def test_two_steps_see_a_pair_of_checks_of_which_neither_tells_anything_alone() -> None:
    # what has to be done is whether the two numbers agree: exclusive or
    corners = [[0.0, 0.0, 0.0], [0.0, 4.0, 0.9], [4.0, 0.0, 0.9], [4.0, 4.0, 0.0]]
    cov = np.tile(np.eye(3), (4, 1, 1))
    now = Foreseen(np.full(4, 0.25), np.array([0, 1, 1, 0]), np.array(corners), cov)
    options = [Option(np.array([column]), 5.0) for column in range(3)]
    assert gain(now, options[0]) == pytest.approx(0.0, abs=1e-6)
    assert greedy(now, options) == 2  # a weak hint is all that greed sees
    assert two_steps(now, options) in (0, 1)


def test_with_one_check_left_both_ways_take_it() -> None:
    now = foreseen([0.7, 0.3], [[0.0], [1.0]], 1.0)
    one = [Option(np.array([0]), 10.0)]
    assert greedy(now, one) == two_steps(now, one) == 0


def test_a_choice_is_worth_what_its_table_says() -> None:
    line = ChoiceLine((0.0,), misread=0.1)
    now = Foreseen(np.array([0.5, 0.5]), np.array([0, 1]), np.array([[-8.0], [8.0]]), np.zeros((2, 1, 1)))
    table = np.array([[0.95, 0.05], [0.05, 0.95]])
    expected = of_outcomes(now.weight, now.group, table)
    assert gain(now, Option(np.array([0]), 5.0, line)) == pytest.approx(expected, abs=1e-9)
