"""Nodes get to where they fit, past wrong slopes and across jumps."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenpour.causes.fitting import fit
from evenpour.causes.laplace import begin, settle
from evenpour.causes.problem import NONE, Array, Columns, Faults, graded, grid_of, ungraded
from evenpour.causes.proposal import proposal
from evenpour.causes.seen import log_likelihood, noise_of
from evenpour.causes.severe import Severe


def numbers(y: Array, sd: Array) -> Columns:
    rows, count = np.arange(len(y)), len(y)
    nowhere, range_ = np.full(count, NONE), np.full(count, 60.0)
    return Columns(rows, rows, rows, y, np.diag(sd**2), (None,) * count, range_, nowhere)


def test_slopes_that_point_the_wrong_way_are_mended_by_what_a_step_meets() -> None:
    def model(faults: Faults, z: Array) -> Array:
        del faults
        return np.asarray((z[:, 1] - 2.0 * z[:, 0])[:, None])

    severe = Severe(model, grid_of([ungraded("nothing", "none", 0.0)]), 2)
    noise = noise_of(numbers(np.array([2.0]), np.array([0.1])))
    one = np.zeros(1, dtype=np.int64)
    borrowed = begin(severe.predict, one, np.zeros((1, severe.size)))
    borrowed.J[0, 0] *= -1.0
    found = settle(noise, severe.predict, one, borrowed, renew=np.inf, most=12)
    energy = 0.5 * np.sum(found.z**2) - log_likelihood(noise, found.f)[0]
    y, variance = 2.0, 1.0 + 4.0 + 0.01
    least = 0.5 * y**2 / variance + math.log(0.1 * math.sqrt(2.0 * math.pi))
    assert energy < least + 1.0  # where the wrong slopes leave it, 200 above


def test_a_node_on_the_wrong_side_of_a_jump_is_handed_over_by_its_causes_best_node() -> None:
    def model(faults: Faults, z: Array) -> Array:
        # only the cause does anything, and past the middle it throws a switch
        a = np.where(faults.which[:, 0] == 1, faults.severity[:, 0] + z[:, 0], 0.0)
        return np.column_stack([10.0 * (a > 0.5), a])

    severe = Severe(
        model, grid_of([ungraded("nothing", "none", 0.0), graded("cause", "mend", 0.0, low=0.0, count=4)]), 1
    )
    noise = noise_of(numbers(np.array([10.0, 1.2]), np.array([1.0, 0.3])))
    fitted = fit(severe, noise)
    assert fitted.grid.high[2] <= 0.5
    s = np.linspace(fitted.grid.low[2], fitted.grid.high[2], 200)
    z = np.linspace(-6.0, 6.0, 4001)
    a = s + z
    log = -0.5 * (10.0 * (a <= 0.5)) ** 2 - 0.5 * ((1.2 - a) / 0.3) ** 2 - 0.5 * z**2
    whole = np.exp(log).mean(axis=0).sum() * (z[1] - z[0])
    exact = math.log(whole) - 1.5 * math.log(2.0 * math.pi) - math.log(0.3)
    assert fitted.modes.log_evidence[2] == pytest.approx(exact, abs=0.5)  # 50 short where it began


def test_a_cause_that_lets_something_be_felt_which_a_healthy_car_hides_is_not_given_up() -> None:
    """With the healthy car's slopes it stays 400 nat behind another that comes near; with its own it fits."""

    def model(faults: Faults, z: Array) -> Array:
        which = faults.which[:, 0]
        return np.asarray(np.where(which == 1, 1.0 + 3.0 * z[:, 0], 3.7 * (which == 2))[:, None])

    causes = [graded(name, "mend", 0.0, low=0.0, count=2) for name in ("uncovers", "comes near")]
    severe = Severe(model, grid_of([ungraded("nothing", "none", 0.0), *causes]), 1)
    fitted = fit(severe, noise_of(numbers(np.array([4.0]), np.array([0.1]))))
    spread = math.hypot(3.0, 0.1)
    exact = -0.5 * (3.0 / spread) ** 2 - math.log(spread * math.sqrt(2.0 * math.pi))
    assert fitted.log_evidence[1] == pytest.approx(exact, abs=0.01)  # the model is a line: Laplace is exact


def test_slopes_taken_across_a_jump_still_give_an_evidence() -> None:
    def model(faults: Faults, z: Array) -> Array:
        del faults
        # a car that cannot run reads as far away as can be, on all that is read of it
        far = 1e6 * (z[:, 0] + 1.1 * z[:, 1] - 0.7 * z[:, 2] > 0.0)
        return np.column_stack([z[:, 1] + far, z[:, 1] - far, far])

    severe = Severe(model, grid_of([ungraded("nothing", "none", 0.0)]), 3)
    noise = noise_of(numbers(np.array([0.5, 0.4, 0.0]), np.array([1e-5, 1e-5, 1e-4])))
    one = np.zeros(1, dtype=np.int64)
    start = begin(severe.predict, one, np.zeros((1, severe.size)))
    found = settle(noise, severe.predict, one, start)
    assert np.isfinite(found.log_evidence).all()
    rough = proposal(noise, severe, one, found, one).weights(np.zeros((4, severe.size + 1)), 2)[0]
    assert np.isfinite(rough).all()
