"""Information, repairs and priors: small arithmetic that must be exactly right."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.causes import priors
from evenpour.causes.information import entropy, of_number, of_outcomes, of_several
from evenpour.causes.repairs import (
    Repair,
    expected_cost,
    expected_costs,
    in_order,
    saved_by_outcomes,
    worth_repairing,
)
from evenpour.errors import OutOfRange, UnknownName

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
    array = expected_costs(np.array(list(probability.values())), np.array(list(cost.values())))
    assert float(array) == pytest.approx(best)


def test_a_remedy_without_a_cost_is_no_repair() -> None:
    assert [one.remedy for one in in_order({"none": 0.6, "seal": 0.4}, {"seal": 10.0})] == ["seal"]
    with pytest.raises(OutOfRange, match="cost of seal"):
        in_order({"seal": 0.4}, {"seal": 0.0})


def test_a_check_saves_what_it_spares_and_one_that_tells_nothing_saves_nothing() -> None:
    weight, remedy, cost = np.array([0.5, 0.5]), np.eye(2), np.array([60.0, 60.0])
    # blind: the first is in vain half the time
    assert saved_by_outcomes(weight, remedy, np.eye(2), cost) == pytest.approx(30.0)
    assert saved_by_outcomes(weight, remedy, np.full((2, 2), 0.5), cost) == pytest.approx(0.0)
    repairs = in_order({"a": 0.5, "b": 0.5}, {"a": 60.0, "b": 60.0})
    assert not worth_repairing(repairs, saved=30.0, minutes=10.0)
    assert worth_repairing(repairs, saved=30.0, minutes=45.0)
    assert not worth_repairing([], saved=0.0, minutes=45.0)


SHIPPED = {"leak": 11.0, "screw": 5.0, "pump": 4.0}


def test_shipped_weights_stand_until_a_job_confirms_a_cause() -> None:
    assert priors.learned(SHIPPED, {}) == pytest.approx({"leak": 0.55, "screw": 0.25, "pump": 0.2})
    after = priors.learned(SHIPPED, {"pump": 10}, strength=40.0)
    assert after["pump"] == pytest.approx((40.0 * 0.2 + 10.0) / 50.0)
    assert sum(after.values()) == pytest.approx(1.0)


@given(st.dictionaries(st.sampled_from(sorted(SHIPPED)), st.integers(0, 500)))
def test_what_is_confirmed_more_often_becomes_likelier(counts: dict[str, int]) -> None:
    before = priors.learned(SHIPPED, counts)
    now = priors.learned(SHIPPED, priors.confirmed(counts, ["pump"], SHIPPED))
    assert now["pump"] > before["pump"]
    assert all(now[cause] < before[cause] for cause in ("leak", "screw"))
    assert sum(now.values()) == pytest.approx(1.0)


def test_counts_of_two_shops_add_and_say_what_they_moved() -> None:
    counts = priors.merged({"pump": 2}, {"pump": 1, "leak": 4})
    assert counts == {"pump": 3, "leak": 4}
    told = priors.moved(SHIPPED, counts)
    assert [cause for cause, _, _ in told] == ["pump", "leak"]  # from 0.200 to 0.234, and from 0.550 to 0.553
    assert told[0][1:] == pytest.approx((0.2, 11.0 / 47.0))


def test_a_cause_at_two_cylinders_of_one_car_counts_once() -> None:
    assert priors.confirmed({}, ["leak", "leak", "screw"], SHIPPED) == {"leak": 1, "screw": 1}


def test_a_cause_that_is_none_is_refused_with_the_nearest_ones() -> None:
    with pytest.raises(UnknownName, match="pump"):
        priors.confirmed({}, ["pmp"], SHIPPED)
    with pytest.raises(OutOfRange, match="count of pump"):
        priors.learned(SHIPPED, {"pump": -1})
    with pytest.raises(OutOfRange, match="strength"):
        priors.learned(SHIPPED, {}, strength=float("nan"))
