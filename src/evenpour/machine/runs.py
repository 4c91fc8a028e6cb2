"""Whether an engine runs by itself at all, and whether its pump brings a pressure that could be held."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.readout import Query, Readout
from evenpour.machine.reads_start import STILL_RUNS

WIDTHS = 5.0  # judgement widths, of an idle twice as fast as it needs; common practice, no source


HELD_FROM = 0.5  # of the pressure at which a system shuts, below which nothing is left to be held; the same


def runs(seen: Readout, query: Query) -> Any:
    """Margin by which cars run on in a situation: below zero they stall, or find no balance at all."""
    state = seen.running(query.situation)
    speed = np.where(state.converged, state.speed, 0.0)
    return WIDTHS * (speed / (STILL_RUNS * seen.kind.design.idle_speed) - 1.0)


def presses(seen: Readout, query: Query) -> Any:
    """Margin by which the pump builds up what is then to be held: below zero there was nothing to hold."""
    system = seen.pressures(query.situation).system
    return WIDTHS * (system / (HELD_FROM * seen.cars["shut_pressure"]) - 1.0)
