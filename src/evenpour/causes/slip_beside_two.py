"""Two values exchanged in a car with two causes, which no place of a single cause shows.

One value alone that is odd is seen once it is set aside; of two that were exchanged each still contradicts
what is right, whichever of them is set aside. So every exchange is laid on every two causes, as if effects on
the middle car added.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenpour.causes.explanation import Explanation
from evenpour.causes.screening import Screen, screen, two_words
from evenpour.causes.slip_kinds import Slip, slips_of
from evenpour.causes.two_faults import Beside, best_score

EXCHANGED = 2  # values that an exchange moves


def exchanged_beside_two(
    told: Explanation, prior: float, beside: Beside | None, known: Sequence[Slip]
) -> Slip | None:
    """The exchange of two values with which two causes explain the readings better than any two, or one
    alone, explain them as they are written; None if there is none.

    Args:
        told: The explanation of all readings as they are written.
        prior: Where something is wrong, how likely it is two causes at once, all together.
        beside: What may be so beside any other.
        known: Slips that are looked into anyway.
    """
    slips = [
        one
        for one in slips_of(told.seen.observations, told.middle)
        if len(one.rows) == EXCHANGED and not any(np.array_equal(one.rows, its.rows) for its in known)
    ]
    if not slips:
        return None
    seen = screen(told)
    words = two_words(told, seen, told.noise)
    score, best = max(
        (
            (best_score(told, _meant(told, seen, one), words, prior, beside) + one.log_prior, one)
            for one in slips
        ),
        key=lambda found: found[0],
    )
    return best if score > best_score(told, seen, words, prior, beside) else None


def _meant(told: Explanation, seen: Screen, slip: Slip) -> Screen:
    """The screen of the readings with a slip put right."""
    noise, by = told.noise, np.zeros(len(told.noise.columns))
    by[slip.rows] = (slip.y - noise.columns.y[slip.rows]) * noise.per_sd[slip.rows]
    return seen.moved(by[noise.number])
