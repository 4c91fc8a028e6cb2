"""Information, repairs and priors: small arithmetic that must be exactly right."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.causes.information import entropy, of_number, of_outcomes, of_several
from evenpour.causes.repairs import Repair, in_order
from evenpour.errors import OutOfRange
from repairing import expected_cost

WEIGHT = np.array([0.4, 0.3, 0.2, 0.1])
GROUP = np.array([0, 1, 1, 2])


def test_what_tells_everything_is_worth_the_whole_doubt() -> None:
    prior = np.bincount(GROUP, WEIGHT)
    assert of_outcomes(WEIGHT, GROUP, np.eye(4)) == pytest.approx(entropy(prior))
    far = of_number(WEIGHT, GROUP, np.array([0.0, 10.0, 20.0, 30.0]), np.full(4, 0.1))
    assert far == pytest.approx(entropy(prior), abs=1e-3)


def test_what_tells_only_cases_of_one_remedy_apart_is_worth_nothing() -> None:
    chance = np.array([[0.5, 0.5], [1.0, 0.0], [0.0, 1.0], [0.5, 0.5]])
    even = np.array([0.4, 0.25, 0.25, 0.1])
    assert of_outcomes(even, GROUP, chance) == pytest.approx(0.0, abs=1e-12)
    assert of_number(WEIGHT, GROUP, np.zeros(4), np.ones(4)) == pytest.approx(0.0, abs=1e-9)


def test_a_number_is_worth_what_fine_quadrature_says() -> None:
    mean, sd = np.array([0.0, 0.8, 1.5, -1.0]), np.array([0.5, 0.4, 1.2, 0.7])
    x = np.linspace(-9.0, 11.0, 40001)
    density = np.exp(-0.5 * ((x - mean[:, None]) / sd[:, None]) ** 2) / (
        sd[:, None] * math.sqrt(2.0 * math.pi)
    )
    by_group = np.array([(WEIGHT * (g == GROUP)) @ density for g in range(3)])
    prior, whole = np.bincount(GROUP, WEIGHT)[:, None], by_group.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        inner = np.nan_to_num(by_group * np.log2(by_group / (prior * whole)))
    exact = np.trapezoid(inner.sum(axis=0), x)
    assert of_number(WEIGHT, GROUP, mean, sd) == pytest.approx(exact, abs=2e-3)


def test_several_numbers_by_draws_are_worth_what_one_is_by_quadrature() -> None:
    mean, sd = np.array([0.0, 0.8, 1.5, -1.0]), np.array([0.5, 0.4, 1.2, 0.7])
    one = of_number(WEIGHT, GROUP, mean, sd)
    several = of_several(WEIGHT, GROUP, mean[:, None], sd[:, None, None] ** 2, draws=4000)
    assert several == pytest.approx(one, abs=0.03)  # spread of the information of 4,000 outcomes
    # a second number that is pure noise adds nothing
    cov = np.zeros((4, 2, 2))
    cov[:, 0, 0], cov[:, 1, 1] = sd**2, 1.0
    both = of_several(WEIGHT, GROUP, np.column_stack([mean, np.zeros(4)]), cov, draws=4000)
    assert both == pytest.approx(one, abs=0.03)


def test_where_one_case_stands_at_a_jump_several_numbers_still_tell_what_they_tell() -> None:
    """All that is read jumps together there: beside a spread like that the noise is lost in rounding."""
    mean, noise = np.zeros((4, 3)), np.tile(np.eye(3), (4, 1, 1))
    mean[1] = (0.0, 3.0, 0.0)
    wide, without_bounds = (noise.copy() for _ in range(2))
    wide[3] += 1e9 * np.ones((3, 3))
    without_bounds[3] += 1.67420559e17 * np.ones((3, 3))
    foreseen = of_several(WEIGHT, GROUP, mean, wide)
    assert of_several(WEIGHT, GROUP, mean, without_bounds) == pytest.approx(foreseen, abs=0.01)


def test_the_same_question_has_the_same_answer_every_time() -> None:
    mean, cov = np.array([[0.0, 1.0], [1.0, 0.0], [2.0, 2.0], [0.0, 0.0]]), np.tile(np.eye(2), (4, 1, 1))
    assert of_several(WEIGHT, GROUP, mean, cov) == of_several(WEIGHT, GROUP, mean, cov)


COSTS = st.lists(st.tuples(st.floats(0.01, 1.0), st.floats(0.5, 100.0)), min_size=1, max_size=5)


@given(COSTS)
def test_no_order_of_repairs_is_cheaper_than_probability_over_cost(found: list[tuple[float, float]]) -> None:
    total = sum(p for p, _ in found)
    probability = {str(i): p / total for i, (p, _) in enumerate(found)}
    cost = {str(i): c for i, (_, c) in enumerate(found)}
    best = expected_cost(in_order(probability, cost))
    every = [
        expected_cost([Repair(name, probability[name], cost[name]) for name in order])
        for order in itertools.permutations(cost)
    ]
    assert best <= min(every) * (1.0 + 1e-12)


def test_a_remedy_without_a_cost_is_no_repair() -> None:
    assert [one.remedy for one in in_order({"none": 0.6, "seal": 0.4}, {"seal": 10.0})] == ["seal"]
    with pytest.raises(OutOfRange, match="cost of seal"):
        in_order({"seal": 0.4}, {"seal": 0.0})
