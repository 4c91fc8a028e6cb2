"""Whether fuel boils in the lines of a hot engine that was stopped: what holds it down, less what it pushes
with.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpour.physics.heat import soak_temperature
from evenpour.physics.vapour import COLDEST, WARMEST, true_vapour_pressure_abs
from evenpour.tune.holding_trace import HoldingFit
from evenpour.tune.laws import SEED, Told

Array = NDArray[np.float64]

DRAWS = 4000
# How far the assumptions may be off, standard deviations; common practice, no source.
REID_U = 8e3  # Pa, of one filling against the typical one
SOAK_U = 6.0  # K, of the rail's temperature against the usual course of it


@dataclass(frozen=True, slots=True)
class Margin:
    """Absolute pressure in the line, less the fuel's vapour pressure there.

    Attributes:
        after: Since the stop, [s].
        margin: [Pa]; below zero the fuel boils.
        p_boils: Probability that it does.
        rail: Temperature assumed of the rail, [K].
        vapour: Vapour pressure at it, absolute, [Pa].
    """

    after: float
    margin: Told
    p_boils: float
    rail: float
    vapour: float


def restart_margin(
    fit: HoldingFit,
    after: float,
    ambient: float,
    air_pressure: float,
    reid_pressure: float,
    gauge_u: float = 0.0,
) -> Margin:
    """The margin some time after a hot stop.

    The trace may have been taken cold: the leaks are taken to be the same hot.

    Args:
        after: Since the stop, [s].
        ambient: Air outside, [K].
        air_pressure: Barometer, [Pa].
        reid_pressure: Of the fuel in the tank, [Pa].
        gauge_u: Standard uncertainty of the gauge, [Pa].
    """
    random = np.random.default_rng(SEED)
    held = fit.draws_of_pressure(after, DRAWS, random) + gauge_u * random.standard_normal(DRAWS)
    rail = float(soak_temperature(after, ambient))
    rails = np.clip(rail + SOAK_U * random.standard_normal(DRAWS), COLDEST, WARMEST)
    reids = np.clip(reid_pressure + REID_U * random.standard_normal(DRAWS), 15e3, 140e3)
    margins = held + air_pressure - true_vapour_pressure_abs(reids, rails)
    low, middle, high = np.quantile(margins, [0.025, 0.5, 0.975])
    return Margin(
        after=after,
        margin=Told(float(middle), float(low), float(high)),
        p_boils=float(np.mean(margins < 0.0)),
        rail=rail,
        vapour=float(true_vapour_pressure_abs(reid_pressure, min(rail, WARMEST))),
    )
