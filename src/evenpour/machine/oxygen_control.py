"""Control by an oxygen sensor: the frequency valve's duty, and what it does to the slits' pressure."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser, positive, step

GAIN = 0.7  # share of the slit pressure gained for the whole range of the duty; from memory, not verified
LEAST, MOST = 0.05, 0.95  # duty; common practice, no source
WINDOW = 1.0  # lambda the sensor holds
CORNER = 0.01
STANDS = 0.95  # share of a valve's drive missing, from which it does not answer; common practice, no source
LED = 8  # power: one that still answers a little leads its duty; the house's choice
LISTENS = ("idle_warm", "fast_idle", "road_steady")  # states in which a hot sensor is asked


def drop_factor(cars: Cars, duty: Any) -> Any:
    """Pressure over the slits with the valve at *duty*, over the one without, [-]. Hot.

    Without drive the valve shuts and the lower chambers rise to the system's pressure: of the drop that is
    left what the springs over the diaphragms hold.
    """
    driven, silent = 1.0 + GAIN * (duty + cars["duty_shift"] - 0.5), np.minimum(cars["drive_silent"], 1.0)
    return silent * cars["shut_drop"] + (1.0 - silent) * positive(driven, CORNER)


def listens(cars: Cars, situation: Situation) -> Any:
    """How far the control listens to its sensor, [-]: a full-load switch tells it when not to. Hot.

    One that stays silent lets it listen at full load too; one that is stuck never lets it.
    """
    switch = cars["full_load_switch"]
    if situation.engine == "full_load":
        return np.maximum(-switch, 0.0)
    return 1.0 - np.maximum(switch, 0.0) if situation.engine in LISTENS else 0.0


def told_duty(cars: Cars, situation: Situation) -> Any | None:
    """The duty where no mixture decides on it, [-]: held, or at an end by the sensor's lead; else ``None``.

    Hot.
    """
    held = cars["held_duty"]
    if situation.sensor == "off" or not np.any(listens(cars, situation)):
        return held
    if situation.sensor in ("earthed", "fed"):
        end = MOST if situation.sensor == "earthed" else LEAST
        return held + listens(cars, situation) * (end - held)  # whatever the sensor, which is off
    return None


def next_duty(cars: Cars, situation: Situation, duty: Any, mixture: Any) -> Any:
    """A duty closer to the one that holds the sensor's mixture, [-]. Hot.

    Fuel goes with the root of the slit's pressure, so what is missing in lambda is missing twice in
    pressure; the duty ends where the valve's range does. With a valve that does not answer it goes to the
    end that the sensor asks for.

    Args:
        mixture: Lambda of all cylinders together at *duty*.
    """
    wanted = drop_factor(cars, duty) * (mixture / WINDOW) ** 2
    free = 0.5 + (np.minimum(wanted, 4.0) - 1.0) / GAIN - cars["duty_shift"]
    inside = lesser(LEAST + positive(free - LEAST, CORNER), MOST, CORNER)
    silent = np.minimum(cars["drive_silent"] / STANDS, 1.0) ** LED
    end = LEAST + (MOST - LEAST) * step((mixture - WINDOW) / CORNER)
    inside = (1.0 - silent) * inside + silent * end
    held = cars["held_duty"]
    return held + (1.0 - cars["sensor_dead"]) * listens(cars, situation) * (inside - held)
