"""Healthy cars: they meet their sheet, run in any weather, and stay finite however odd they are."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from evenpour.machine.readout import Query
from evenpour.machine.running import run
from machine_world import (
    HOME,
    PREDICTED,
    SHEETS,
    Held,
    ask,
    drawn_cars,
    kind,
    limits_held,
    middle_car,
    seen,
    shipped_sheet,
)

STATES = ("cranking", "idle_cold", "idle_warm", "fast_idle", "road_steady", "full_load")
MANY = 6000  # so many that chance moves the share by a fifth of a per cent; benchmarks/healthy.py draws more


@cache
def all_held(name: str) -> list[Held]:
    return list(limits_held(seen(kind(name), drawn_cars(kind(name), MANY)), shipped_sheet(name)))


@pytest.mark.parametrize("name", SHEETS)
def test_healthy_cars_meet_all_limits_of_their_sheet_together(name: str) -> None:
    held = all_held(name)
    assert len({one.label.split()[0] for one in held}) >= 55  # checks, each with all its limits
    together = np.all([one.met for one in held], axis=0)
    worst = min(held, key=lambda one: float(one.met.mean()))
    assert together.mean() >= 0.97, (worst.label, worst.met.mean())


@pytest.mark.parametrize("name", SHEETS)
def test_healthy_cars_mostly_stay_well_inside_their_limits(name: str) -> None:
    """Half of all cars use no more than four fifths of the way to any limit."""
    used = np.max([one.used for one in all_held(name)], axis=0)
    assert np.median(used) <= 0.8


@pytest.mark.parametrize("name", SHEETS)
def test_the_middle_car_is_nowhere_near_a_limit(name: str) -> None:
    for one in limits_held(seen(kind(name)), shipped_sheet(name)):
        assert one.met.all(), one.label
        assert one.used[0] <= 0.67, one.label


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("widening", [1.0, 3.0])
def test_healthy_cars_find_their_balance_in_every_state_however_odd_they_are(
    name: str, widening: float
) -> None:
    of = kind(name)
    cars = drawn_cars(of, 300, seed=3, widening=widening)
    screws = seen(of, cars).screws
    for state in STATES:
        found = run(of, cars, screws, replace(HOME, engine=state))
        assert np.all(found.unbalanced <= 1e-4), state
        assert np.all(found.converged), state


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("outside", [253.15, 263.15, 273.15, 283.15, 293.15, 303.15, 313.15])
@pytest.mark.parametrize("altitude", [0.0, 2000.0])
def test_a_healthy_car_starts_and_runs_in_any_weather(name: str, outside: float, altitude: float) -> None:
    cars = seen(kind(name))
    there = replace(HOME, ambient_temperature=outside, altitude=altitude)
    for state in STATES:
        assert cars.running(replace(there, engine=state)).converged.all(), state
    for engine in ("idle_cold", "idle_warm"):
        start = PREDICTED["start_outcome"].reads(cars, Query("start_outcome", replace(there, engine=engine)))
        assert start[0] > 0.5, engine  # runs


@pytest.mark.parametrize("name", SHEETS)
def test_a_cold_engine_idles_faster_and_richer_and_comes_to_its_warm_idle_as_it_warms(name: str) -> None:
    cars = seen(kind(name))
    warm = cars.running(replace(HOME, engine="idle_warm", sensor="off"))
    at = [cars.running(replace(HOME, engine="idle_cold", ran=float(t), sensor="off")) for t in (5, 60, 3000)]
    speeds, mixtures = [one.speed[0] for one in at], [one.whole[0] for one in at]
    assert speeds[0] > 1.15 * warm.speed[0]
    assert speeds[0] > speeds[1]
    assert mixtures[0] < mixtures[1] < mixtures[2]
    assert 0.6 < mixtures[0] < 0.9
    # in the end only the warm bay, which thins the air at the plate, tells the two apart
    assert speeds[2] == pytest.approx(warm.speed[0], rel=0.03)
    assert mixtures[2] == pytest.approx(warm.whole[0], rel=0.03)


@pytest.mark.parametrize("name", SHEETS)
def test_the_screws_of_a_healthy_car_stand_where_its_sheet_says(name: str) -> None:
    of = kind(name)
    screws = seen(of, drawn_cars(of, 500, seed=4)).screws
    back = -screws.screw / of.design.screw_pitch
    assert back.mean() == pytest.approx(of.design.start, abs=0.06)
    assert back.std() < 0.15
    assert np.all(screws.idle_area > 0.5 * of.design.idle_area)


@pytest.mark.parametrize("name", SHEETS)
def test_a_set_up_car_idles_at_the_speed_and_shows_the_mixture_it_was_set_to(name: str) -> None:
    """Cars without a spread of the two screws themselves: the closed form meets the full solve."""
    of = kind(name)
    cars = drawn_cars(of, 200, seed=5)
    cars.values[cars.rows["mixture_screw"]] = 0.0
    cars.values[cars.rows["idle_air"]] = 1.0
    there = seen(of, cars)
    idle = replace(HOME, engine="idle_warm", sensor="off")
    # ports that begin at different heights and cylinders that burn a little apart: up to three of a hundredth
    np.testing.assert_allclose(there.running(idle).speed, of.design.idle_speed, rtol=0.015)
    np.testing.assert_allclose(there.gas(idle).mixture, of.design.mixture[0], rtol=0.005)


def test_what_does_not_spread_is_the_same_in_all_cars() -> None:
    of = kind("flat-six")
    cars, one = drawn_cars(of, 50, widening=3.0), middle_car(of)
    still = np.flatnonzero(of.blueprint.spread == 0.0)
    assert np.all(cars.values[still] == one.values[still])


def test_sound_engines_scatter_at_part_load_by_as_much_as_the_sheet_allows_them() -> None:
    """A band twice as wide, as without an oxygen sensor, holds cars nearly twice as far apart."""
    apart = {}
    for name in ("flat-six", "flat-six-oxygen"):
        asked = ask(kind(name), "exhaust_lambda", state="fast_idle", sensor="off")
        cars = seen(kind(name), drawn_cars(kind(name), 500))
        apart[name] = float(np.std(PREDICTED["exhaust_lambda"].reads(cars, asked)))
    assert 1.3 < apart["flat-six"] / apart["flat-six-oxygen"] < 2.1
    assert 0.010 < apart["flat-six"] < 0.05 / 2.8
