"""Vapour pressure of petrol: whether fuel boils in a hot line.

All pressures are absolute. A line gauge adds the barometer, and the barometer falls with altitude.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from evenpour.errors import unknown
from evenpour.physics.within import plain, within

PSI = 6894.757293168  # Pa
RANKINE = 1.8  # degrees Rankine per kelvin
SLOPE = 3.0  # °F per %, slope of the distillation curve at 10 % evaporated: motor gasoline
A, A_OF_REID = 15.64 - 1.854 * SLOPE**0.5, 0.8742 - 0.3280 * SLOPE**0.5  # [-], per ln psi
B, B_OF_REID = 8742.0 - 1042.0 * SLOPE**0.5, 1049.0 - 179.4 * SLOPE**0.5  # °R, per ln psi
LEAST_REID, MOST_REID = 10e3, 150e3  # Pa; AP-42 prints 5 to 15 psi, 34 to 103 kPa
COLDEST, WARMEST = 230.0, 420.0  # K; AP-42's chart ends near 60 °C

# Petrol without ethanol as it is sold, [Pa]. EN 228 allows 45 to 60 kPa for most summers and 60 to 90 for
# winters; Directive 2009/30/EC at most 60 in summer. Middles from memory; one filling differs by 8 kPa.
REID_BY_SEASON = {"summer": 54e3, "between": 66e3, "winter": 80e3}
# A petrol of 60 kPa with ethanol added, [Pa], by share of volume. To 10 %: what Directive 2009/30/EC, annex
# III, allows on top (from memory); at 20 % blending trials find next to no change (seen in a secondary copy);
# from there to pure ethanol from memory.
BLENDED = {
    0.00: 60.0e3, 0.01: 63.7e3, 0.02: 66.0e3, 0.03: 67.2e3, 0.04: 67.8e3, 0.05: 68.0e3, 0.06: 68.0e3,
    0.07: 67.9e3, 0.08: 67.9e3, 0.09: 67.8e3, 0.10: 67.8e3, 0.20: 67.6e3, 0.30: 66.0e3, 0.50: 60.0e3,
    0.70: 51.0e3, 0.85: 39.0e3, 1.00: 16.0e3,
}  # fmt: skip


def true_vapour_pressure_abs(reid_pressure: ArrayLike, temperature: ArrayLike) -> Any:
    r"""Absolute pressure below which petrol boils, [Pa].

    .. math:: p = \exp(A - B / T), \quad A = 11.724,\ B = 5237 \text{ for a Reid pressure of 10 psi}

    with p in psi and T in degrees Rankine; A and B fall with the logarithm of the Reid pressure.

    Args:
        reid_pressure: Reid vapour pressure of the fuel as it is in the tank, ethanol and all, [Pa]. It is
            measured at 37.8 °C with air in the chamber: the true pressure there is 6 to 7 % higher.
        temperature: [K].
    Returns:
        Absolute pressure, [Pa]; arguments broadcast.
    Raises:
        OutOfRange: an argument is no motor fuel's; nan counts.
    Holds for:
        Petrol; AP-42's own table deviates by up to 2.2 %. Above 60 °C it is extrapolated. With ethanol the
        curve is a little steeper, which is left out.
    Source:
        US EPA AP-42, 5th edition, volume I, section 7.1, figures 7.1-14b and 7.1-15; constants as in two
        independent public implementations.
    Example:
        >>> round(true_vapour_pressure_abs(60e3, 323.15))
        91562
    """
    a, b = _coefficients(reid_pressure)
    kelvin = within("temperature", temperature, COLDEST, WARMEST, "K", "50 °C is 323.15 K.")
    return plain(PSI * np.exp(a - b / (RANKINE * kelvin)))


def boiling_temperature(reid_pressure: ArrayLike, pressure_abs: ArrayLike) -> Any:
    """Temperature at which petrol boils under *pressure_abs*, [K].

    Args:
        reid_pressure: As in :func:`true_vapour_pressure_abs`.
        pressure_abs: Absolute pressure on the fuel, [Pa], 1e3 to 2e6: gauge pressure plus barometer.
    Raises:
        OutOfRange: an argument lies outside; nan counts.
    Holds for:
        As :func:`true_vapour_pressure_abs`, whose inverse it is; above 60 °C extrapolated.
    Example:
        >>> round(boiling_temperature(60e3, 101325.0) - 273.15, 2)
        53.61
    """
    a, b = _coefficients(reid_pressure)
    pressure = within("pressure_abs", pressure_abs, 1e3, 2e6, "Pa", "Absolute: sea level is 101325 Pa.")
    return plain(b / (a - np.log(pressure / PSI)) / RANKINE)


def _coefficients(reid_pressure: ArrayLike) -> tuple[Any, Any]:
    reid = within("reid_pressure", reid_pressure, LEAST_REID, MOST_REID, "Pa", "9 psi is 62 kPa.")
    logarithm = np.log(reid / PSI)
    return A - A_OF_REID * logarithm, B - B_OF_REID * logarithm


def typical_reid_pressure(season: str, ethanol_share: ArrayLike) -> Any:
    """Reid vapour pressure to expect of the fuel in the tank, where nobody measured it, [Pa].

    Args:
        season: What the fuel was blended for: summer, between or winter.
        ethanol_share: By volume, 0 to 1.
    Raises:
        UnknownName: no such season.
        OutOfRange: an ethanol share that is none; nan counts.
    Holds for:
        Ethanol poured into petrol: the first parts raise the pressure, the last ones take it away. A blend
        made to a limit may lie 8 kPa lower, fuel for E85 in winter higher.
    Source:
        Mostly from memory; see the tables in this module.
    Example:
        >>> round(typical_reid_pressure("summer", 0.05))
        62300
    """
    if season not in REID_BY_SEASON:
        raise unknown("fuel_grade", season, REID_BY_SEASON, kind="season")
    share = within("ethanol_share", ethanol_share, 0.0, 1.0, "", "E10 is 0.1.")
    of_60_kpa = np.interp(share, list(BLENDED), list(BLENDED.values()))
    return plain(of_60_kpa + (REID_BY_SEASON[season] - BLENDED[0.0]) * (1.0 - share))
