"""In which order to repair.

With one fault, and repairs that cost and either mend it or do not, the cheapest order on average goes by
probability over cost. It does not hold where repairs share work, or where a check between them tells more.

Source: Kadane and Simon 1977; Kalagnanam and Henrion 1990; Heckerman, Breese and Rommelse, CACM 38(3) 1995
(the rule as citing papers give it).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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
