"""What must hold of wires, heaters and sensors, and what is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import OutOfRange
from evenpour.physics.electric import (
    HEATER_COEFFICIENT,
    copper_resistance,
    heater_power,
    ntc_beta,
    steinhart_hart,
    voltage_drop,
    warmed_resistance,
    wire_resistance,
)


@given(length=st.floats(0.1, 20.0), area=st.floats(1e-7, 1e-4), current=st.floats(0.1, 50.0))
def test_twice_the_length_or_half_the_copper_loses_twice_the_voltage(
    length: float, area: float, current: float
) -> None:
    once = voltage_drop(current, length, area)
    assert voltage_drop(current, 2.0 * length, area) == pytest.approx(2.0 * once)
    assert voltage_drop(current, length, 0.5 * area) == pytest.approx(2.0 * once)
    assert voltage_drop(2.0 * current, length, area) == pytest.approx(2.0 * once)


@given(at_20=st.floats(0.1, 1e4), temperature=st.floats(250.0, 400.0))
def test_copper_rises_with_temperature_and_a_heater_wire_hardly(at_20: float, temperature: float) -> None:
    assert copper_resistance(at_20, temperature + 1.0) > copper_resistance(at_20, temperature)
    assert warmed_resistance(at_20, temperature, HEATER_COEFFICIENT) == pytest.approx(at_20, rel=0.02)


def test_an_open_heater_gives_no_heat_and_one_volt_in_twelve_a_sixth_of_it() -> None:
    power = heater_power(np.array([12.0, 11.0, 12.0]), np.array([24.0, 24.0, np.inf]))
    assert power == pytest.approx([6.0, 6.0 * (11.0 / 12.0) ** 2, 0.0])
    assert 1.0 - power[1] / power[0] == pytest.approx(0.16, abs=0.005)


@given(beta=st.floats(2000.0, 5000.0), temperature=st.floats(250.0, 420.0))
def test_a_sensor_falls_with_temperature_and_meets_its_mark(beta: float, temperature: float) -> None:
    assert ntc_beta(2500.0, beta, temperature + 1.0) < ntc_beta(2500.0, beta, temperature)
    assert ntc_beta(2500.0, beta, 298.15) == pytest.approx(2500.0)


@given(temperature=st.floats(250.0, 400.0))
def test_steinhart_and_hart_without_the_cube_is_the_b_equation(temperature: float) -> None:
    # 1/T = 1/298.15 + ln(R/R25)/B: A = 1/298.15 - ln(R25)/B, B = 1/beta, C = 0.
    beta, at_25 = 3500.0, 2500.0
    a = 1.0 / 298.15 - np.log(at_25) / beta
    assert steinhart_hart(ntc_beta(at_25, beta, temperature), a, 1.0 / beta, 0.0) == pytest.approx(
        temperature
    )


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: copper_resistance(-1.0, 293.15), "at_20"),
        (lambda: copper_resistance(4.0, 20.0), "20 °C is 293.15 K"),
        (lambda: wire_resistance(3.0, 1.5), "1.5 mm² is 1.5e-6 m²"),
        (lambda: voltage_drop(float("nan"), 3.0, 1e-6), "current"),
        (lambda: ntc_beta(10e3, 39.5, 293.15), "beta"),
        (lambda: steinhart_hart(10e3, 2.378405444e-4, 1.009249522e-3, 2.019202697e-7), "in order"),
    ],
)
def test_what_no_wiring_has_is_refused_and_named(call, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange, match=words):
        call()
