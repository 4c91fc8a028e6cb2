"""Bodies that warm and cool: one with a heater, two coupled ones, and the fuel rail after a hot stop.

Lumped bodies: each has one temperature, and heat flows in proportion to a difference of temperature. Every
function here is called in the model's inner loop: nothing is checked, the result is finite for all finite
arguments with capacities, conductances and time constants above zero, and arrays of any shapes that
broadcast go in and come out. Temperatures may be in kelvin or degrees Celsius, as long as all are alike.

Source: Newton's law of cooling and its solution; the two bodies by the eigenvalues of a 2 x 2 matrix, as in
    any text on linear differential equations. Nothing here is fitted, save the soak's defaults.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Values = float | NDArray[np.float64]

TINY = 1e-300  # keeps 0/0 at its limit; the smallest that expm1 still returns exactly

# A fuel rail above a hot engine that was stopped: common practice, no source. With these the rail climbs for
# about 28 minutes and cools again over hours.
RAIL_RISE = 25.0  # K; a running rail over the air outside, cooled by the fuel that passes
ENGINE_TEMPERATURE = 363.15  # K, 90 degC
BAY_SHARE = 0.8  # of the engine's excess over the air outside, met in the air around the rail
RAIL_TIME = 900.0  # s, the rail after the air around it
ENGINE_TIME = 7200.0  # s, the engine after the air outside


def first_order(time: Values, start: Values, end: Values, time_constant: Values) -> Any:
    r"""What goes from *start* towards *end* at a rate in proportion to what is left. Hot.

    .. math:: y = y_{end} + (y_{start} - y_{end}) e^{-t/\tau}

    Args:
        time: Since the start, [s]; not negative.
        start: Value at time zero, any unit.
        end: Value after a long time, the same unit.
        time_constant: Time in which 63.2 % of the way is gone, [s]; above zero.
    Returns:
        Value at *time*, in the unit of *start*.
    Example:
        >>> round(float(first_order(600.0, 90.0, 20.0, 600.0)), 6)
        45.751561
    """
    return end + (start - end) * np.exp(-time / time_constant)


def time_to_warm(target: Values, start: Values, end: Values, time_constant: Values) -> Any:
    r"""How long a body that goes from *start* towards *end* stays below *target*. Hot.

    .. math:: t = \tau \ln\frac{y_{end} - y_{start}}{y_{end} - y_{target}}

    Args:
        target: Temperature to be reached.
        start: Temperature at time zero.
        end: Temperature after a long time.
        time_constant: [s]; above zero.
    Returns:
        Time, [s]: zero where *start* is no colder than *target*, infinite where *end* is no warmer.
    Example:
        >>> round(float(time_to_warm(35.0, 20.0, 140.0, 60.0)), 2)
        8.01
    """
    missing = np.maximum(target - start, 0.0)
    left = np.asarray(end - target)
    reached = time_constant * np.log1p(missing / np.where(left > 0.0, left, 1.0))
    return np.where(missing == 0.0, 0.0, np.where(left > 0.0, reached, np.inf))


def heated_body(
    time: Values,
    start: Values,
    ambient: Values,
    power: Values,
    capacity: Values,
    loss: Values,
) -> Any:
    r"""Temperature of one body with a heater of constant power. Hot.

    .. math:: C \dot T = P - G (T - T_a)

    Args:
        time: Since the heater was switched on, [s]; not negative.
        start: Temperature of the body at time zero.
        ambient: Temperature of what it stands in.
        power: Heat put in, [W]; zero is a body that only follows its surroundings.
        capacity: Heat capacity of the body, [J/K]; above zero.
        loss: Conductance from the body to its surroundings, [W/K]; above zero.
    Returns:
        Temperature at *time*, in the unit of *start*.
    Example:
        >>> round(float(heated_body(60.0, 20.0, 20.0, 12.0, 6.0, 0.1)), 2)
        95.85
    """
    return first_order(time, start, ambient + power / loss, capacity / loss)


def two_bodies(
    time: Values,
    start: Values,
    ambient: Values,
    power: Values,
    capacity: Values,
    body_capacity: Values,
    link: Values,
    loss: Values,
    body_start: Values | None = None,
) -> Any:
    r"""Temperature of a heated strip in a body that stands in air, such as a regulator's bimetal. Hot.

    .. math:: C_s \dot T_s = P - G_l (T_s - T_b), \qquad C_b \dot T_b = G_l (T_s - T_b) - G_a (T_b - T_a)

    With x the distances from the steady state (:func:`two_bodies_steady`) and A the matrix of rates, x at
    *time* is exp(-A t) x(0). Its two eigenvalues m - d and m + d are always real; written with
    (1 - exp(-2dt)) / 2d the solution stays exact when they nearly coincide, and the slow one is taken as
    det(A) / (m + d), so that a small rate beside a large one loses no digits.

    Args:
        time: Since the heater's power came to be, [s]; finite, not negative.
        start: Temperature of the strip at time zero.
        ambient: Temperature of what the body stands in.
        power: Heat put into the strip, [W].
        capacity: Heat capacity of the strip, [J/K]; above zero.
        body_capacity: Heat capacity of the body, [J/K]; above zero.
        link: Conductance from strip to body, [W/K]; above zero.
        loss: Conductance from body to surroundings, [W/K]; above zero.
        body_start: Temperature of the body at time zero; where left out, that of the strip (it has stood).
    Returns:
        Temperature of the strip at *time*, in the unit of *start*.
    Example:
        >>> round(float(two_bodies(120.0, 20.0, 20.0, 8.0, 8.0, 200.0, 0.2, 0.5)), 3)
        59.791
    """
    strip_end, body_end = two_bodies_steady(ambient, power, link, loss)
    strip = start - strip_end
    body = (start if body_start is None else body_start) - body_end
    out = link / capacity  # of the strip
    back = link / body_capacity  # of the body, to the strip
    away = loss / body_capacity  # of the body, to the air
    half = 0.5 * (out - back - away)
    apart = np.sqrt(half * half + out * back)
    mean = 0.5 * (out + back + away)
    slow = np.exp(-time * (out * away / (mean + apart)))
    twice = 2.0 * apart * time + TINY
    spread = -np.expm1(-twice)  # 1 - exp(-2dt)
    # cosh(dt) and sinh(dt)/d, both times exp(-mt)
    even = slow * (1.0 - 0.5 * spread)
    odd = slow * time * (spread / twice)
    return strip_end + even * strip - odd * (half * strip - out * body)


def two_bodies_steady(ambient: Values, power: Values, link: Values, loss: Values) -> Any:
    """Temperatures of strip and body after a long time, arguments as in :func:`two_bodies`. Hot.

    Returns:
        Pair (strip, body), in the unit of *ambient*.
    Example:
        >>> strip, body = two_bodies_steady(20.0, 8.0, 0.2, 0.5)
        >>> float(strip), float(body)
        (76.0, 36.0)
    """
    body = ambient + power / loss
    return body + power / link, body


def soak_temperature(
    time: Values,
    ambient: Values,
    rail_rise: Values = RAIL_RISE,
    engine: Values = ENGINE_TEMPERATURE,
    bay_share: Values = BAY_SHARE,
    rail_time: Values = RAIL_TIME,
    engine_time: Values = ENGINE_TIME,
) -> Any:
    r"""Temperature of the fuel rail after a hot engine was stopped. Hot.

    The engine cools slowly; the air shut in above it takes a share of its heat; the rail, no longer cooled by
    passing fuel, follows that air:

    .. math:: T = T_a + r e^{-t/\tau_r} + s (T_e - T_a) \frac{k_r}{k_r - k_e} (e^{-k_e t} - e^{-k_r t})

    Args:
        time: Since the stop, [s]; finite, not negative.
        ambient: Air outside, [K].
        rail_rise: Rail over the air outside at the moment of the stop, r, [K].
        engine: Engine at the moment of the stop, [K].
        bay_share: Share s of the engine's excess over the air outside that the air round the rail takes, [-].
        rail_time: Time constant of the rail, 1/k_r, [s]; above zero.
        engine_time: Time constant of the engine, 1/k_e, [s]; above zero.
    Returns:
        Temperature of the rail, [K].
    Holds for:
        Bonnet shut, no fan running on. The defaults are common practice without a source: a peak some 20 to
        40 minutes after the stop, 60 to 75 degC in a temperate summer. A thermometer on the rail is better.
    Example:
        >>> round(float(soak_temperature(1800.0, 293.15)) - 273.15, 1)
        64.6
    """
    follows, cools = 1.0 / rail_time, 1.0 / engine_time
    # (exp(-k_e t) - exp(-k_r t)) / (k_r - k_e), as exp(-slower t) times (1 - exp(-z)) / z, z = |k_r - k_e| t
    apart = np.abs(follows - cools) * time + TINY
    taken = follows * time * np.exp(-np.minimum(follows, cools) * time) * (-np.expm1(-apart) / apart)
    return ambient + rail_rise * np.exp(-follows * time) + bay_share * (engine - ambient) * taken
