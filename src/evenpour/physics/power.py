"""Power measured on a given day, referred to a standard day's air."""

from __future__ import annotations

from typing import Any

from numpy.typing import ArrayLike

from evenpour.physics.within import plain, within

STANDARD_DRY_PRESSURE = 99e3  # Pa
STANDARD_TEMPERATURE = 298.0  # K, 25 °C
VALID = (0.93, 1.07)  # ISO 1585 allows no correction beyond these


def power_correction(dry_pressure_abs: ArrayLike, temperature: ArrayLike) -> Any:
    r"""Factor from measured power of a petrol engine at full load to power on a standard day (ISO 1585).

    .. math:: \alpha_a = (99 / p_s)^{1.2} \, (T / 298)^{0.6}

    Args:
        dry_pressure_abs: Barometer minus the pressure of the water vapour in the air, [Pa], 50e3 to 120e3.
        temperature: Of the air at the intake, [K], 230 to 330.
    Returns:
        Factor, [-]; whether the standard allows it is :func:`is_allowed`.
    Raises:
        OutOfRange: an argument lies outside; nan counts.
    Source:
        ISO 1585, also UN Regulation 85 and Directive 80/1269/EEC (from memory, not verified).
    Example:
        >>> round(power_correction(95e3, 303.0), 4)
        1.0613
    """
    pressure, kelvin = _air(dry_pressure_abs, temperature)
    return plain((STANDARD_DRY_PRESSURE / pressure) ** 1.2 * (kelvin / STANDARD_TEMPERATURE) ** 0.6)


def power_correction_j1349(dry_pressure_abs: ArrayLike, temperature: ArrayLike) -> Any:
    r"""The same after SAE J1349 (edition of June 1990), which leaves the friction uncorrected.

    .. math:: CF = 1.180 \, (990 / p_d) \sqrt{T / 298} - 0.18

    Args:
        dry_pressure_abs: As in :func:`power_correction`; the formula has it in hPa.
        temperature: As in :func:`power_correction`.
    Returns:
        Factor, [-].
    Raises:
        OutOfRange: an argument lies outside; nan counts.
    Source:
        SAE J1349 JUN90, as seen in two secondary copies.
    Example:
        >>> round(power_correction_j1349(95e3, 303.0), 4)
        1.06
    """
    pressure, kelvin = _air(dry_pressure_abs, temperature)
    return plain(1.18 * (STANDARD_DRY_PRESSURE / pressure) * (kelvin / STANDARD_TEMPERATURE) ** 0.5 - 0.18)


def is_allowed(factor: float) -> bool:
    """Whether ISO 1585 lets a test be corrected by *factor*: beyond 7 % the air was too odd."""
    return VALID[0] <= factor <= VALID[1]


def _air(dry_pressure_abs: ArrayLike, temperature: ArrayLike) -> tuple[Any, Any]:
    return (
        within("dry_pressure_abs", dry_pressure_abs, 50e3, 120e3, "Pa", "99 kPa is 99e3."),
        within("temperature", temperature, 230.0, 330.0, "K", "25 °C is 298 K."),
    )
