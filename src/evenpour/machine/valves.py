"""What a valve's clearance takes from the compression: nothing, as long as there is any left."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Cars
from evenpour.machine.smooth import positive

# Of the right clearance, what a warm engine at rest has used up: the valves grow, and a head of light alloy
# gives most of it back. Common practice, no source.
GROWS = 0.2
# m, by which a valve held off its seat lets out all but a third of a charge while the starter turns:
# estimated from a seat of 35 mm, a cylinder of 0.4 litres, and 250 1/min; not verified.
HELD_OPEN = 0.1e-3
CORNER = 0.01  # of the right clearance, over which a valve comes off its seat


def seated(kind: Kind, cars: Cars) -> Any:
    """Share of the compression that warm valves leave, (cylinders, cars), [-]. Hot.

    A valve with any clearance seats, however little or much that is; one with none left is held open, and
    what two lose adds. Too wide is noisy and shuts the valve a little early; the charge that costs is less
    than one can read.
    """
    inlet = positive(GROWS - cars["valve_clearance"], CORNER) * kind.clearance
    exhaust = positive(GROWS - cars["exhaust_clearance"], CORNER) * kind.exhaust_clearance
    return np.exp((inlet + exhaust) / -HELD_OPEN)
