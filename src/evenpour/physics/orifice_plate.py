"""Flow through a metering orifice plate in a pipe, after ISO 5167-2."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenpour.physics.within import plain, within

STEPS = 30  # of the iteration; each leaves about a hundredth of the difference before
SETTLED = 1e-13  # of the coefficient


class Taps(NamedTuple):
    """Where the pressures are taken, in pipe diameters from the plate's two faces."""

    upstream: float
    downstream: float


CORNER = Taps(0.0, 0.0)
D_AND_HALF_D = Taps(1.0, 0.47)


def flange(pipe_diameter: float) -> Taps:
    """Taps one inch from either face."""
    return Taps(0.0254 / pipe_diameter, 0.0254 / pipe_diameter)


def plate_discharge(
    diameter_ratio: ArrayLike, reynolds: ArrayLike, pipe_diameter: ArrayLike, taps: Taps = CORNER
) -> Any:
    r"""Discharge coefficient of an orifice plate (Reader-Harris/Gallagher, 1998).

    Args:
        diameter_ratio: Bore over pipe, [-], 0.1 to 0.75.
        reynolds: Of the pipe, [-], 1e3 and more; the standard begins at 5000.
        pipe_diameter: [m], 0.05 to 1.
        taps: Where the pressures are taken.
    Returns:
        Coefficient, [-].
    Raises:
        OutOfRange: outside what the standard covers; nan counts. Holes of a millimetre are far outside it.
    Source:
        ISO 5167-2:2003, 5.3.2.1; coefficients from memory, agreeing with fluids to all digits.
    Example:
        >>> round(plate_discharge(0.5, 101651.0, 0.1), 6)
        0.606836
    """
    beta = within("diameter_ratio", diameter_ratio, 0.1, 0.75, "")
    re = within("reynolds", reynolds, 1e3, 1e9, "")
    pipe = within("pipe_diameter", pipe_diameter, 0.05, 1.0, "m", "50 mm is 0.05.")
    return plain(_coefficient(beta, re, pipe, taps))


def _coefficient(beta: Any, re: Any, pipe: Any, taps: Taps) -> Any:
    b4 = beta**4
    a = (19000.0 * beta / re) ** 0.8
    m2 = 2.0 * taps.downstream / (1.0 - beta)
    far = 0.5961 + 0.0261 * beta**2 - 0.216 * beta**8
    slow = 0.000521 * (1e6 * beta / re) ** 0.7 + (0.0188 + 0.0063 * a) * beta**3.5 * (1e6 / re) ** 0.3
    up = 0.043 + 0.080 * math.exp(-10.0 * taps.upstream) - 0.123 * math.exp(-7.0 * taps.upstream)
    up_tap = up * (1.0 - 0.11 * a) * b4 / (1.0 - b4)
    down_tap = -0.031 * (m2 - 0.8 * m2**1.1) * beta**1.3
    small_pipe = 0.011 * (0.75 - beta) * np.maximum(2.8 - pipe / 0.0254, 0.0)  # below 71.12 mm
    return far + slow + up_tap + down_tap + small_pipe


def expansibility(
    diameter_ratio: ArrayLike,
    upstream_abs: ArrayLike,
    downstream_abs: ArrayLike,
    isentropic_exponent: ArrayLike,
) -> Any:
    r"""Factor by which a gas, growing lighter in the bore, passes less than a liquid would.

    .. math:: \epsilon = 1 - (0.351 + 0.256 \beta^4 + 0.93 \beta^8) \left( 1 - (p_2/p_1)^{1/\kappa} \right)

    Args:
        diameter_ratio: Bore over pipe, [-], 0.1 to 0.75.
        upstream_abs: Absolute pressure at the upstream tap, [Pa].
        downstream_abs: The same downstream, at least 0.75 of upstream.
        isentropic_exponent: 1.4 for air, [-].
    Returns:
        Factor, [-], 1 at equal pressures.
    Raises:
        OutOfRange: outside what the standard covers; nan counts.
    Source:
        ISO 5167-2:2003, 5.3.2.2.
    Example:
        >>> round(expansibility(22.2 / 73.9, 100e3, 99e3, 1.4), 6)
        0.997474
    """
    beta = within("diameter_ratio", diameter_ratio, 0.1, 0.75, "")
    upstream = within("upstream_abs", upstream_abs, 1e3, 100e6, "Pa", "Absolute pressure.")
    downstream = within("downstream_abs", downstream_abs, 1e3, 100e6, "Pa", "Absolute pressure.")
    ratio = within("downstream_abs/upstream_abs", downstream / upstream, 0.75, 1.0, "")
    kappa = within("isentropic_exponent", isentropic_exponent, 1.0, 2.0, "")
    b4 = beta**4
    return plain(1.0 - (0.351 + 0.256 * b4 + 0.93 * b4 * b4) * (1.0 - ratio ** (1.0 / kappa)))


def plate_flow(
    pipe_diameter: float,
    bore: float,
    pressure_drop: ArrayLike,
    density: float,
    viscosity: float,
    taps: Taps = CORNER,
    expansibility: float = 1.0,
) -> Any:
    r"""Mass flow that an orifice plate's pressure drop tells, [kg/s].

    .. math:: \dot m = \frac{C}{\sqrt{1 - \beta^4}} \epsilon \frac{\pi}{4} d^2 \sqrt{2 \Delta p \rho}

    C depends on the flow itself through the Reynolds number, a little: solved by repeating.

    Args:
        pipe_diameter: [m].
        bore: Of the plate, [m].
        pressure_drop: [Pa], above zero.
        density: Upstream, [kg/m³].
        viscosity: Dynamic, [Pa s].
        taps: Where the pressures are taken.
        expansibility: From :func:`expansibility`; 1 for a liquid.
    Raises:
        OutOfRange: outside what the standard covers; nan counts.
    Source:
        ISO 5167-1, equation 1; ISO 5167-2.
    Example:
        >>> round(plate_flow(0.1, 0.05, 25e3, 998.2, 1.002e-3), 4)
        8.6911
    """
    beta = within("bore/pipe_diameter", bore / pipe_diameter, 0.1, 0.75, "")
    pipe = within("pipe_diameter", pipe_diameter, 0.05, 1.0, "m", "50 mm is 0.05.")
    drop = within("pressure_drop", pressure_drop, 1e-3, 100e6, "Pa")
    ideal = expansibility * 0.25 * math.pi * bore**2 * np.sqrt(2.0 * drop * density / (1.0 - beta**4))
    coefficient: NDArray[np.float64] = np.full_like(ideal, 0.6)
    for _ in range(STEPS):
        reynolds = 4.0 * coefficient * ideal / (math.pi * pipe_diameter * viscosity)
        before, coefficient = coefficient, _coefficient(beta, reynolds, pipe, taps)
        if np.all(np.abs(coefficient - before) <= SETTLED):
            break
    within("reynolds", reynolds, 1e3, 1e9, "", "Too slow for this plate.")
    return plain(coefficient * ideal)
