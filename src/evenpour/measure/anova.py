"""Scatter between and within groups, the classical one-way analysis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evenpour.errors import FieldProblem


@dataclass(frozen=True, slots=True)
class OneWay:
    """Sums of squares and what follows from them, in the square of the response's unit."""

    between: float
    within: float
    dof_between: int
    dof_within: int

    @property
    def f(self) -> float:
        """Mean square between over mean square within; infinite if the groups have no scatter at all."""
        inside = self.within / self.dof_within
        return self.between / self.dof_between / inside if inside > 0.0 else math.inf

    @property
    def p(self) -> float:
        """Probability of so large an F if the groups do not differ."""
        from scipy.special import fdtrc  # slow to load, and many answers need none

        return float(fdtrc(self.dof_between, self.dof_within, self.f)) if math.isfinite(self.f) else 0.0

    @property
    def r_squared(self) -> float:
        return self.between / (self.between + self.within)

    @property
    def sd_within(self) -> float:
        """Standard deviation within groups."""
        return math.sqrt(self.within / self.dof_within)


def one_way(groups: Sequence[Sequence[float]], *, spent: int = 0) -> OneWay:
    """One-way analysis of variance.

    Sums of squares are taken about means of values from which the first one was subtracted: the short-cut of
    subtracting two large sums loses all digits when the values share a large constant.

    Args:
        groups: Responses by group; at least two groups, and more values than groups.
        spent: Degrees of freedom already used inside the groups, by levels that were fitted and taken out
            before.
    Raises:
        FieldProblem: too few groups or values.
    Source:
        Form of NIST StRD, one-way analysis of variance; checked against its certified values.
    """
    filled = [group for group in groups if group]
    count = sum(len(group) for group in filled)
    inside = count - len(filled) - spent
    if len(filled) < 2 or inside < 1:
        raise FieldProblem("groups", len(filled), "are too few", remedy="Two groups and a repeat are needed.")
    origin = filled[0][0]
    shifted = [[value - origin for value in group] for group in filled]
    means = [math.fsum(group) / len(group) for group in shifted]
    grand = math.fsum(value for group in shifted for value in group) / count
    between = math.fsum(len(group) * (mean - grand) ** 2 for group, mean in zip(shifted, means, strict=True))
    within = math.fsum(
        (value - mean) ** 2 for group, mean in zip(shifted, means, strict=True) for value in group
    )
    return OneWay(between, within, len(filled) - 1, inside)
