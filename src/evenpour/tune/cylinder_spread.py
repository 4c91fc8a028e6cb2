"""One figure for each cylinder: how far each lies from the others, and which one stands out.

Compression, leak-down and the fall of speed are compared between cylinders. Among six of them chance alone
sets one apart, so *standing out* asks for more than a difference: for half of the spread the sheet allows.
Each is held beside the middle one of the others, which one bad cylinder cannot move.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from evenpour.measure.verdicts import SURE, p_conform

SURELY_APART = 3.0  # standard uncertainties; of twelve equal cylinders chance sets one so far off in 60 tries


@dataclass(frozen=True, slots=True)
class Apart:
    """One cylinder beside the others.

    Attributes:
        worse: By how much it is worse than the middle one of the others, in the unit of the values; below
            zero it is better.
        u: Standard uncertainty of *worse*.
        p: Probability that it is worse by more than half of the allowed spread; ``None`` without a limit.
    """

    worse: float
    u: float
    p: float | None

    @property
    def stands_out(self) -> bool:
        """Whether it surely does."""
        return self.p is not None and self.p >= SURE

    @property
    def differs(self) -> bool:
        """Whether it is worse than the others by more than chance; what that matters no limit says."""
        return self.p is None and self.worse > SURELY_APART * self.u


def apart(
    values: Mapping[int, tuple[float, float]], *, low_is_bad: bool, allowed: float | None
) -> dict[int, Apart]:
    """How far each cylinder lies from the middle one of the others.

    Args:
        values: By cylinder: value and standard uncertainty, in one unit; two and more.
        low_is_bad: Whether the smaller value is the worse one, as of compression.
        allowed: Largest spread the sheet allows, same unit; ``None`` where it says nothing.
    Returns:
        By cylinder; empty for fewer than two.
    """
    found: dict[int, Apart] = {}
    for cylinder, (value, u) in values.items():
        others = [one for number, one in values.items() if number != cylinder]
        if not others:
            continue
        middle = median(other for other, _ in others)
        worse = middle - value if low_is_bad else value - middle
        doubt = math.hypot(u, _u_of_middle([u_other for _, u_other in others]))
        p = None if allowed is None else p_conform(worse, doubt, 0.5 * allowed, None)
        found[cylinder] = Apart(worse, doubt, p)
    return found


def _u_of_middle(each: Sequence[float]) -> float:
    """Standard uncertainty of the middle of normal values: √(π/2) times their mean's, of many; less of few.

    Source:
        Large-sample variance of a median, a textbook's; of three to nine values it is 3 to 15 % too wide.
    """
    if len(each) < 3:  # the middle is the mean
        return math.hypot(*each) / len(each)
    return math.sqrt(0.5 * math.pi) * math.hypot(*each) / len(each)


def outstanding(found: Mapping[int, Apart]) -> tuple[int, ...]:
    """The cylinders that stand out, the worst first."""
    return tuple(sorted((one for one in found if found[one].stands_out), key=lambda one: -found[one].worse))
