"""Blends of petrol and ethanol, and when they boil: what must hold, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import FieldProblem, OutOfRange, UnknownName
from evenpour.physics.blend import blend, blend_density, blend_viscosity, ethanol_share
from evenpour.physics.fuel import petrol_density
from evenpour.physics.vapour import boiling_temperature, true_vapour_pressure_abs, typical_reid_pressure

shares = st.floats(0.0, 1.0)
reids = st.floats(30e3, 110e3)
SEASONS = ("summer", "between", "winter")


@given(share=st.floats(0.0, 0.99))
def test_more_ethanol_needs_less_air_and_holds_less_heat(share: float) -> None:
    less, more = blend(share), blend(share + 0.01)
    assert more.stoichiometric_afr < less.stoichiometric_afr
    assert more.heating_value < less.heating_value
    assert more.oxygen_per_carbon > less.oxygen_per_carbon
    assert more.hydrogen_per_carbon > less.hydrogen_per_carbon


@given(share=shares)
def test_heat_for_each_mass_of_air_hardly_depends_on_the_blend(share: float) -> None:
    # Why a flexible engine makes the same power on either: 3.01 MJ/kg of air for petrol, 2.99 for ethanol.
    fuel = blend(share)
    assert fuel.heating_value / fuel.stoichiometric_afr == pytest.approx(3.0e6, rel=0.01)


@given(reference=st.floats(660.0, 780.0), kelvin=st.floats(235.0, 365.0))
def test_a_blend_without_ethanol_is_petrol(reference: float, kelvin: float) -> None:
    assert blend_density(blend(0.0, reference), kelvin) == pytest.approx(
        petrol_density(reference, kelvin), rel=1e-12
    )


@given(share=shares, kelvin=st.floats(235.0, 360.0))
def test_a_warmer_blend_is_lighter_and_thinner(share: float, kelvin: float) -> None:
    fuel = blend(share)
    assert blend_density(fuel, kelvin + 1.0) < blend_density(fuel, kelvin)
    assert blend_viscosity(fuel, kelvin + 1.0) < blend_viscosity(fuel, kelvin)


@given(share=shares)
def test_at_15_degrees_a_blend_has_its_reference_density(share: float) -> None:
    fuel = blend(share)
    assert blend_density(fuel, 288.15) == pytest.approx(fuel.reference_density, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "share"), [("E0", 0.0), ("e10", 0.1), (" E 85 ", 0.85), ("E100", 1.0), ("E7.5", 0.075)]
)
def test_a_blends_name_says_its_share(name: str, share: float) -> None:
    assert ethanol_share(name) == pytest.approx(share, rel=1e-15)


@pytest.mark.parametrize("name", ["", "petrol", "E", "E101", "10", "E-5", "E1000", "B7"])
def test_a_name_that_is_no_blends_is_refused_in_words(name: str) -> None:
    with pytest.raises(FieldProblem, match="E0 to E100"):
        ethanol_share(name)


@pytest.mark.parametrize("share", [-0.01, 1.01, 10.0, math.nan])
def test_a_share_that_is_none_is_refused(share: float) -> None:
    with pytest.raises(OutOfRange, match=r"E10 is 0\.1"):
        blend(share)


@given(reid=reids, kelvin=st.floats(240.0, 400.0))
def test_fuel_boils_at_the_temperature_whose_pressure_it_has(reid: float, kelvin: float) -> None:
    assert boiling_temperature(reid, true_vapour_pressure_abs(reid, kelvin)) == pytest.approx(
        kelvin, rel=1e-12
    )


@given(reid=reids, kelvin=st.floats(240.0, 400.0))
def test_warmer_or_livelier_fuel_pushes_harder(reid: float, kelvin: float) -> None:
    once = true_vapour_pressure_abs(reid, kelvin)
    assert true_vapour_pressure_abs(reid, kelvin + 0.1) > once
    assert true_vapour_pressure_abs(reid * 1.01, kelvin) > once


@given(share=shares)
def test_winter_fuel_is_livelier_than_summer_fuel_by_its_petrol(share: float) -> None:
    summer, between, winter = (typical_reid_pressure(season, share) for season in SEASONS)
    assert summer <= between <= winter
    assert winter - summer == pytest.approx((1.0 - share) * 26e3, abs=1e-6)
    assert 16e3 <= summer <= winter < 95e3


def test_an_unknown_season_is_refused_with_the_known_ones() -> None:
    with pytest.raises(UnknownName, match="summer, between, winter"):
        typical_reid_pressure("autumn", 0.05)


@pytest.mark.parametrize("pressure", [1.0, -0.5, 3.6, math.nan])
def test_a_pressure_in_bar_is_refused(pressure: float) -> None:
    with pytest.raises(OutOfRange, match="sea level is 101325"):
        boiling_temperature(60e3, pressure)


def test_arrays_come_back_in_the_shape_they_broadcast_to() -> None:
    assert true_vapour_pressure_abs(np.full((2, 1), 60e3), np.full(3, 320.0)).shape == (2, 3)
    assert type(typical_reid_pressure("winter", 0.1)) is float
