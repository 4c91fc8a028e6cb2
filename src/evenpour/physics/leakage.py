r"""How a shut-off pressure falls through its leaks.

A store of capacity C (volume per pressure) empties through a leak like a hole, whose flow goes with the root
of the pressure, and one like a long narrow gap, whose flow goes with the pressure itself:

.. math:: C \, \dot p = -(a \sqrt p + b \, p)

With :math:`u = \sqrt p` this is linear, :math:`\dot u = -(a + b u) / (2 C)`, so everything here is exact. All
functions are hot: total on finite input of the signs stated, no validation, NumPy out.

Source: the two ends are textbook laws (orifice; Poiseuille's gap); their sum is solved here.
"""

from __future__ import annotations

from typing import Any

import numpy as np


def pressure_after(start: Any, time: Any, capacity: Any, orifice_term: Any, laminar_term: Any) -> Any:
    """Gauge pressure left after *time*, [Pa].

    Args:
        start: Gauge pressure at time zero, [Pa]; below zero counts as zero.
        time: [s], zero or more.
        capacity: Volume that leaves per drop of pressure, [m³/Pa], above zero.
        orifice_term: a, flow of the holes over the root of pressure, [m³/(s sqrt(Pa))], zero or more:
            Cd A sqrt(2 / density).
        laminar_term: b, flow of the gaps over pressure, [m³/(s Pa)], zero or more.
    Returns:
        Pressure, from *start* down to zero, where it stays.
    Example:
        >>> round(float(pressure_after(5e5, 240.0, 1e-10, 0.0, 1e-10 / 240.0)), 1)
        183939.7
    """
    root = np.sqrt(np.maximum(start, 0.0))
    pace = time / (2.0 * capacity)
    decay = laminar_term * pace
    left = root * np.exp(-decay) - orifice_term * pace * _spent(decay)
    return np.square(np.maximum(left, 0.0))


def time_to_reach(start: Any, end: Any, capacity: Any, orifice_term: Any, laminar_term: Any) -> Any:
    """Time until the pressure has fallen from *start* to *end*, [s].

    Args:
        start: Gauge pressure at time zero, [Pa]; below zero counts as zero.
        end: Gauge pressure asked for, [Pa]; below zero counts as zero.
        capacity: As in :func:`pressure_after`.
        orifice_term: As in :func:`pressure_after`.
        laminar_term: As in :func:`pressure_after`.
    Returns:
        Time; zero where *end* is not below *start*, infinity where it is never reached.
    Example:
        >>> round(float(time_to_reach(5e5, 2.5e5, 1e-10, 0.0, 1e-10 / 240.0)), 2)
        166.36
    """
    high = np.sqrt(np.maximum(start, 0.0))
    low = np.minimum(np.sqrt(np.maximum(end, 0.0)), high)
    flow = orifice_term + laminar_term * low  # over u, at the end
    with np.errstate(divide="ignore", invalid="ignore"):
        rise = laminar_term * (high - low) / flow
        share = np.where(rise > 0.0, np.log1p(rise) / rise, 1.0)
        time = 2.0 * capacity * (high - low) / flow * share
    never = (flow == 0.0) & (high > low)
    return np.where(high > low, np.where(never, np.inf, time), 0.0)


def leak_flow(pressure: Any, orifice_term: Any, laminar_term: Any) -> Any:
    """Volume flow that leaves at *pressure*, [m³/s]; none below zero gauge."""
    push = np.maximum(pressure, 0.0)
    return orifice_term * np.sqrt(push) + laminar_term * push


def _spent(decay: Any) -> Any:
    """(1 - exp(-x)) / x, which is 1 at zero."""
    tiny = 1e-300  # expm1 returns it exactly, so 0/0 becomes 1
    return -np.expm1(-np.maximum(decay, tiny)) / np.maximum(decay, tiny)
