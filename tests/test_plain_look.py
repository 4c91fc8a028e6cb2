"""The classical second opinion beside the inference."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from evenness_world import Car
from evenpour.errors import FieldProblem
from evenpour.measure.anova import one_way
from evenpour.measure.plain_look import grubbs, grubbs_critical, outlier, repeat_scatter


def test_repeats_give_back_the_scatter_they_were_made_with() -> None:
    car = Car(np.random.default_rng(9), 6)
    for _ in range(40):
        car.catch("lines", "idle")
    found = repeat_scatter(car.runs)
    assert found is not None
    assert found.dof_within == 39 * 5  # a level is spent for every run, and for every position
    assert found.sd_within == pytest.approx(0.035, rel=0.15)  # t with 5 degrees: sd of the sd is about 0.07


def test_catches_in_other_arrangements_are_no_repeats() -> None:
    car = Car(np.random.default_rng(9), 6)
    car.catch("lines", "idle")
    car.catch("lines", "idle", [("line", 1, 2)])
    assert repeat_scatter(car.runs) is None


def test_the_low_one_of_six_sticks_out_and_lost_amounts_do_not_count() -> None:
    car = Car(np.random.default_rng(9), 6, [("port", 2, "moderate", -0.5)])
    car.catch("lines", "full")
    seen = outlier(car.runs[0])
    assert seen is not None
    assert (seen.position, seen.sticks_out) == (1, True)
    few = dataclasses.replace(car.runs[0], amounts=(1e-5, None, None, None, None, 2e-5))
    assert outlier(few) is None


def test_too_few_values_are_refused() -> None:
    with pytest.raises(FieldProblem, match="too few"):
        grubbs([1.0, 2.0])
    with pytest.raises(FieldProblem, match="too few"):
        grubbs_critical(2)
    with pytest.raises(FieldProblem, match="too few"):
        one_way([[1.0], [2.0]])


def test_equal_values_stick_out_nowhere() -> None:
    assert grubbs([2.0, 2.0, 2.0])[1] == 0.0
    assert one_way([[1.0, 1.0], [2.0, 2.0]]).p == 0.0
