"""Bodies that warm and cool, against their own differential equations and what must hold for any of them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import expm

from evenpour.physics.heat import (
    first_order,
    heated_body,
    soak_temperature,
    time_to_warm,
    two_bodies,
    two_bodies_steady,
)

CAPACITY = st.floats(0.1, 1000.0)
CONDUCTANCE = st.floats(0.01, 10.0)
TEMPERATURE = st.floats(-30.0, 120.0)
TIME = st.floats(0.0, 7200.0)
SCALE = (
    5000.0  # K; the hottest steady state these ranges allow is some 4,100 K, so rounding is a share of that
)


@given(time=TIME, start=TEMPERATURE, body_start=TEMPERATURE, ambient=TEMPERATURE, power=st.floats(0.0, 20.0),
       capacity=CAPACITY, body_capacity=CAPACITY, link=CONDUCTANCE, loss=CONDUCTANCE)  # fmt: skip
def test_two_bodies_follow_the_exponential_of_their_matrix(
    time: float, start: float, body_start: float, ambient: float, power: float,
    capacity: float, body_capacity: float, link: float, loss: float,
) -> None:  # fmt: skip
    rates = np.array(
        [[link / capacity, -link / capacity], [-link / body_capacity, (link + loss) / body_capacity]]
    )
    steady = np.array(two_bodies_steady(ambient, power, link, loss))
    expected = expm(-rates * time) @ (np.array([start, body_start]) - steady) + steady
    warmed = two_bodies(time, start, ambient, power, capacity, body_capacity, link, loss, body_start)
    # scipy squares the matrix up to 20 times, which costs it some six digits of sixteen.
    assert warmed == pytest.approx(expected[0], abs=1e-10 * SCALE)


@pytest.mark.parametrize("nearness", [1e-3, 1e-6, 1e-9, 1e-12, 1e-15])
def test_rates_that_nearly_coincide_lose_no_digits(nearness: float) -> None:
    # A body so heavy that it hardly answers, cooling as fast as the strip does: both rates are 0.01/s, and
    # the strip follows T = Ta + (T0 - Ta) e^(-kt) (1 + kt) in the limit.
    capacity, link = 10.0, 0.1
    body_capacity = capacity / nearness
    loss = 0.01 * body_capacity
    times = np.array([1.0, 100.0, 1000.0])
    warmed = two_bodies(times, 80.0, 20.0, 0.0, capacity, body_capacity, link, loss)
    limit = 20.0 + 60.0 * np.exp(-0.01 * times) * (1.0 + 0.01 * times)
    # The rates stand apart by sqrt(nearness) of themselves; that enters squared, times (kt)² / 6.
    assert warmed == pytest.approx(limit, abs=60.0 * nearness * 20.0 + 1e-12)


def test_bodies_start_where_they_are_and_end_in_the_steady_state() -> None:
    strip, body = two_bodies_steady(15.0, 9.0, 0.3, 0.6)
    assert (strip, body) == (pytest.approx(60.0), pytest.approx(30.0))
    warmed = two_bodies(np.array([0.0, 1e6]), 15.0, 15.0, 9.0, 6.0, 300.0, 0.3, 0.6)
    assert warmed == pytest.approx([15.0, 60.0], abs=1e-9)


def test_a_warm_up_is_a_straight_rise_and_then_a_knee() -> None:
    # A small strip on a heavy body: it rises at P/C at first, and is slower than any one exponential late.
    times = np.array([0.0, 1.0, 2.0])
    rise = np.diff(two_bodies(times, 20.0, 20.0, 10.0, 20.0, 500.0, 0.15, 0.4))
    assert rise == pytest.approx([0.5, 0.5], rel=0.02)
    late = two_bodies(np.array([600.0, 1200.0, 1800.0]), 20.0, 20.0, 10.0, 20.0, 500.0, 0.15, 0.4)
    quick = heated_body(600.0, 20.0, 20.0, 10.0, 20.0, 0.15)
    assert quick - 20.0 == pytest.approx(10.0 / 0.15, rel=0.02)  # one body would have been done by then
    assert np.all(np.diff(late) > 1.0)


def test_arrays_of_any_shapes_that_broadcast_go_through() -> None:
    times = np.linspace(0.0, 300.0, 7)
    powers = np.linspace(0.0, 15.0, 5)[:, None]
    warmed = two_bodies(times, 20.0, 20.0, powers, 8.0, 200.0, 0.2, 0.5)
    assert warmed.shape == (5, 7)
    assert warmed[3, 4] == two_bodies(times[4], 20.0, 20.0, powers[3, 0], 8.0, 200.0, 0.2, 0.5)
    assert np.all(warmed[0] == pytest.approx(20.0))  # no power, no rise


@given(time=TIME, more=st.floats(0.1, 10.0), power=st.floats(0.0, 20.0))
def test_more_power_is_never_colder(time: float, more: float, power: float) -> None:
    cooler, warmer = two_bodies(time, 20.0, 20.0, np.array([power, power + more]), 8.0, 200.0, 0.2, 0.5)
    assert warmer >= cooler


@given(start=TEMPERATURE, end=TEMPERATURE, target=TEMPERATURE, time_constant=st.floats(1.0, 1e4))
def test_the_time_to_warm_is_when_the_body_is_that_warm(
    start: float, end: float, target: float, time_constant: float
) -> None:
    time = float(time_to_warm(target, start, end, time_constant))
    if start >= target:
        assert time == 0.0
    elif end <= target:
        assert time == np.inf
    else:
        # Close to the end a rounding of the temperature is much time, so the temperature is compared.
        assert first_order(time, start, end, time_constant) == pytest.approx(target, abs=1e-11)


def test_a_heater_that_doubles_its_power_doubles_the_rise() -> None:
    once = heated_body(45.0, 10.0, 10.0, 6.0, 8.0, 0.1) - 10.0
    assert heated_body(45.0, 10.0, 10.0, 12.0, 8.0, 0.1) - 10.0 == pytest.approx(2.0 * once)


def test_a_fuel_rail_peaks_some_twenty_to_forty_minutes_after_a_hot_stop() -> None:
    minutes = np.arange(0.0, 600.0)
    for outside in (263.15, 293.15, 308.15):
        rail = soak_temperature(minutes * 60.0, outside)
        peak = int(np.argmax(rail))
        assert 20.0 <= minutes[peak] <= 40.0
        assert rail[0] == pytest.approx(outside + 25.0)
        assert np.all(np.diff(rail[: peak + 1]) > 0.0)
        assert np.all(np.diff(rail[peak:]) < 0.0)
        assert outside < rail[-1] < outside + 5.0


def test_the_soak_solves_its_equation_also_where_rail_and_engine_are_alike() -> None:
    # dT/dt = (bay - T) / rail time, by central differences; equal time constants are the awkward case.
    for engine_time in (900.0, 900.0 * (1.0 + 1e-9), 7200.0, 300.0):
        time, step = np.array([60.0, 900.0, 3600.0]), 0.5
        rail = soak_temperature(time, 290.0, engine_time=engine_time)
        slope = (soak_temperature(time + step, 290.0, engine_time=engine_time)
                 - soak_temperature(time - step, 290.0, engine_time=engine_time)) / (2.0 * step)  # fmt: skip
        bay = 290.0 + 0.8 * (363.15 - 290.0) * np.exp(-time / engine_time)
        # The difference's own error: step²/6 times a third derivative of some 100 K / (900 s)³ at most.
        assert slope == pytest.approx((bay - rail) / 900.0, abs=1e-7)
