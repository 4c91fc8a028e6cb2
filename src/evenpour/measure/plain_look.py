"""The classical second opinion shown beside the inference: repeat scatter, and the one that sticks out.

Neither feeds the verdict. Both are blind where few cylinders are caught, and say so in their numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evenpour.errors import FieldProblem
from evenpour.measure.anova import OneWay, one_way
from evenpour.measure.catches import Run
from evenpour.measure.uncertainty import student_quantile


@dataclass(frozen=True, slots=True)
class Outlier:
    """Grubbs' statistic of the value farthest from the mean, with its two-sided critical value."""

    position: int
    g: float
    critical: float
    largest_possible: float  # (n - 1) / sqrt(n): with 3 or 4 values hardly above the critical value

    @property
    def sticks_out(self) -> bool:
        return self.g > self.critical


def grubbs(values: Sequence[float]) -> tuple[int, float]:
    """Index of the value farthest from the mean, and its distance in sample standard deviations."""
    n = len(values)
    if n < 3:
        raise FieldProblem("values", n, "are too few", allowed="three or more")
    mean = math.fsum(values) / n
    sd = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (n - 1))
    far = max(range(n), key=lambda index: abs(values[index] - mean))
    return far, abs(values[far] - mean) / sd if sd > 0.0 else 0.0


def grubbs_critical(n: int, alpha: float = 0.05, *, two_sided: bool = True) -> float:
    r"""Critical value of Grubbs' statistic.

    .. math:: G = \\frac{n-1}{\\sqrt n}\\sqrt{\\frac{t^2}{n-2+t^2}}

    with t at alpha / n (one-sided) or alpha / 2n (two-sided), n - 2 degrees of freedom.

    Source:
        NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1.
    Example:
        >>> round(grubbs_critical(8, two_sided=False), 4)
        2.0317
    """
    if n < 3:
        raise FieldProblem("n", n, "values are too few", allowed="three or more")
    t = student_quantile(1.0 - alpha / (2.0 * n if two_sided else n), n - 2)
    return (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t))


def outlier(run: Run) -> Outlier | None:
    """The rate that sticks out most in one run; ``None`` with fewer than three amounts."""
    known = [(position, rate) for position, rate in enumerate(run.rates) if rate is not None]
    if len(known) < 3:
        return None
    index, g = grubbs([rate for _, rate in known])
    n = len(known)
    return Outlier(known[index][0], g, grubbs_critical(n), (n - 1) / math.sqrt(n))


def repeat_scatter(runs: Sequence[Run]) -> OneWay | None:
    """Repeats of one catch in one arrangement, taken together: do positions differ by more than repeats do?

    Groups are positions within each repeated catch, responses log rates less their run's mean (which spends a
    degree of freedom for every run after the first). Amounts that are lost or zero leave their position out.

    Returns:
        The analysis in log rate, so ``sd_within`` is the relative repeatability; ``None`` without repeats.
    """
    alike: dict[object, list[Run]] = {}
    for run in runs:
        alike.setdefault((run.key, run.arrangement()), []).append(run)
    groups: list[list[float]] = []
    spent = 0
    for repeats in alike.values():
        known = [k for k in range(repeats[0].size) if all(run.amounts[k] for run in repeats)]
        if len(repeats) < 2 or len(known) < 2:
            continue
        logs = [[math.log(run.rates[k] or 1.0) for k in known] for run in repeats]
        centred = [[value - math.fsum(row) / len(row) for value in row] for row in logs]
        groups += [list(column) for column in zip(*centred, strict=True)]
        spent += len(repeats) - 1
    return one_way(groups, spent=spent) if groups else None
