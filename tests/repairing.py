"""What repairs cost on average, to prove the order in which they are told."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour.causes.repairs import Repair


def expected_cost(order: Sequence[Repair]) -> float:
    """What it costs on average to repair in this order until it is mended.

    A repair is paid for while none before it has mended the car. What no repair mends is paid for to the end.
    """
    total, open_ = 0.0, 1.0
    for repair in order:
        total += open_ * repair.cost
        open_ -= repair.probability
    return total
