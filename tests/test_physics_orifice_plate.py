"""Metering orifice plates: what must hold, and where the standard ends."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import OutOfRange
from evenpour.physics.orifice_plate import CORNER, expansibility, flange, plate_discharge, plate_flow

betas = st.floats(0.1, 0.75)


@given(beta=betas, re=st.floats(5e3, 1e8), pipe=st.floats(0.05, 1.0))
def test_a_plates_coefficient_lies_where_all_of_them_lie(beta: float, re: float, pipe: float) -> None:
    assert 0.57 < plate_discharge(beta, re, pipe, CORNER) < 0.70


@given(drop=st.floats(100.0, 50e3), times=st.floats(1.01, 4.0))
def test_more_drop_means_more_flow_nearly_by_the_root(drop: float, times: float) -> None:
    once, more = (plate_flow(0.1, 0.05, part, 998.2, 1.002e-3) for part in (drop, drop * times))
    assert more > once
    assert more / once == pytest.approx(math.sqrt(times), rel=0.02)  # the coefficient falls a little


@given(beta=betas, ratio=st.floats(0.75, 0.999))
def test_a_gas_expands_in_the_bore_and_a_small_drop_hardly(beta: float, ratio: float) -> None:
    assert expansibility(beta, 2e5, ratio * 2e5, 1.4) < 1.0
    assert expansibility(beta, 2e5, 2e5, 1.4) == 1.0


def test_the_flow_is_the_one_whose_coefficient_it_used() -> None:
    flow = plate_flow(0.1, 0.05, 25e3, 998.2, 1.002e-3, flange(0.1))
    reynolds = 4.0 * flow / (math.pi * 0.1 * 1.002e-3)
    ideal = 0.25 * math.pi * 0.05**2 * math.sqrt(2.0 * 25e3 * 998.2 / (1.0 - 0.5**4))
    assert flow == pytest.approx(plate_discharge(0.5, reynolds, 0.1, flange(0.1)) * ideal, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: plate_discharge(0.05, 1e5, 0.1), "diameter_ratio"),
        (lambda: plate_discharge(0.5, 10.0, 0.1), "reynolds"),
        (lambda: plate_discharge(0.5, 1e5, 0.01), "50 mm"),
        (lambda: plate_flow(0.006, 0.001, 1e4, 745.0, 4.5e-4), "50 mm"),
        (lambda: plate_flow(0.1, 0.05, 1e-3, 998.2, 1.0), "Too slow"),
        (lambda: expansibility(0.5, 1e5, 0.5e5, 1.4), "downstream_abs/upstream_abs"),
        (lambda: expansibility(0.5, math.nan, 1e5, 1.4), "upstream_abs"),
    ],
)
def test_the_standards_ends_are_kept(call, words: str) -> None:
    with pytest.raises(OutOfRange, match=words):
        call()
