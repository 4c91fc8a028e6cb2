"""From the exhaust gas back to lambda: the balances of carbon, oxygen and nitrogen.

All gases are shares of one and the same gas, dry or wet, as fractions (2 % is 0.02); HC counts as n-hexane.
Lambda is a ratio of sums that all grow with the gas's dilution by water, so dry and wet readings give the
same lambda as long as none is mixed with the other kind.

Source: J. Brettschneider, 1979, as in OIML R 99 and ISO 3930. Equation from memory, not verified against the
    text; it returns the true lambda of independently balanced gases to six digits, which a wrong term would
    not do.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenpour.physics.combustion import (
    CARBON,
    HYDROGEN,
    NITROGEN_PER_OXYGEN,
    WATER_GAS,
    fuel_formula,
    oxygen_demand,
)
from evenpour.physics.within import plain, within

CARBON_PER_HEXANE = 6.0
FULL_FOUR_STROKE = 0.15  # CO + CO2 of undiluted exhaust in the correction of CO
LEAST_CO2 = 1e-4  # below it there is no burnt gas to balance
SPINDT_AIR = 11.492  # mass of air for one of carbon; the oxygen of 23.2 % by mass
SPINDT_HYDROGEN = 120.0  # and for the hydrogen, times 3.5 of the water-gas ratio

Array = NDArray[np.float64]


def lambda_from_gas(
    co: ArrayLike,
    co2: ArrayLike,
    o2: ArrayLike,
    hc: ArrayLike,
    no: ArrayLike,
    hydrogen_per_carbon: ArrayLike,
    oxygen_per_carbon: ArrayLike,
    water_gas: ArrayLike = WATER_GAS,
) -> Any:
    r"""Lambda from a whole exhaust analysis (Brettschneider's equation, simplified form).

    .. math:: \lambda = \frac{CO_2 + CO/2 + O_2 + NO/2 + (\frac{y}{4} \frac{K}{K + CO/CO_2} - \frac{z}{2})
              (CO_2 + CO)}{(1 + y/4 - z/2)(CO_2 + CO + 6\,HC)}

    Args:
        co, co2, o2, no: Shares of the gas, [-], 0 to 1; co2 above 0.0001.
        hc: Unburnt fuel as n-hexane, [-], 0 to 0.1; propane is hexane times about 2.
        hydrogen_per_carbon, oxygen_per_carbon: Fuel CH_yO_z, [-].
        water_gas: K = CO * H2O / (CO2 * H2) as it freezes in the exhaust, [-], 1 to 10.
    Returns:
        Lambda of the charge, [-]; arguments broadcast, scalars give a float.
    Raises:
        OutOfRange: a share that is none, or a gas without CO2: nothing burnt in it.
    Holds for:
        Gas from the engine alone. Air that entered behind the valves counts as if the engine had drawn it.
    Source:
        See the module. HC enters with six atoms of carbon (K1 = 6e-4 for ppm among per cent).
    Example:
        >>> round(lambda_from_gas(0.005, 0.147, 0.006, 120e-6, 0.0, 1.7261, 0.0175), 5)
        1.00849
    """
    y, z = fuel_formula(hydrogen_per_carbon, oxygen_per_carbon)
    burnt_co, burnt_co2, fuel = _carbon(co, co2, hc)
    oxygen = _oxygen_held(burnt_co, burnt_co2, _share("o2", o2), _share("no", no), y, z, _ratio(water_gas))
    return plain(oxygen / (oxygen_demand(y, z) * fuel))


def nitrogen_balance(
    co: ArrayLike,
    co2: ArrayLike,
    o2: ArrayLike,
    hc: ArrayLike,
    no: ArrayLike,
    hydrogen_per_carbon: ArrayLike,
    oxygen_per_carbon: ArrayLike,
    water_gas: ArrayLike = WATER_GAS,
) -> Any:
    """What all gases of a dry analysis add up to, with the nitrogen their oxygen came with, [-].

    Readings that belong together give 1, with or without stray air or misfire. Another sum means that
    one of them is wrong: nothing that goes on in an engine makes it.

    Args:
        co, co2, o2, hc, no, hydrogen_per_carbon, oxygen_per_carbon, water_gas: As in
            :func:`lambda_from_gas`; dry.
    Returns:
        The sum, [-]; arguments broadcast, scalars give a float.
    Raises:
        OutOfRange: as in :func:`lambda_from_gas`.
    Source:
        Atom balance; air with 3.773 mol of nitrogen and argon for each of oxygen.
    Example:
        >>> round(nitrogen_balance(0.018066, 0.140838, 0.0, 0.0, 0.0, 1.87, 0.0), 4)
        1.0
    """
    y, z = fuel_formula(hydrogen_per_carbon, oxygen_per_carbon)
    burnt_co, burnt_co2, _ = _carbon(co, co2, 0.0)
    free, nitric, ratio = _share("o2", o2), _share("no", no), _ratio(water_gas)
    oxygen = _oxygen_held(burnt_co, burnt_co2, free, nitric, y, z, ratio)
    hydrogen = 0.5 * y * (burnt_co + burnt_co2) - _water(burnt_co, burnt_co2, y, ratio)
    nitrogen = NITROGEN_PER_OXYGEN * oxygen - 0.5 * nitric
    return plain(burnt_co + burnt_co2 + free + nitric + hydrogen + nitrogen + _share("hc", hc, 0.1))


def water_per_dry(
    co: ArrayLike, co2: ArrayLike, hydrogen_per_carbon: ArrayLike, water_gas: ArrayLike = WATER_GAS
) -> Any:
    """Water of combustion for one mol of the gas that *co* and *co2* are shares of, [mol/mol].

    Args:
        co, co2: Shares of the gas, [-]; dry shares give water per mol of dry gas, wet ones per mol of wet.
        hydrogen_per_carbon: Of the fuel, [-].
        water_gas: K, [-].
    Raises:
        OutOfRange: as in :func:`lambda_from_gas`.
    Source:
        Hydrogen balance; moisture of the air drawn in is left out (some 1 to 3 % of the gas).
    Example:
        >>> water = water_per_dry(0.018066, 0.140838, 1.87)
        >>> round(water / (1.0 + water), 4)
        0.1254
    """
    y, _ = fuel_formula(hydrogen_per_carbon, 0.0)
    burnt_co, burnt_co2, _ = _carbon(co, co2, 0.0)
    return plain(_water(burnt_co, burnt_co2, y, _ratio(water_gas)))


def dry_per_wet(
    co_wet: ArrayLike, co2_wet: ArrayLike, hydrogen_per_carbon: ArrayLike, water_gas: ArrayLike = WATER_GAS
) -> Any:
    """Factor that makes dry shares of wet ones, [-]: the gas as a meter behind a water trap reads it.

    Args:
        co_wet, co2_wet: Shares of the gas with its water, [-].
        hydrogen_per_carbon: Of the fuel, [-].
        water_gas: K, [-].
    Raises:
        OutOfRange: as in :func:`lambda_from_gas`, or more burnt gas than a gas can hold.
    Example:
        >>> round(dry_per_wet(0.0158, 0.12318, 1.87), 4)
        1.1433
    """
    water = within(
        "water of combustion",
        water_per_dry(co_wet, co2_wet, hydrogen_per_carbon, water_gas),
        0.0,
        0.5,
        "",
        "CO and CO2 are too high for a wet gas.",
    )
    return plain(1.0 / (1.0 - water))


def lambda_from_co(
    co: ArrayLike,
    hydrogen_per_carbon: ArrayLike,
    oxygen_per_carbon: ArrayLike,
    water_gas: ArrayLike = WATER_GAS,
) -> Any:
    r"""Lambda from dry CO alone: rich, evenly burnt, nothing unburnt, no stray air.

    The dry total is 1 + H2 + N2, so D (see combustion.py) is linear in n = CO and the balance is a quadratic.

    Args:
        co: Dry share, [-], 0 to 0.18.
        hydrogen_per_carbon, oxygen_per_carbon: Fuel CH_yO_z, [-].
        water_gas: K, [-], 1 to 10.
    Returns:
        Lambda, [-], at most 1: no CO says only that the mixture is not rich.
    Raises:
        OutOfRange: an argument outside its range; nan counts.
    Source:
        Inverse of ``combustion.dry_shares``. Real engines hold 0.3 to 1 % of CO at lambda 1 (from memory),
        so below 0.5 % this gives a direction, no value.
    Example:
        >>> round(lambda_from_co(0.015, 1.87, 0.0), 4)
        0.9584
    """
    y, z = fuel_formula(hydrogen_per_carbon, oxygen_per_carbon)
    share = within("co", co, 0.0, 0.18, "", "2 % is 0.02.")
    ratio = _ratio(water_gas)
    demand = oxygen_demand(y, z)
    lost = 0.5 * NITROGEN_PER_OXYGEN - 1.0  # nitrogen less than hydrogen more, for each D
    most = (1.0 + NITROGEN_PER_OXYGEN * demand) / lost
    # With n = share * m the equation stays finite at no CO: D = most - tilt * m.
    tilt = (1.0 + share) / lost
    steep = tilt + share
    middle = ratio * (most * share + steep) + (0.5 * y - most) * share
    root = np.sqrt(middle * middle - 4.0 * (ratio - 1.0) * steep * ratio * most * share)
    unburnt = most - tilt * 2.0 * ratio * most / (middle + root)
    return plain(1.0 - 0.5 * unburnt / demand)


def oxygen_missing(
    co: ArrayLike, co2: ArrayLike, hydrogen_per_carbon: ArrayLike, water_gas: ArrayLike = WATER_GAS
) -> Any:
    """Oxygen that the burnt fuel lacked, [mol O2 per mol of its C]; stray air cannot change it.

    Args:
        co, co2: Shares of one gas, [-]; only their ratio counts.
        hydrogen_per_carbon: Of the fuel, [-].
        water_gas: K, [-].
    Raises:
        OutOfRange: as in :func:`lambda_from_gas`.
    Source:
        Half of D in combustion.py, solved for D.
    Example:
        >>> round(1.0 - oxygen_missing(0.018066, 0.140838, 1.87) / 1.4675, 4)
        0.95
    """
    y, _ = fuel_formula(hydrogen_per_carbon, 0.0)
    burnt_co, burnt_co2, _ = _carbon(co, co2, 0.0)
    ratio = _ratio(water_gas)
    part = burnt_co / (burnt_co + burnt_co2)
    heavy = ratio * (1.0 - part)
    return plain(0.5 * part * (0.5 * y + part + heavy) / (part + heavy))


def spindt_afr(
    co: ArrayLike, co2: ArrayLike, o2: ArrayLike, hc: ArrayLike, hydrogen_per_carbon: ArrayLike
) -> Any:
    r"""Air-fuel ratio by mass after Spindt, for fuels without oxygen.

    .. math:: F_b (11.492 F_c \frac{1 + R/2 + Q}{1 + R} + \frac{120 (1 - F_c)}{3.5 + R}),
              \quad R = CO/CO_2, \; Q = O_2/CO_2

    Args:
        co, co2, o2: Shares of one gas, [-].
        hc: As n-hexane, [-].
        hydrogen_per_carbon: Of the fuel, [-].
    Returns:
        Mass of air for one of fuel, [-].
    Raises:
        OutOfRange: as in :func:`lambda_from_gas`.
    Source:
        R. S. Spindt, SAE paper 650507 (1965); formula as in a secondary copy. Its constants of the air give
        14.584 at lambda 1 where ``stoichiometric_afr`` gives 14.599.
    Example:
        >>> round(spindt_afr(0.005, 0.147, 0.006, 120e-6, 1.7261), 3)
        14.497
    """
    y, _ = fuel_formula(hydrogen_per_carbon, 0.0)
    burnt_co, burnt_co2, fuel = _carbon(co, co2, hc)
    carbon = CARBON / (CARBON + HYDROGEN * y)
    ratio, free = burnt_co / burnt_co2, _share("o2", o2) / burnt_co2
    of_carbon = SPINDT_AIR * carbon * (1.0 + 0.5 * ratio + free) / (1.0 + ratio)
    of_hydrogen = SPINDT_HYDROGEN * (1.0 - carbon) / (WATER_GAS + ratio)
    return plain((burnt_co + burnt_co2) / fuel * (of_carbon + of_hydrogen))


def corrected_co(co: ArrayLike, co2: ArrayLike) -> Any:
    """CO as it would read without stray air in the exhaust, [-]: CO * 15 % / (CO + CO2) for four strokes.

    Args:
        co, co2: Dry shares, [-].
    Returns:
        The corrected share; the reading itself where CO + CO2 is 15 % or more.
    Raises:
        OutOfRange: a share that is none, or a gas without CO2.
    Source:
        Idle test of UN Regulation 83 (type II) and UN Regulation 40. From memory, not verified.
    Example:
        >>> round(corrected_co(0.02, 0.09), 4)
        0.0273
    """
    burnt_co, burnt_co2, _ = _carbon(co, co2, 0.0)
    return plain(burnt_co * np.maximum(1.0, FULL_FOUR_STROKE / (burnt_co + burnt_co2)))


def _share(name: str, value: ArrayLike, high: float = 1.0) -> Array:
    return within(name, value, 0.0, high, "", "2 % is 0.02, 200 ppm is 0.0002.")


def _ratio(water_gas: ArrayLike) -> Array:
    return within("water_gas", water_gas, 1.0, 10.0, "")


def _carbon(co: ArrayLike, co2: ArrayLike, hc: ArrayLike) -> tuple[Array, Array, Array]:
    """CO, CO2, and the carbon of all the fuel that entered."""
    burnt_co = _share("co", co)
    burnt_co2 = within("co2", co2, LEAST_CO2, 1.0, "", "Without CO2 nothing burnt: is the probe in the gas?")
    return burnt_co, burnt_co2, burnt_co + burnt_co2 + CARBON_PER_HEXANE * _share("hc", hc, 0.1)


def _water(co: Array, co2: Array, y: Array, ratio: Array) -> Array:
    return 0.5 * y * (co + co2) * ratio / (ratio + co / co2)


def _oxygen_held(co: Array, co2: Array, o2: Array, no: Array, y: Array, z: Array, ratio: Array) -> Array:
    """Oxygen of the air in the gas, [mol O2 per mol]: all that is found, less what the burnt fuel brought.

    Unburnt fuel keeps its own oxygen.
    """
    return co2 + 0.5 * co + o2 + 0.5 * no + 0.5 * _water(co, co2, y, ratio) - 0.5 * z * (co + co2)
