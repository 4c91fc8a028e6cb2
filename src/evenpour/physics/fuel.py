"""Density of petrol over temperature, and weighed fuel as volume.

Source: ASTM D1250-80 (API MPMS 11.1, 1980), table 54B, base 15 °C: gasolines from 653 to 770 kg/m³ and
    the range of transition from there to 787.5 kg/m³. Constants as in several public implementations; the
    standard itself was not opened. Table 54A (K0 = 613.9723) is for crude oil and is not petrol, whatever
    a listing may call it.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from evenpour.physics.within import plain, within

K0 = 346.4228  # kg²/(m⁶ K), gasolines
K1 = 0.4388  # kg/(m³ K), gasolines
TRANSITION_A = -0.00336312  # 1/K
TRANSITION_B = 2680.3206  # kg²/(m⁶ K)
LIGHTEST, TRANSITION, HEAVIEST = 653.0, 770.0, 787.5  # kg/m³ at 15 °C
BASE_TEMPERATURE = 288.15  # K
COLDEST, WARMEST = 233.15, 368.15  # K; the printed table ends near -18 °C and 95 °C (from memory)


def petrol_expansion(reference_density: ArrayLike) -> Any:
    r"""Thermal expansion of petrol at 15 °C.

    .. math:: \alpha = (K_0 + K_1 \rho_{15}) / \rho_{15}^2

    Args:
        reference_density: Density at 15 °C, [kg/m³], 653 to 787.5.
    Returns:
        Volume expansion, [1/K]; a float for a scalar, else an array of the same shape.
    Raises:
        OutOfRange: outside petrol and the transition; nan counts.
    Example:
        >>> round(petrol_expansion(740.0), 7)
        0.0012256
    """
    density = within("reference_density", reference_density, LIGHTEST, HEAVIEST, "kg/m³ at 15 °C")
    gasoline = (K0 + K1 * density) / density**2
    between = TRANSITION_A + TRANSITION_B / density**2
    return plain(np.where(density <= TRANSITION, gasoline, between))


def volume_correction(reference_density: ArrayLike, temperature: ArrayLike) -> Any:
    r"""Volume at 15 °C over volume at *temperature* (VCF).

    .. math:: VCF = \exp(-\alpha \Delta t (1 + 0.8 \alpha \Delta t)), \quad \Delta t = t - 15

    Args:
        reference_density: Density at 15 °C, [kg/m³].
        temperature: Fuel temperature, [K], 233.15 to 368.15 (-40 to 95 °C).
    Returns:
        Ratio, [-]; arguments broadcast. Unrounded: the printed table rounds to four decimals.
    Raises:
        OutOfRange: an argument lies outside the table.
    Example:
        >>> round(volume_correction(740.0, 303.15), 5)
        0.98152
    """
    alpha = petrol_expansion(reference_density)
    step = within("temperature", temperature, COLDEST, WARMEST, "K") - BASE_TEMPERATURE
    return plain(np.exp(-alpha * step * (1.0 + 0.8 * alpha * step)))


def petrol_density(reference_density: ArrayLike, temperature: ArrayLike) -> Any:
    """Density of petrol at *temperature*, [kg/m³].

    Ethanol blends deviate a little: below 0.1 % for E10 at 40 °C (estimate).

    Args:
        reference_density: Density at 15 °C, [kg/m³].
        temperature: Fuel temperature, [K].
    Raises:
        OutOfRange: an argument lies outside the table.
    Example:
        >>> round(petrol_density(740.0, 293.15), 3)
        735.457
    """
    density = within("reference_density", reference_density, LIGHTEST, HEAVIEST, "kg/m³ at 15 °C")
    return plain(density * volume_correction(density, temperature))


def petrol_volume(mass: ArrayLike, reference_density: ArrayLike, temperature: ArrayLike) -> Any:
    """Volume of weighed petrol at its own temperature, [m³].

    Args:
        mass: [kg], not negative.
        reference_density: Density at 15 °C, [kg/m³].
        temperature: Fuel temperature, [K].
    Raises:
        OutOfRange: an argument lies outside the table, or a mass below zero.
    Example:
        >>> round(petrol_volume(0.1, 740.0, 288.15) * 1e6, 4)
        135.1351
    """
    weighed = within("mass", mass, 0.0, np.inf, "kg")
    return plain(weighed / petrol_density(reference_density, temperature))
