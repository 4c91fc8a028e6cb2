"""Cold start: whether the thermo-time switch lets the cold-start valve spray, and for how long."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars

OPENS = 308.15  # K, 35 degC: between the two limits of the usual sheet; common practice, no source
WIDTH = 1.5  # K, of one judgement
CLOSED_AT_MINUS_20 = 8.0  # s the switch stays closed at -20 degC; common practice, no source


def switch_margin(cars: Cars, temperature: Any) -> Any:
    """Order: open, closed; by its distance from the temperature at which it opens, in judgement widths. Hot."""
    follows = np.tanh((OPENS + cars["switch_shift"] - temperature) / (2.0 * WIDTH)) * 3.5
    return follows - 7.0 * cars["switch_open"] + 7.0 * cars["switch_shorted"]


def closed_time(cars: Cars, temperature: Any) -> Any:
    """How long the switch stays closed while cranking, [s]: longer the colder, none above its temperature. Hot."""
    share = np.clip((OPENS + cars["switch_shift"] - temperature) / 55.0, 0.0, 1.5)
    follows = CLOSED_AT_MINUS_20 * share * (1.0 - cars["switch_open"])
    return follows + 12.0 * cars["switch_shorted"]


def primed(cars: Cars, temperature: Any) -> Any:
    """Spray given at a cold start over what it takes, [-]: 1 and more is enough. Hot."""
    needed = np.clip((OPENS - 15.0 - temperature) / 40.0, 0.0, 1.5) * CLOSED_AT_MINUS_20 * 0.6
    given = closed_time(cars, temperature) * cars["cold_start_flow"]
    return (given + 0.4) / (needed + 0.4)
