"""Combustion: what the balance must obey for any fuel, and the ways back from a gas to lambda."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evenpour.errors import OutOfRange
from evenpour.physics.combustion import (
    NITROGEN_PER_OXYGEN,
    dry_products,
    dry_shares,
    oxygen_demand,
    stoichiometric_afr,
)
from evenpour.physics.exhaust_balance import (
    corrected_co,
    dry_per_wet,
    lambda_from_co,
    lambda_from_gas,
    nitrogen_balance,
    oxygen_missing,
    water_per_dry,
)

PETROL = (1.87, 0.0)
fuels = st.tuples(st.floats(1.6, 3.0), st.floats(0.0, 0.5))
lambdas = st.floats(0.6, 1.5)
ratios = st.floats(2.0, 5.0)
patches = st.floats(0.0, 0.1)


def gas(lambda_, fuel, water_gas=3.5, unmixed=0.0):
    """CO, CO2 and O2 of ideal exhaust."""
    return tuple(dry_shares(lambda_, *fuel, water_gas, unmixed))[:3]


@given(lambda_=lambdas, fuel=fuels, water_gas=ratios, unmixed=patches)
def test_every_atom_comes_out_that_went_in(lambda_, fuel, water_gas, unmixed):
    y, z = fuel
    made = dry_products(lambda_, y, z, water_gas, unmixed)
    assert made.co + made.co2 == pytest.approx(1.0, rel=1e-12)
    assert 2.0 * (made.h2 + made.h2o) == pytest.approx(y, rel=1e-12)
    oxygen = 2.0 * lambda_ * oxygen_demand(y, z) + z
    assert made.co + 2.0 * made.co2 + 2.0 * made.o2 + made.h2o == pytest.approx(oxygen, rel=1e-12)
    dry = made.co + made.co2 + made.o2 + made.n2 + made.h2
    assert made.dry_total == pytest.approx(dry, rel=1e-12)
    assert min(made.co, made.co2, made.o2, made.n2, made.h2, made.h2o) >= -1e-15


@given(lambda_=st.floats(0.6, 0.99), fuel=fuels, water_gas=ratios)
def test_the_rich_side_holds_the_water_gas_ratio(lambda_, fuel, water_gas):
    made = dry_products(lambda_, *fuel, water_gas)
    assert made.co * made.h2o / (made.co2 * made.h2) == pytest.approx(water_gas, rel=1e-9)
    assert made.o2 == 0.0


@given(lambda_=st.floats(1.0, 3.0), fuel=fuels)
def test_the_lean_side_holds_no_co(lambda_, fuel):
    made = dry_products(lambda_, *fuel)
    assert (made.co, made.h2) == (0.0, 0.0)


@given(lambda_=lambdas, fuel=fuels)
def test_more_air_never_makes_more_co_nor_less_oxygen(lambda_, fuel):
    first, then = dry_shares(lambda_, *fuel), dry_shares(lambda_ + 0.01, *fuel)
    assert then.co <= first.co
    assert then.o2 >= first.o2


@given(fuel=fuels, unmixed=patches)
def test_the_gas_does_not_jump_at_lambda_one(fuel, unmixed):
    before, after = gas(1.0 - 1e-9, fuel, 3.5, unmixed), gas(1.0 + 1e-9, fuel, 3.5, unmixed)
    assert before == pytest.approx(after, abs=1e-8)


@given(lambda_=st.floats(-1e6, 1e6), fuel=fuels, unmixed=st.floats(0.0, 10.0))
def test_the_hot_function_answers_every_finite_lambda(lambda_, fuel, unmixed):
    made = dry_products(lambda_, *fuel, 3.5, unmixed)
    assert all(np.isfinite(made))
    assert made.dry_total > 0.0


def test_arrays_of_cars_and_cylinders_broadcast():
    made = dry_products(np.full((5, 1), 0.9), np.full(3, 1.87), 0.0)
    assert made.co.shape == made.dry_total.shape == (5, 3)


def test_patches_show_the_co_of_real_engines_at_lambda_one():
    # From memory: 0.3 to 1 % of CO at lambda 1.
    for unmixed, low, high in ((0.02, 0.25, 0.45), (0.06, 0.9, 1.2)):
        assert low < 100.0 * dry_shares(1.0, *PETROL, 3.5, unmixed).co < high


@given(lambda_=lambdas, fuel=fuels, water_gas=ratios, unmixed=patches)
def test_lambda_comes_back_from_its_own_gas_patches_or_not(lambda_, fuel, water_gas, unmixed):
    co, co2, o2 = gas(lambda_, fuel, water_gas, unmixed)
    assert lambda_from_gas(co, co2, o2, 0.0, 0.0, *fuel, water_gas) == pytest.approx(lambda_, rel=1e-10)


@given(lambda_=lambdas, fuel=fuels, unburnt=st.floats(0.0, 0.2), thinned=st.floats(0.3, 1.0))
def test_lambda_is_that_of_the_charge_when_some_of_it_does_not_burn(lambda_, fuel, unburnt, thinned):
    # A share of the charge leaves as it came: its fuel as vapour, its air as air. Water thins all alike.
    co, co2, o2, hc = misfired(lambda_, fuel, unburnt)
    found = lambda_from_gas(thinned * co, thinned * co2, thinned * o2, thinned * hc, 0.0, *fuel)
    assert found == pytest.approx(lambda_, rel=1e-9)


def misfired(lambda_, fuel, unburnt):
    """Dry gas of an engine that passes the share *unburnt* of its charge."""
    made = dry_products(lambda_, *fuel)
    air = lambda_ * oxygen_demand(*fuel)
    burnt = 1.0 - unburnt
    o2, hc = burnt * made.o2 + unburnt * air, unburnt / 6.0
    total = burnt * made.dry_total + unburnt * air * (1.0 + NITROGEN_PER_OXYGEN) + hc
    return burnt * made.co / total, burnt * made.co2 / total, o2 / total, hc / total


@given(lambda_=lambdas, fuel=fuels, water_gas=ratios, unburnt=st.floats(0.0, 0.2), leak=st.floats(0.0, 0.6))
def test_gases_that_belong_together_add_up_whatever_the_engine_does(lambda_, fuel, water_gas, unburnt, leak):
    co, co2, o2, hc = misfired(lambda_, fuel, unburnt)
    o2 = (1.0 - leak) * o2 + leak / (1.0 + NITROGEN_PER_OXYGEN)
    co, co2, hc = (1.0 - leak) * co, (1.0 - leak) * co2, (1.0 - leak) * hc
    assert nitrogen_balance(co, co2, o2, hc, 0.0, *fuel) == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize(("co2", "o2"), [(0.20, 0.0), (0.14, 0.14), (0.08, 0.005), (0.14, 0.06)])
def test_gases_that_do_not_belong_together_do_not_add_up(co2, o2):
    assert abs(nitrogen_balance(0.01, co2, o2, 0.0, 0.0, *PETROL) - 1.0) > 0.15


@given(lambda_=st.floats(0.6, 0.995), fuel=fuels, leak=st.floats(0.0, 0.5))
def test_stray_air_does_not_hide_the_oxygen_that_was_missing(lambda_, fuel, leak):
    co, co2, _ = gas(lambda_, fuel)
    missing = oxygen_missing((1.0 - leak) * co, (1.0 - leak) * co2, fuel[0])
    assert 1.0 - missing / oxygen_demand(*fuel) == pytest.approx(lambda_, abs=1e-9)


@given(lambda_=st.floats(0.65, 1.0), fuel=fuels, water_gas=ratios)
def test_co_alone_leads_back_to_lambda(lambda_, fuel, water_gas):
    co = float(dry_shares(lambda_, *fuel, water_gas).co)
    assert lambda_from_co(co, *fuel, water_gas) == pytest.approx(lambda_, abs=1e-9)


@given(lambda_=lambdas, fuel=fuels)
def test_water_comes_off_and_the_gas_is_dry_again(lambda_, fuel):
    made = dry_products(lambda_, *fuel)
    co, co2, _ = gas(lambda_, fuel)
    assert water_per_dry(co, co2, fuel[0]) == pytest.approx(made.h2o / made.dry_total, rel=1e-9)
    wet = made.dry_total + made.h2o
    factor = dry_per_wet(made.co / wet, made.co2 / wet, fuel[0])
    assert factor * made.co2 / wet == pytest.approx(co2, rel=1e-9)


def test_corrected_co_is_the_reading_itself_in_undiluted_gas():
    assert corrected_co(0.02, 0.135) == 0.02
    assert corrected_co(np.array([0.01, 0.02]), 0.09) == pytest.approx([0.015, 0.02 * 15 / 11])


@given(lambda_=st.floats(0.7, 0.99), leak=st.floats(0.08, 0.5))
def test_corrected_co_does_not_move_with_stray_air(lambda_, leak):
    co, co2, _ = gas(lambda_, PETROL)
    twice = leak + 0.5 * (1.0 - leak)
    corrected = [float(corrected_co(co * (1.0 - one), co2 * (1.0 - one))) for one in (leak, twice)]
    assume((co + co2) * (1.0 - leak) < 0.15)
    assert corrected[0] == pytest.approx(corrected[1], rel=1e-12)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: lambda_from_gas(1.5, 14.7, 0.6, 0.0, 0.0, *PETROL), "co '1.5"),
        (lambda: lambda_from_gas(0.015, 0.0, 0.006, 0.0, 0.0, *PETROL), "co2 '0.0"),
        (lambda: lambda_from_gas(0.015, 0.147, float("nan"), 0.0, 0.0, *PETROL), "o2 'nan"),
        (lambda: lambda_from_gas(0.015, 0.147, -0.001, 0.0, 0.0, *PETROL), "o2 '-0.001"),
        (lambda: lambda_from_gas(0.015, 0.147, 0.006, 200.0, 0.0, *PETROL), "hc '200"),
        (lambda: lambda_from_gas(0.015, 0.147, 0.006, 0.0, 0.0, 9.0, 0.0), "hydrogen_per_carbon"),
        (lambda: lambda_from_gas(0.015, 0.147, 0.006, 0.0, 0.0, *PETROL, 0.0), "water_gas"),
        (lambda: nitrogen_balance(0.015, 0.147, 2.0, 0.0, 0.0, *PETROL), "o2 '2.0"),
        (lambda: lambda_from_co(2.0, *PETROL), "co '2.0"),
        (lambda: corrected_co(0.02, 0.0), "co2 '0.0"),
        (lambda: oxygen_missing(0.02, float("inf"), 1.87), "co2 'inf"),
        (lambda: dry_per_wet(0.02, 0.9, 1.87), "water of combustion"),
        (lambda: stoichiometric_afr(float("nan"), 0.0), "hydrogen_per_carbon"),
        (lambda: stoichiometric_afr(1.87, 3.0), "oxygen_per_carbon"),
    ],
)
def test_what_is_no_share_or_no_fuel_is_refused_by_name(call, name):
    with pytest.raises(OutOfRange, match=name):
        call()


def test_scalars_give_floats():
    assert type(lambda_from_gas(0.005, 0.147, 0.006, 0.0, 0.0, *PETROL)) is float
    assert type(lambda_from_co(0.01, *PETROL)) is float
    assert type(stoichiometric_afr(*PETROL)) is float
