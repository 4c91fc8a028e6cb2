"""Resistance over temperature, wires under load, heaters and temperature sensors.

Source: IEC 60028 for annealed copper, 1/58 ohm mm²/m at 20 °C and 0.00393/K (from memory); Ohm's law; the
    sensors' equations as their makers state them everywhere.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenpour.physics.within import plain, within

COPPER_RESISTIVITY = 1e-6 / 58.0  # ohm m at 20 degC
COPPER_COEFFICIENT = 3.93e-3  # 1/K at 20 degC
HEATER_COEFFICIENT = 1.7e-4  # 1/K; nickel-chromium resistance wire (from memory, not verified)
BASE_TEMPERATURE = 293.15  # K, 20 degC
SENSOR_BASE_TEMPERATURE = 298.15  # K, 25 degC
COLDEST, WARMEST = 213.15, 523.15  # K, -60 to 250 degC
MOST_OHMS = 1e9
COEFFICIENT_HINT = "Are the coefficients in order, and of one part?"

Values = float | NDArray[np.float64]


def warmed_resistance(at_20: Values, temperature: Values, coefficient: Values) -> Any:
    r"""Resistance of a winding or a heater at its own temperature. Hot: nothing is checked.

    .. math:: R = R_{20} (1 + \alpha (T - 293.15))

    Args:
        at_20: Resistance at 20 °C, [ohm].
        temperature: Of the wire, [K].
        coefficient: alpha at 20 °C, [1/K]: :data:`COPPER_COEFFICIENT`, :data:`HEATER_COEFFICIENT`.
    Returns:
        Resistance, [ohm].
    Example:
        >>> round(float(warmed_resistance(22.0, 373.15, HEATER_COEFFICIENT)), 2)
        22.3
    """
    return at_20 * (1.0 + coefficient * (temperature - BASE_TEMPERATURE))


def copper_resistance(at_20: ArrayLike, temperature: ArrayLike) -> Any:
    """Resistance of a copper winding at its own temperature.

    Args:
        at_20: Resistance at 20 °C, [ohm].
        temperature: Of the winding, [K], -60 to 250 °C.
    Returns:
        Resistance, [ohm]. Within 1e-4 of the rule (234.5 + t) / 254.5 of machine makers from 0 to 100 °C.
    Raises:
        OutOfRange: no resistance, or hotter or colder than the straight line holds.
    Example:
        >>> round(copper_resistance(4.0, 353.15), 4)
        4.9432
    """
    ohms = within("at_20", at_20, 0.0, MOST_OHMS, "ohm")
    return plain(warmed_resistance(ohms, _temperature(temperature), COPPER_COEFFICIENT))


def wire_resistance(length: ArrayLike, area: ArrayLike, temperature: ArrayLike = BASE_TEMPERATURE) -> Any:
    """Resistance of copper wire.

    Args:
        length: Of the copper the current passes, there **and back**, [m].
        area: Cross-section, [m²]; 1.5 mm² is 1.5e-6.
        temperature: Of the wire, [K].
    Returns:
        Resistance, [ohm]; without the fuse, switches and clips, which add several milliohm.
    Raises:
        OutOfRange: no length or cross-section of a car's wire.
    Example:
        >>> round(wire_resistance(6.0, 1.5e-6) * 1e3, 3)
        68.966
    """
    metres = within("length", length, 0.0, 1000.0, "m")
    section = within("area", area, 1e-8, 2e-4, "m²", "1.5 mm² is 1.5e-6 m².")
    return copper_resistance(COPPER_RESISTIVITY * metres / section, temperature)


def voltage_drop(
    current: ArrayLike, length: ArrayLike, area: ArrayLike, temperature: ArrayLike = BASE_TEMPERATURE
) -> Any:
    """Voltage lost in a copper wire under load.

    Args:
        current: [A].
        length: Of the copper the current passes, there and back, [m]; the body counts little.
        area: Cross-section, [m²].
        temperature: Of the wire, [K].
    Returns:
        Voltage, [V].
    Raises:
        OutOfRange: an argument is none of a car's wiring.
    Example:
        >>> round(voltage_drop(12.0, 6.0, 1.5e-6), 4)
        0.8276
    """
    amperes = within("current", current, 0.0, 1000.0, "A")
    return plain(amperes * wire_resistance(length, area, temperature))


def heater_power(voltage: Values, resistance: Values) -> Any:
    """Heat of a heater at a voltage, [W]: the square of the voltage over the resistance. Hot.

    Args:
        voltage: At the heater's own plug, under load, [V].
        resistance: At the heater's temperature, [ohm]; infinite (open) gives none, zero is no heater.
    Example:
        >>> heater_power(12.0, 24.0)
        6.0
    """
    return voltage**2 / resistance


def ntc_beta(at_25: ArrayLike, beta: ArrayLike, temperature: ArrayLike) -> Any:
    r"""Resistance of a sensor that falls with temperature, from its B constant.

    .. math:: R = R_{25} \exp\left(B \left(\frac{1}{T} - \frac{1}{298.15}\right)\right)

    Args:
        at_25: Resistance at 25 °C, [ohm].
        beta: B, [K].
        temperature: [K].
    Returns:
        Resistance, [ohm].
    Raises:
        OutOfRange: an argument is none of such a sensor.
    Holds for:
        Some tens of degrees about 25 °C; further off the B of the sensor's own sheet changes.
    Example:
        >>> round(ntc_beta(10e3, 3950.0, 273.15), 1)
        33620.6
    """
    ohms = within("at_25", at_25, 1.0, MOST_OHMS, "ohm")
    constant = within("beta", beta, 1000.0, 10000.0, "K")
    return plain(ohms * np.exp(constant * (1.0 / _temperature(temperature) - 1.0 / SENSOR_BASE_TEMPERATURE)))


def steinhart_hart(resistance: ArrayLike, a: float, b: float, c: float) -> Any:
    r"""Temperature of a sensor from its resistance and its three coefficients.

    .. math:: \frac{1}{T} = A + B \ln R + C (\ln R)^3

    Args:
        resistance: [ohm], 1 and more.
        a: A, [1/K].
        b: B, [1/K].
        c: C, [1/K]. All three belong to one part, and to ohm as the unit.
    Returns:
        Temperature, [K].
    Raises:
        OutOfRange: no resistance of a sensor, or coefficients that give no temperature.
    Example:
        >>> round(steinhart_hart(10e3, 1.009249522e-3, 2.378405444e-4, 2.019202697e-7) - 273.15, 3)
        24.681
    """
    log = np.log(within("resistance", resistance, 1.0, MOST_OHMS, "ohm"))
    inverse = a + b * log + c * log**3
    return plain(1.0 / within("1/T", inverse, 1.0 / 700.0, 1.0 / 150.0, "1/K", COEFFICIENT_HINT))


def _temperature(temperature: ArrayLike) -> NDArray[np.float64]:
    return within("temperature", temperature, COLDEST, WARMEST, "K", "20 °C is 293.15 K.")
