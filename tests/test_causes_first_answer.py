"""The first answer after a new reading is near the full one behind it, and not given where it cannot be."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from evenpour.causes.explanation import Explanation, explain
from evenpour.causes.first_answer import first_answer
from evenpour.causes.observed import Observation
from evenpour.causes.problem import Hypothesis
from evenpour.causes.suspects import Suspect, hypotheses, suspects
from evenpour.job.engine_model import causes_of, kind_for
from simulated_cars import HOME, questions, read

KIND = kind_for("flat-six")
LISTED = suspects(KIND, causes_of(KIND))
READ = ("system_pressure", "control_pressure_cold", "idle_speed", "exhaust_co", "control_pressure_warm")
ALIKE = 0.10  # total variation that a first answer may be off by


@cache
def guesses() -> tuple[Hypothesis, ...]:
    def weight(one: Suspect) -> float:
        assert one.cause is not None
        return one.cause.weight / (KIND.design.cylinders if one.cause.per_cylinder else 1)

    return hypotheses(LISTED, 0.25, weight)


@cache
def readings(seed: int = 4) -> tuple[Observation, ...]:
    fault = next(h for h, one in enumerate(LISTED) if one.id == "control_warm_low")
    return read(KIND, LISTED, fault, 0.5, questions(KIND, READ), np.random.default_rng(seed))


@cache
def told(count: int, seed: int = 4) -> Explanation:
    return explain(KIND, LISTED, guesses(), readings(seed)[:count], HOME)


def apart(p: np.ndarray, q: np.ndarray) -> float:
    return float(0.5 * np.abs(p - q).sum())


@pytest.mark.parametrize("new", [1, 2])
def test_the_first_answer_is_near_the_full_one(new: int) -> None:
    for seed in (4, 5, 6):
        count = len(readings(seed))
        before, whole = told(count - new, seed), told(count, seed)
        first = first_answer(before, guesses(), readings(seed))
        assert first is not None
        assert apart(before.probability, whole.probability) > 0.2  # the new readings do decide something
        assert apart(np.exp(first), whole.probability) < ALIKE


def test_a_reading_taken_again_needs_no_new_column() -> None:
    count = len(readings())
    again = replace(readings()[-1], value=1.005 * (readings()[-1].value or 0.0), reading=99)
    first = first_answer(told(count), guesses(), (*readings(), again))
    whole = explain(KIND, LISTED, guesses(), (*readings(), again), HOME)
    assert first is not None
    assert apart(np.exp(first), whole.probability) < ALIKE


def test_a_reading_that_contradicts_one_before_is_not_carried_on() -> None:
    again = replace(readings()[0], value=0.6 * (readings()[0].value or 0.0), reading=99)
    assert first_answer(told(len(readings())), guesses(), (*readings(), again)) is None


def test_a_reading_put_right_by_little_is_carried_on() -> None:
    count = len(readings())
    old = readings()[0]
    changed = (replace(old, value=1.003 * (old.value or 0.0)), *readings()[1:])
    first = first_answer(told(count), guesses(), changed)
    whole = explain(KIND, LISTED, guesses(), changed, HOME)
    assert first is not None
    assert apart(np.exp(first), whole.probability) < ALIKE


def test_without_anything_new_the_answer_stays() -> None:
    first = first_answer(told(len(readings())), guesses(), readings())
    assert first is not None
    assert apart(np.exp(first), told(len(readings())).probability) < 0.01


def test_a_reading_that_is_quite_another_or_withdrawn_is_not_carried_on() -> None:
    before = told(len(readings()))
    changed = (*readings()[:-1], replace(readings()[-1], value=2e5))
    assert first_answer(before, guesses(), changed) is None
    assert first_answer(before, guesses(), readings()[:-1]) is None
    assert first_answer(before, guesses()[:-1], readings()) is None
