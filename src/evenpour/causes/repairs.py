"""In which order to repair, and when a repair is worth more than another check.

With one fault, and repairs that cost and either mend it or do not, the cheapest order on average goes by
probability over cost. It does not hold where repairs share work, or where a check between them tells more.

Source: Kadane and Simon 1977; Kalagnanam and Henrion 1990; Heckerman, Breese and Rommelse, CACM 38(3) 1995
(the rule as citing papers give it).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.problem import Array
from evenpour.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class Repair:
    """Something that would mend the car with some probability, for what it costs (minutes, or money)."""

    remedy: str
    probability: float
    cost: float

    @property
    def worth(self) -> float:
        """Probability over cost."""
        return self.probability / self.cost


def in_order(probability: Mapping[str, float], cost: Mapping[str, float]) -> list[Repair]:
    """Repairs, best first: by probability over cost; equal ones as they came.

    Args:
        probability: Of each remedy being the one that mends; remedies without a cost (nothing wrong) are left
            out.
        cost: Of each remedy, above zero, all in one unit.
    Raises:
        OutOfRange: a cost is not above zero; nan counts.
    """
    for remedy, price in cost.items():
        if not price > 0.0:
            raise OutOfRange(f"cost of {remedy}", price, "is no cost", allowed="above 0")
    listed = [Repair(remedy, p, cost[remedy]) for remedy, p in probability.items() if remedy in cost]
    return sorted(listed, key=lambda repair: -repair.worth)


def expected_cost(order: Sequence[Repair]) -> float:
    """What it costs on average to repair in this order until it is mended.

    A repair is paid for while none before it has mended the car. What no repair mends is paid for to the end.
    """
    total, open_ = 0.0, 1.0
    for repair in order:
        total += open_ * repair.cost
        open_ -= repair.probability
    return total


def expected_costs(probability: Array, cost: Array) -> Array:
    """The same for many cars at once, each in its own best order: (..., R) and (R,) to (...)."""
    order = np.argsort(-probability / cost, axis=-1, kind="stable")
    sorted_p = np.take_along_axis(probability, order, axis=-1)
    open_ = 1.0 - np.concatenate(
        [np.zeros((*probability.shape[:-1], 1)), np.cumsum(sorted_p, axis=-1)[..., :-1]], axis=-1
    )
    return np.asarray((open_ * cost[order]).sum(axis=-1))


def saved_by_outcomes(weight: Array, remedy: Array, chance: Array, cost: Array) -> float:
    """How much less repairing costs on average once an outcome is known.

    Args:
        weight: Of the cases, (n,), summing to 1.
        remedy: Which remedy mends each, (n, R): 1 or 0; a row of zeros needs none.
        chance: Of every outcome in every case, (n, c).
        cost: Of each remedy, (R,).
    """
    joint = (weight[:, None] * chance).T  # (c, n)
    whole = joint.sum(axis=1)
    some = whole > 0.0
    after = (joint[some] / whole[some, None]) @ remedy
    before = float(expected_costs(weight @ remedy, cost))
    return before - float(whole[some] @ expected_costs(after, cost))


def worth_repairing(repairs: Sequence[Repair], saved: float, minutes: float) -> bool:
    """Whether to repair now: no check saves more than it costs.

    Args:
        repairs: In order; without any there is nothing to do.
        saved: What the best check saves on average, in minutes of repair.
        minutes: What that check costs.
    """
    return bool(repairs) and saved <= minutes
