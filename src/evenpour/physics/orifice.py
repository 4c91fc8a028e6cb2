"""Flow through openings: liquid through a hole or a slit, air through a hole or a leak.

Two kinds of function: those for the model's inner loop ("hot": total on finite input, no validation, NumPy
out) and those for everybody else, which refuse what has no meaning.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from evenpour.physics.air import GAMMA, R_AIR
from evenpour.physics.within import plain, within

# A plane sharp-edged slit, both ends of its Reynolds number:
SLIT_CONTRACTION = math.pi / (math.pi + 2.0)  # [-], inviscid jet (Kirchhoff's free streamline), 0.6110
SLIT_CREEP = math.pi / 128.0  # [-], Cd / Re in creeping flow, Re with the ideal velocity and twice the width

# Downstream over upstream pressure, both absolute, below which more suction brings no more flow: 0.528282.
CRITICAL_RATIO = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
# Choked flow over area times upstream pressure over root of temperature, [sqrt(K) s/m]: 0.0404143.
CHOKED = math.sqrt(GAMMA / R_AIR) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))
HEAD = 2.0 * GAMMA / ((GAMMA - 1.0) * R_AIR)  # K s²/m²

RATED_DENSITY = 1.185  # kg/m³, reference air of ISO 6358: 20 °C, 1 bar, 65 % humidity
RATED_TEMPERATURE = 293.15  # K


def liquid_flow(
    area: ArrayLike, pressure_drop: ArrayLike, density: ArrayLike, discharge_coefficient: ArrayLike
) -> Any:
    r"""Volume flow of a liquid from a still chamber through an opening.

    .. math:: Q = C_d \, A \, \sqrt{2 \, \Delta p / \rho}

    Args:
        area: Open area, [m²]. Zero is shut.
        pressure_drop: Chamber pressure minus outlet pressure, [Pa]. Not negative.
        density: Liquid density at chamber temperature, [kg/m³].
        discharge_coefficient: Measured flow over ideal flow, [-].
    Returns:
        Volume flow, [m³/s]. A float for scalars, else an array of the shape the arguments broadcast to.
    Raises:
        OutOfRange: an argument lies where the formula has no meaning; nan counts.
    Holds for:
        Liquid that stays liquid, upstream area far larger than the opening.
    Source:
        Bernoulli's equation with a measured coefficient; ISO 5167-1, form of the flow equation at
        expansibility 1 and diameter ratio 0.
    Example:
        >>> round(liquid_flow(0.2e-6, 10e3, 745.0, 0.61) * 60e6, 3)
        37.927
    """
    area = within("area", area, 0.0, 1e-2, "m²", "1 mm² is 1e-6 m².")
    drop = within("pressure_drop", pressure_drop, 0.0, 20e6, "Pa", "Below zero: are the gauges swapped?")
    density = within("density", density, 500.0, 1100.0, "kg/m³", "Water is near 1000.")
    coefficient = within("discharge_coefficient", discharge_coefficient, 0.0, 1.0, "")
    return plain(coefficient * area * np.sqrt(2.0 * drop / density))


def slit_discharge(reynolds: Any) -> Any:
    r"""Discharge coefficient of a sharp-edged metering slit. Hot.

    The pressure drop is taken as the sum of what accelerates the jet and what friction eats at the edges:

    .. math:: 1 = (C_d / C_\infty)^2 + C_d / (c \, Re)

    whose positive root tends to :math:`C_\infty = \pi / (\pi + 2)` for fast flow and to :math:`c\,Re`, a
    flow in proportion to the drop, for creeping flow, with :math:`c = \pi / 128`. Both ends are exact
    solutions for a plane slit in a thin wall; between them the sum is the usual assumption, smooth and rising
    throughout. At 0.1 bar through 0.2 mm friction costs 0.4 %; at a tenth of that drop, 1.1 %.

    Args:
        reynolds: Ideal jet velocity sqrt(2 dp/rho) times hydraulic diameter over kinematic viscosity, [-];
            zero or more.
    Returns:
        Discharge coefficient, [-]; zero at rest.
    Holds for:
        Edges sharp against the width. Real sharp slits overshoot by up to a tenth near Re 100 to 300 before
        they settle (general hydraulics, from memory); that hump is left out, for lack of a measured curve.
    Source:
        Fast end: Kirchhoff's free streamline (Lamb, Hydrodynamics, from memory). Slow end: Stokes flow
        through a slit of width w, dp = 32 mu q / (pi w²) for the flow q per height (Hasimoto 1958, from
        memory; derived again: the velocity in the slit is dp sqrt(w²/4 - x²) / (4 mu)).
    Example:
        >>> round(float(slit_discharge(3454.0)), 4)
        0.6088
    """
    friction = (0.5 * SLIT_CONTRACTION / SLIT_CREEP) / np.maximum(reynolds, 1e-12)
    # Cinf (sqrt(f² + 1) - f), written so that nothing cancels where friction is all.
    return SLIT_CONTRACTION / (np.sqrt(friction * friction + 1.0) + friction)


def gas_flow(area: Any, upstream_abs: Any, downstream_abs: Any, temperature: Any) -> Any:
    r"""Mass flow of air through an ideal nozzle, with choking. Hot.

    .. math:: \dot m = A \, p_1 \sqrt{\frac{2 k}{(k - 1) R T} \left( r^{2/k} - r^{(k+1)/k} \right)},
        \quad r = \max(p_2 / p_1, 0.528282)

    Args:
        area: Open area times its discharge coefficient, [m²].
        upstream_abs: Absolute pressure upstream, [Pa], above zero.
        downstream_abs: Absolute pressure downstream, [Pa]. Above the upstream one nothing flows: turn the
            arguments round for flow the other way.
        temperature: Upstream, [K], above zero.
    Returns:
        Mass flow, [kg/s]: zero at equal pressures, continuous everywhere.
    Holds for:
        Dry air as an ideal gas of k = 1.4 (humid air changes this by less than 1 %), no friction, still air
        upstream.
    Source:
        Isentropic nozzle flow (any text on gas dynamics).
    Example:
        >>> round(float(gas_flow(0.785398e-6, 201325.0, 101325.0, 293.15)) * 1e3, 5)
        0.37323
    """
    ratio = np.clip(downstream_abs / upstream_abs, CRITICAL_RATIO, 1.0)
    # r^(2/k) - r^((k+1)/k) = r^(2/k) (1 - r^((k-1)/k)); with k = 1.4 both powers come from s = r^(1/7):
    # s^10 (1 - s²).
    s2 = ratio ** (2.0 / 7.0)
    s4 = s2 * s2
    head = s4 * s4 * s2 * (1.0 - s2)
    return area * upstream_abs * np.sqrt(HEAD / temperature * head)


def choked_flow(area: Any, upstream_abs: Any, temperature: Any) -> Any:
    """Largest mass flow of air that *area* passes, [kg/s], whatever the pressure downstream. Hot.

    Args:
        area: Open area times its discharge coefficient, [m²].
        upstream_abs: Absolute pressure upstream, [Pa].
        temperature: Upstream, [K].
    Source:
        As :func:`gas_flow`, at the critical pressure ratio 0.528282.
    """
    return CHOKED * area * upstream_abs / np.sqrt(temperature)


def rated_air_flow(
    conductance: ArrayLike,
    critical_ratio: ArrayLike,
    upstream_abs: ArrayLike,
    downstream_abs: ArrayLike,
    temperature: ArrayLike,
) -> Any:
    r"""Mass flow of air through a valve rated by its sonic conductance.

    .. math:: \dot m = C \, p_1 \, \rho_0 \sqrt{T_0 / T_1} \sqrt{1 - \left( \frac{r - b}{1 - b} \right)^2},
        \quad r = \max(p_2 / p_1, b)

    Args:
        conductance: C, [m³/(s Pa)]; 1 dm³/(s bar) is 1e-8.
        critical_ratio: b, downstream over upstream pressure where choking begins, [-], 0 to 0.9.
        upstream_abs: Absolute pressure upstream, [Pa].
        downstream_abs: Absolute pressure downstream, [Pa], at most the upstream one.
        temperature: Upstream, [K].
    Returns:
        Mass flow, [kg/s].
    Raises:
        OutOfRange: an argument lies where the formula has no meaning; nan counts.
    Source:
        ISO 6358 (form seen in public texts): reference air of 1.185 kg/m³ at 293.15 K.
    Example:
        >>> round(rated_air_flow(1e-8, 0.3, 7e5, 5e5, 293.15) * 1e3, 4)
        6.6862
    """
    c = within("conductance", conductance, 0.0, 1e-4, "m³/(s Pa)", "1 dm³/(s bar) is 1e-8.")
    b = within("critical_ratio", critical_ratio, 0.0, 0.9, "")
    upstream = within("upstream_abs", upstream_abs, 1e3, 20e6, "Pa", "Absolute pressure.")
    downstream = within("downstream_abs", downstream_abs, 0.0, 20e6, "Pa", "Absolute pressure.")
    ratio = within("downstream_abs/upstream_abs", downstream / upstream, 0.0, 1.0, "")
    kelvin = within("temperature", temperature, 200.0, 400.0, "K", "20 °C is 293.15 K.")
    choked = c * upstream * RATED_DENSITY * np.sqrt(RATED_TEMPERATURE / kelvin)
    return plain(choked * np.sqrt(1.0 - np.square((np.maximum(ratio, b) - b) / (1.0 - b))))
