"""Air: what must hold at any altitude and humidity, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import OutOfRange
from evenpour.physics.air import (
    dry_air_density,
    humid_air_density,
    saturation_vapour_pressure,
    standard_density,
    standard_pressure,
    standard_temperature,
)
from evenpour.physics.power import is_allowed, power_correction, power_correction_j1349

pressures = st.floats(60e3, 110e3)
kelvins = st.floats(253.0, 333.0)


@given(low=st.floats(-500.0, 10_999.0), step=st.floats(0.1, 1.0))
def test_higher_up_the_air_is_thinner_and_colder(low: float, step: float) -> None:
    for law in (standard_pressure, standard_density, standard_temperature):
        assert law(low + step) < law(low)


@given(altitude=st.floats(-400.0, 10_900.0))
def test_the_air_carries_what_lies_above_it(altitude: float) -> None:
    # dp/dh = -g rho, by a central difference over 2 m whose own error is of the order of 1e-7.
    fall = (standard_pressure(altitude + 1.0) - standard_pressure(altitude - 1.0)) / 2.0
    assert -fall == pytest.approx(9.80665 * standard_density(altitude), rel=1e-6)


@pytest.mark.parametrize("altitude", [-501.0, 11_001.0, math.nan, math.inf])
def test_an_altitude_without_roads_is_refused(altitude: float) -> None:
    for law in (standard_pressure, standard_density, standard_temperature):
        with pytest.raises(OutOfRange, match="altitude"):
            law(altitude)


@given(pressure=pressures, kelvin=kelvins, humidity=st.floats(0.0, 0.98))
def test_humid_air_is_lighter_than_dry(pressure: float, kelvin: float, humidity: float) -> None:
    assert humid_air_density(pressure, kelvin, humidity + 0.02) < humid_air_density(
        pressure, kelvin, humidity
    )


@given(pressure=pressures, kelvin=kelvins)
def test_dry_air_is_nearly_an_ideal_gas(pressure: float, kelvin: float) -> None:
    assert humid_air_density(pressure, kelvin, 0.0) == pytest.approx(
        dry_air_density(pressure, kelvin), rel=1.2e-3
    )


@given(kelvin=st.floats(250.0, 334.0))
def test_warmer_air_holds_more_water(kelvin: float) -> None:
    assert saturation_vapour_pressure(kelvin + 0.5) > saturation_vapour_pressure(kelvin)


@pytest.mark.parametrize(
    ("pressure", "kelvin", "humidity", "words"),
    [
        (1013.25, 293.15, 0.5, "sea level is 101325"),
        (101325.0, 20.0, 0.5, "0 °C is 273.15"),
        (101325.0, 293.15, 50.0, "50 % is 0.5"),
        (101325.0, 293.15, math.nan, "relative_humidity"),
    ],
)
def test_the_wrong_unit_is_refused_with_a_hint(
    pressure: float, kelvin: float, humidity: float, words: str
) -> None:
    with pytest.raises(OutOfRange, match=words):
        humid_air_density(pressure, kelvin, humidity)


def test_arrays_come_back_in_the_shape_they_broadcast_to() -> None:
    assert humid_air_density(np.full((2, 1), 1e5), np.full(3, 290.0), 0.4).shape == (2, 3)
    assert type(standard_pressure(0)) is float


@given(pressure=st.floats(80e3, 110e3), kelvin=st.floats(250.0, 320.0))
def test_thinner_or_warmer_air_is_worth_a_larger_factor(pressure: float, kelvin: float) -> None:
    for law in (power_correction, power_correction_j1349):
        assert law(pressure - 100.0, kelvin) > law(pressure, kelvin)
        assert law(pressure, kelvin + 1.0) > law(pressure, kelvin)


def test_the_standard_day_needs_no_correction() -> None:
    assert power_correction(99e3, 298.0) == 1.0
    assert power_correction_j1349(99e3, 298.0) == pytest.approx(1.0, abs=1e-12)
    assert is_allowed(1.0)
    assert not is_allowed(math.nan)
