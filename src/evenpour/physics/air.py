"""Air: the standard atmosphere, and the density of dry and of humid air."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from evenpour.physics.within import plain, within

R_AIR = 287.058  # J/(kg K), dry air, US 1976 composition
GAMMA = 1.4  # [-], ratio of specific heats of a diatomic gas

SEA_LEVEL_PRESSURE = 101325.0  # Pa
SEA_LEVEL_TEMPERATURE = 288.15  # K
LAPSE_RATE = 0.0065  # K/m of geopotential altitude
R_STANDARD = 287.05287  # J/(kg K), as ISO 2533 defines it
BAROMETRIC_EXPONENT = 9.80665 / (LAPSE_RATE * R_STANDARD)  # [-], 5.25588
LOWEST, HIGHEST = -500.0, 11000.0  # m: from below any road to the top of the troposphere
ICE = 273.15  # K

# CIPM-2007. Saturation pressure exp(A T² + B T + C + D/T), T in K:
SATURATION = (1.2378847e-5, -1.9121316e-2, 33.93711047, -6.3431645e3)
ENHANCEMENT = (1.00062, 3.14e-8, 5.6e-7)  # [-], 1/Pa, 1/K²
MOLAR_GAS = 8.314472  # J/(mol K), the value of CODATA 2006 that the formula was made with
MOLAR_DRY = 28.96546e-3  # kg/mol, with 400 ppm of carbon dioxide
MOLAR_WATER = 18.01528e-3  # kg/mol
A0, A1, A2 = 1.58123e-6, -2.9331e-8, 1.1043e-10  # K/Pa, 1/Pa, 1/(K Pa)
B0, B1 = 5.707e-6, -2.051e-8  # K/Pa, 1/Pa
C0, C1 = 1.9898e-4, -2.376e-6  # K/Pa, 1/Pa
D0, E0 = 1.83e-11, -0.765e-8  # K²/Pa²


def standard_temperature(altitude: ArrayLike) -> Any:
    """Temperature of the standard atmosphere, [K].

    Args:
        altitude: Geopotential, [m], -500 to 11000; below 4000 m it differs from geometric altitude by less
            than 3 m.
    Raises:
        OutOfRange: beyond the troposphere; nan counts.
    Source:
        ISO 2533:1975 (ICAO Doc 7488, US Standard Atmosphere 1976).
    Example:
        >>> standard_temperature(1000.0)
        281.65
    """
    return plain(SEA_LEVEL_TEMPERATURE - LAPSE_RATE * _altitude(altitude))


def standard_pressure(altitude: ArrayLike) -> Any:
    r"""Absolute pressure of the standard atmosphere, [Pa].

    .. math:: p = 101325 \, (T / 288.15)^{5.25588}

    Args:
        altitude: Geopotential, [m], -500 to 11000.
    Raises:
        OutOfRange: beyond the troposphere; nan counts.
    Source:
        ISO 2533:1975.
    Example:
        >>> round(standard_pressure(2000.0), 1)
        79495.2
    """
    share = 1.0 - LAPSE_RATE / SEA_LEVEL_TEMPERATURE * _altitude(altitude)
    return plain(SEA_LEVEL_PRESSURE * share**BAROMETRIC_EXPONENT)


def standard_density(altitude: ArrayLike) -> Any:
    """Density of the standard atmosphere, [kg/m³].

    Args:
        altitude: Geopotential, [m], -500 to 11000.
    Raises:
        OutOfRange: beyond the troposphere; nan counts.
    Source:
        ISO 2533:1975.
    Example:
        >>> round(standard_density(2000.0), 5)
        1.00649
    """
    return plain(standard_pressure(altitude) / (R_STANDARD * standard_temperature(altitude)))


def _altitude(altitude: ArrayLike) -> Any:
    return within("altitude", altitude, LOWEST, HIGHEST, "m", "Feet were meant? 1000 ft is 304.8 m.")


def dry_air_density(pressure_abs: Any, temperature: Any) -> Any:
    """Density of dry air as an ideal gas, [kg/m³]. Hot.

    Args:
        pressure_abs: [Pa].
        temperature: [K], above zero.
    Holds for:
        Roads and workshops: 4e-4 below the real gas at 20 °C, 1e-3 at -20 °C.
    """
    return pressure_abs / (R_AIR * temperature)


def saturation_vapour_pressure(temperature: ArrayLike) -> Any:
    r"""Pressure of water vapour over water, [Pa].

    .. math:: p_s = \exp(A T^2 + B T + C + D / T)

    Args:
        temperature: [K], 250 to 335; below freezing over water that has not frozen.
    Raises:
        OutOfRange: beyond that; nan counts.
    Source:
        CIPM-2007, equation A1.1 (Picard, Davis, Gläser, Fujii, Metrologia 45 (2008) 149-155). It was made for
        15 to 27 °C; up to 60 °C it stays within 0.1 % of steam tables.
    Example:
        >>> round(saturation_vapour_pressure(293.15), 2)
        2339.16
    """
    kelvin = within("temperature", temperature, 250.0, 335.0, "K", "0 °C is 273.15 K.")
    a, b, c, d = SATURATION
    return plain(np.exp(a * kelvin * kelvin + b * kelvin + c + d / kelvin))


def humid_air_density(pressure_abs: ArrayLike, temperature: ArrayLike, relative_humidity: ArrayLike) -> Any:
    r"""Density of humid air, [kg/m³]; lighter than dry air.

    .. math:: \rho = \frac{p M_a}{Z R T} \left( 1 - x_v (1 - M_v / M_a) \right)

    Args:
        pressure_abs: [Pa], 40e3 to 120e3.
        temperature: [K], 250 to 335.
        relative_humidity: Share of saturation, 0 to 1.
    Raises:
        OutOfRange: an argument lies beyond these; nan counts.
    Holds for:
        600 to 1100 hPa and 15 to 27 °C to 2e-5 by its source; beyond is extrapolation, within 1e-3.
    Source:
        CIPM-2007, with 400 ppm of carbon dioxide; coefficients as in several public implementations.
    Example:
        >>> round(humid_air_density(101325.0, 293.15, 0.5), 5)
        1.19931
    """
    p = within("pressure_abs", pressure_abs, 40e3, 120e3, "Pa", "Absolute pressure: sea level is 101325 Pa.")
    saturated = saturation_vapour_pressure(temperature)
    kelvin = np.asarray(temperature, dtype=np.float64)
    humidity = within("relative_humidity", relative_humidity, 0.0, 1.0, "", "50 % is 0.5.")
    t = kelvin - ICE
    alpha, beta, gamma = ENHANCEMENT
    vapour = humidity * (alpha + beta * p + gamma * t * t) * saturated / p  # share of water, [mol/mol]
    virial = A0 + (A1 + A2 * t) * t + ((B0 + B1 * t) + (C0 + C1 * t) * vapour) * vapour
    ratio = p / kelvin
    compressibility = 1.0 - ratio * virial + ratio * ratio * (D0 + E0 * vapour * vapour)
    molar = MOLAR_DRY * (1.0 - vapour * (1.0 - MOLAR_WATER / MOLAR_DRY))
    return plain(ratio * molar / (compressibility * MOLAR_GAS))
