"""Flow through openings: scaling, limits, continuity, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import OutOfRange
from evenpour.physics.orifice import (
    CRITICAL_RATIO,
    SLIT_CONTRACTION,
    SLIT_CREEP,
    choked_flow,
    gas_flow,
    liquid_flow,
    rated_air_flow,
    slit_discharge,
)

reynolds = st.floats(1e-6, 1e6)
ratios = st.floats(0.01, 1.0)


@given(drop=st.floats(1.0, 200e3))
def test_four_times_the_drop_pours_twice_as_much(drop: float) -> None:
    once = liquid_flow(0.1e-6, drop, 740.0, 0.6)
    assert liquid_flow(0.1e-6, 4.0 * drop, 740.0, 0.6) == pytest.approx(2.0 * once, rel=1e-12)


@given(height=st.floats(1e-5, 5e-3), times=st.floats(0.1, 10.0))
def test_a_slit_pours_in_proportion_to_its_height(height: float, times: float) -> None:
    once = liquid_flow(0.2e-3 * height, 10e3, 740.0, 0.6)
    assert liquid_flow(0.2e-3 * height * times, 10e3, 740.0, 0.6) == pytest.approx(times * once, rel=1e-12)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"area": -1e-9}, "area"),
        ({"pressure_drop": -1.0}, "swapped"),
        ({"pressure_drop": math.nan}, "pressure_drop"),
        ({"density": 0.745}, "Water is near 1000"),
        ({"discharge_coefficient": 1.2}, "discharge_coefficient"),
        ({"pressure_drop": [1e5, math.inf]}, "inf"),
    ],
)
def test_what_has_no_meaning_is_refused_by_name(changed: dict[str, float], words: str) -> None:
    healthy = {"area": 1e-7, "pressure_drop": 1e4, "density": 740.0, "discharge_coefficient": 0.6}
    with pytest.raises(OutOfRange, match=words):
        liquid_flow(**(healthy | changed))


def test_a_scalar_gives_a_float_and_an_array_its_shape() -> None:
    assert type(liquid_flow(1e-7, 1e4, 740.0, 0.6)) is float
    assert liquid_flow(np.full((3, 1), 1e-7), np.full(4, 1e4), 740.0, 0.6).shape == (3, 4)


@given(one=reynolds, other=reynolds)
def test_the_discharge_of_a_slit_never_falls_with_speed(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert 0.0 < slit_discharge(low) <= slit_discharge(high) < SLIT_CONTRACTION


def test_the_discharge_of_a_slit_tends_to_both_known_ends() -> None:
    assert float(slit_discharge(1e-3)) == pytest.approx(SLIT_CREEP * 1e-3, rel=1e-3)
    assert float(slit_discharge(1e9)) == pytest.approx(SLIT_CONTRACTION, rel=1e-7)
    assert float(slit_discharge(0.0)) == pytest.approx(0.0, abs=1e-12)


@given(re=st.floats(1e-3, 1e5))
def test_the_discharge_of_a_slit_has_no_kink(re: float) -> None:
    # In logarithms the slope lies between those of the two ends, 1 and 0, and hardly moves in a hundredth.
    def slope(at: float) -> float:
        return math.log(slit_discharge(at * 1.001) / slit_discharge(at)) / math.log(1.001)

    assert -1e-9 <= slope(re) <= 1.0 + 1e-9
    assert abs(slope(re * 1.01) - slope(re)) < 0.01


@given(low=ratios, high=ratios)
def test_more_suction_never_brings_less_air(low: float, high: float) -> None:
    low, high = sorted((low, high))
    assert gas_flow(1e-6, 1e5, low * 1e5, 300.0) >= gas_flow(1e-6, 1e5, high * 1e5, 300.0) >= 0.0


@given(ratio=ratios, upstream=st.floats(5e4, 1e6), kelvin=st.floats(230.0, 400.0))
def test_no_flow_exceeds_the_choked_one_and_below_the_critical_ratio_all_are_equal(
    ratio: float, upstream: float, kelvin: float
) -> None:
    flow = float(gas_flow(1e-6, upstream, ratio * upstream, kelvin))
    most = float(choked_flow(1e-6, upstream, kelvin))
    assert flow <= most * (1.0 + 1e-12)
    if ratio <= CRITICAL_RATIO:
        assert flow == pytest.approx(most, rel=1e-12)


@pytest.mark.parametrize("downstream", [1e5, 1.1e5, 3e5])
def test_without_a_drop_no_air_flows(downstream: float) -> None:
    assert gas_flow(1e-6, 1e5, downstream, 300.0) == 0.0


def test_air_flow_is_continuous_where_choking_begins() -> None:
    at = CRITICAL_RATIO * 1e5
    beside = gas_flow(1e-6, 1e5, at * np.array([1.0 - 1e-6, 1.0 + 1e-6]), 300.0)
    # At its top the flow is flat: a millionth of pressure is worth a millionth squared.
    assert beside[1] == pytest.approx(beside[0], rel=1e-11)


@given(drop=st.floats(1.0, 100.0))
def test_for_a_small_drop_air_flows_as_a_liquid_would(drop: float) -> None:
    # Within a share of the pressure of 1e-3, which is what a gas's expansion costs.
    as_liquid = 1e-6 * math.sqrt(2.0 * drop * 1e5 / (287.058 * 300.0))
    assert float(gas_flow(1e-6, 1e5, 1e5 - drop, 300.0)) == pytest.approx(as_liquid, rel=1e-3)


@given(ratio=st.floats(0.0, 1.0), critical=st.floats(0.0, 0.9))
def test_a_rated_valve_passes_nothing_without_a_drop_and_never_more_than_its_rating(
    ratio: float, critical: float
) -> None:
    flow = rated_air_flow(1e-8, critical, 5e5, ratio * 5e5, 293.15)
    assert 0.0 <= flow <= 1e-8 * 5e5 * 1.185 * (1.0 + 1e-12)
    assert rated_air_flow(1e-8, critical, 5e5, 5e5, 293.15) == pytest.approx(0.0, abs=1e-10)


def test_a_rated_valve_refuses_pressures_the_wrong_way_round() -> None:
    with pytest.raises(OutOfRange, match="downstream_abs/upstream_abs"):
        rated_air_flow(1e-8, 0.3, 1e5, 2e5, 293.15)
