"""How likely causes are before anything is read: shipped weights, moved by one's own confirmed jobs.

The shipped weights count as so many jobs already seen; every confirmed cause counts as one more
(Dirichlet). A cause that sits at a cylinder is counted as one cause: which cylinder it was says nothing of
the next car.
"""

from __future__ import annotations

from collections.abc import Mapping

from evenpour.errors import OutOfRange

#: As many jobs as the shipped weights are worth: a shop's own counts outweigh them after some forty cars.
STRENGTH = 40.0


def learned(
    shipped: Mapping[str, float], counts: Mapping[str, int], strength: float = STRENGTH
) -> dict[str, float]:
    """Probability of each cause, summing to 1.

    Args:
        shipped: Weight of each cause, not negative; they need not sum to 1.
        counts: How often each was confirmed; causes that are not shipped are passed over.
        strength: How many jobs the shipped weights count as, above 0.
    Raises:
        OutOfRange: a weight, a count or the strength is below what it may be; nan counts.
    """
    if not strength > 0.0:
        raise OutOfRange("strength", strength, "is no number of jobs", allowed="above 0")
    for cause, weight in shipped.items():
        _not_negative(f"weight of {cause}", weight)
    for cause, count in counts.items():
        _not_negative(f"count of {cause}", count)
    whole = sum(shipped.values())
    if not whole > 0.0:
        raise OutOfRange("shipped weights", whole, "sum to nothing", allowed="above 0")
    total = strength + sum(counts.get(cause, 0) for cause in shipped)
    return {
        cause: (strength * weight / whole + counts.get(cause, 0)) / total for cause, weight in shipped.items()
    }


def _not_negative(name: str, value: float) -> None:
    if not value >= 0.0:
        raise OutOfRange(name, value, "is below zero", allowed="0 and more")
