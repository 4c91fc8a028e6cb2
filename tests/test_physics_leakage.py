"""Pressure falling through holes and gaps: what must hold whatever leaks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.physics.leakage import leak_flow, pressure_after, time_to_reach

starts = st.floats(1e4, 6e5)
times = st.floats(0.0, 3600.0)
capacities = st.floats(1e-11, 1e-9)
holes = st.one_of(st.just(0.0), st.floats(1e-18, 1e-12))  # from what nobody could measure to seconds
gaps = st.one_of(st.just(0.0), st.floats(1e-22, 1e-14))


@given(start=starts, one=times, other=times, capacity=capacities, hole=holes, gap=gaps)
def test_waiting_twice_is_waiting_once_for_both(
    start: float, one: float, other: float, capacity: float, hole: float, gap: float
) -> None:
    at_once = pressure_after(start, one + other, capacity, hole, gap)
    in_steps = pressure_after(pressure_after(start, one, capacity, hole, gap), other, capacity, hole, gap)
    # Near empty the root loses digits: hence a floor of a billionth of the first pressure.
    assert in_steps == pytest.approx(at_once, rel=1e-7, abs=1e-9 * start)


@given(start=starts, time=times, capacity=capacities, hole=holes, gap=gaps)
def test_pressure_never_rises_and_never_falls_below_zero(
    start: float, time: float, capacity: float, hole: float, gap: float
) -> None:
    sooner, later = pressure_after(start, np.array([time, time + 1.0]), capacity, hole, gap)
    assert 0.0 <= later <= sooner <= start * (1.0 + 1e-12)


@given(start=starts, time=times, capacity=capacities, hole=holes, gap=gaps)
def test_a_larger_leak_leaves_less(
    start: float, time: float, capacity: float, hole: float, gap: float
) -> None:
    left = pressure_after(start, time, capacity, hole, gap)
    assert pressure_after(start, time, capacity, hole * 1.1 + 1e-18, gap) <= left
    assert pressure_after(start, time, capacity, hole, gap * 1.1 + 1e-22) <= left


@given(start=starts, share=st.floats(0.01, 0.999), capacity=capacities, hole=holes, gap=gaps)
def test_the_time_to_a_pressure_leads_to_that_pressure(
    start: float, share: float, capacity: float, hole: float, gap: float
) -> None:
    time = time_to_reach(start, share * start, capacity, hole, gap)
    if hole == gap == 0.0:
        assert time == np.inf
    else:
        assert pressure_after(start, time, capacity, hole, gap) == pytest.approx(share * start, rel=1e-9)


@given(start=starts, capacity=capacities, hole=st.floats(1e-16, 1e-12))
def test_a_vanishing_gap_leaves_the_law_of_the_hole(start: float, capacity: float, hole: float) -> None:
    empty = time_to_reach(start, 0.0, capacity, hole, 0.0)
    ours = pressure_after(start, 0.5 * empty, capacity, hole, np.array([0.0, 1e-30, 1e-26]))
    assert ours == pytest.approx(np.full(3, 0.25 * start), rel=1e-6)


@given(start=starts, capacity=capacities, hole=holes, gap=gaps)
def test_the_fall_begins_at_the_rate_of_the_leak(
    start: float, capacity: float, hole: float, gap: float
) -> None:
    flow = float(leak_flow(start, hole, gap))
    if flow < 1e-18:
        return  # falls by less than a double can tell
    moment = 1e-5 * capacity * start / flow
    fall = start - float(pressure_after(start, moment, capacity, hole, gap))
    assert fall == pytest.approx(1e-5 * start, rel=1e-4)


def test_a_pressure_that_is_there_already_takes_no_time() -> None:
    assert np.array_equal(time_to_reach(1e5, np.array([1e5, 2e5]), 1e-10, 1e-15, 1e-17), [0.0, 0.0])
    assert np.array_equal(time_to_reach(0.0, 0.0, 1e-10, 0.0, 0.0), 0.0)


def test_a_gap_alone_never_quite_empties_the_store() -> None:
    assert time_to_reach(1e5, 0.0, 1e-10, 0.0, 1e-17) == np.inf
    assert pressure_after(1e5, 1e6, 1e-10, 0.0, 1e-17) > 0.0


def test_below_the_air_outside_nothing_leaks() -> None:
    assert pressure_after(-5e3, 60.0, 1e-10, 1e-15, 1e-17) == 0.0
    assert leak_flow(-5e3, 1e-15, 1e-17) == 0.0


def test_arrays_come_back_in_the_shape_they_broadcast_to() -> None:
    shape = pressure_after(np.full((2, 1), 5e5), np.arange(3.0), 1e-10, 1e-15, 1e-17).shape
    assert shape == (2, 3)
