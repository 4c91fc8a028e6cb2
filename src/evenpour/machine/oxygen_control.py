"""Control by an oxygen sensor: the frequency valve's duty, and what it does to the pressure over the slits."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser, positive

GAIN = 1.0  # share of the slit pressure gained for the whole range of the duty; from memory, not verified
LEAST, MOST = 0.05, 0.95  # duty; common practice, no source
WINDOW = 1.0  # lambda the sensor holds
CORNER = 0.01
WITHOUT_DRIVE = 0.10  # duty that acts like no drive at all: the valve shuts and the mixture leans out


def drop_factor(cars: Cars, duty: Any) -> Any:
    """Pressure over the slits with the valve at *duty*, over the one without, [-]. Hot."""
    silent = cars["drive_silent"]
    acts = (1.0 - silent) * (duty + cars["duty_shift"]) + silent * WITHOUT_DRIVE
    return np.maximum(1.0 + GAIN * (acts - 0.5), 0.05)


def loop(cars: Cars, situation: Situation, open_mixture: Any) -> Any:
    """Mean duty, [-]. Hot.

    Args:
        open_mixture: Lambda of all cylinders together at the slits' own pressure.
    """
    held = cars["held_duty"]
    if situation.engine not in ("idle_warm", "fast_idle", "road_steady") or situation.sensor == "off":
        return held
    if situation.sensor in ("earthed", "fed"):
        end = MOST if situation.sensor == "earthed" else LEAST
        return held + (1.0 - cars["sensor_dead"]) * (end - held)
    wanted = (open_mixture / WINDOW) ** 2
    duty = 0.5 + (wanted - 1.0) / GAIN - cars["duty_shift"]
    duty = lesser(LEAST + positive(duty - LEAST, CORNER), MOST, CORNER)
    return held + (1.0 - cars["sensor_dead"]) * (duty - held)
