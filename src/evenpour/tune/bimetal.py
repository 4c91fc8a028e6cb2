"""How much control pressure each kelvin of the bimetal brings, where its temperature was logged beside it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenpour.tune.laws import Told
from evenpour.tune.points import MOST_POINTS

Array = NDArray[np.float64]

FOLLOWS = 0.97  # squared correlation from which the pressure follows this temperature and no other
CLIMB = (0.05, 0.85)  # of the pressure's climb: below it nothing moves, above it the plateau may begin
SENSIBLE = (1e3, 2e4)  # Pa/K, 0.01 to 0.2 bar; about 0.05 is usual (from memory)
LEAST_WARMING = 5.0  # K


def slope_fit(temperature: Array, pressure: Array) -> Told | None:
    """Slope of the control pressure over the bimetal's temperature, [Pa/K].

    Args:
        temperature: [K], (n,), in order of time; nan where nothing was read.
        pressure: Gauge, [Pa], (n,).
    Returns:
        ``None`` where the pressure does not follow this temperature in a straight line while it climbs: then
        it is some other temperature.
    """
    there = np.isfinite(temperature) & np.isfinite(pressure)
    temperature, pressure = temperature[there], pressure[there]
    if pressure.size < 12:
        return None
    parts = np.array_split(np.arange(pressure.size), min(MOST_POINTS * 4, pressure.size))
    t = np.array([float(np.mean(temperature[part])) for part in parts])
    p = np.array([float(np.mean(pressure[part])) for part in parts])
    few = max(1, p.size // 40)
    first, last = float(np.median(p[:few])), float(np.median(p[-few:]))
    if last <= first:
        return None
    done = (p - first) / (last - first)
    past = np.flatnonzero(done > CLIMB[1])
    climbing = (done > CLIMB[0]) & (np.arange(p.size) < (past[0] if past.size else p.size))
    t, p = t[climbing], p[climbing]
    if t.size < 5 or np.ptp(t) < LEAST_WARMING or np.corrcoef(t, p)[0, 1] ** 2 < FOLLOWS:
        return None
    away = t - np.mean(t)
    slope = float(away @ p / (away @ away))
    rest = p - np.mean(p) - slope * away
    # Neighbours hang together: a quarter of them is taken as independent.
    u = float(np.sqrt(rest @ rest / max(1.0, 0.25 * t.size - 2.0) / (away @ away)))
    if not SENSIBLE[0] <= slope <= SENSIBLE[1]:
        return None
    return Told(slope, slope - 1.96 * u, slope + 1.96 * u)
