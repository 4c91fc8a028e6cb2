"""Several readings of one thing, the gauge's own doubt and further causes, combined into one estimate.

Source: JCGM 100:2008 (GUM): 4.2 (repeats), 4.3 (everything else), 5.1.2 (quadrature), G.4 (effective
    degrees of freedom, truncated to the next lower integer).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from evenpour.errors import OutOfRange

MANY_FREEDOMS = 10_000


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its standard uncertainty and where that comes from.

    ``dof`` is ``None`` where a normal distribution serves. ``budget`` holds each cause's standard
    uncertainty, in the value's unit; their squares add up to u².
    """

    value: float
    u: float
    dof: int | None
    n: int
    budget: Mapping[str, float]


def combine(
    values: Sequence[float], u_b: float, causes: Mapping[str, float] | None = None, *, gauge: str = "gauge"
) -> Estimate:
    """The mean of *values* with its standard uncertainty.

    Args:
        values: Repeats of one reading, at least one, all in one unit.
        u_b: Standard uncertainty of the gauge; common to all repeats, so they do not shrink it.
        causes: Further standard uncertainties in the value's unit, by name.
        gauge: The name of ``u_b`` in the budget.
    Raises:
        OutOfRange: no value, or a negative or infinite uncertainty.
    """
    others = dict(causes or {})
    for name, u in {gauge: u_b, **others}.items():
        if not 0.0 <= u < math.inf:
            raise OutOfRange(name, u, "is no standard uncertainty", allowed="0 or more")
    n = len(values)
    if n == 0:
        raise OutOfRange("values", None, "holds no reading", allowed="at least one")
    mean = math.fsum(values) / n if n > 1 else values[0]
    budget = {gauge: u_b, **others}
    if n == 1 or not math.isfinite(mean):
        return Estimate(mean, _root_sum(budget.values()), None, n, budget)
    spread = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (n - 1))
    budget["repeats"] = spread / math.sqrt(n)
    u = _root_sum(budget.values())
    return Estimate(mean, u, effective_dof(u, {"repeats": (budget["repeats"], n - 1)}), n, budget)


def effective_dof(u: float, parts: Mapping[str, tuple[float, float]]) -> int | None:
    """Effective degrees of freedom, Welch-Satterthwaite, truncated: 16.7 is 16 (JCGM 100:2008, G.4).

    Args:
        u: Combined standard uncertainty.
        parts: Standard uncertainty and degrees of freedom of each part that has finitely many.
    Returns:
        At least 1; ``None`` where no part limits them.
    """
    weight = math.fsum(part**4 / dof for part, dof in parts.values() if dof < math.inf)
    if weight == 0.0 or u == 0.0:
        return None
    freedom = u**4 / weight
    # u may be rounded a hair below its only part's: 3.9999999 freedoms are 4, not 3.
    return max(1, math.floor(freedom * (1.0 + 1e-9))) if freedom < 1e6 else None


def coverage(dof: int | None) -> float:
    """How many standard uncertainties hold about 95 %: 2, or more where few repeats carry them.

    Source: JCGM 100:2008, G.6.4: t with the effective degrees of freedom.

    Example:
        >>> round(coverage(2), 2)
        4.3
    """
    return 2.0 if dof is None else student_quantile(0.975, dof)


@cache
def student_quantile(p: float, dof: int) -> float:
    """The t below which Student's distribution holds *p*, for p from 0.5 up to below 1.

    Found by halving: :func:`student_below` rises steadily, and no closed form serves all degrees of freedom.
    """
    if not 0.5 <= p < 1.0:
        raise OutOfRange("p", p, "has no such point", allowed="0.5 to below 1")
    high = 1.0
    while student_below(high, dof) < p:
        high *= 2.0
    low = 0.0
    for _ in range(60):  # each halves the doubt: more than a float can tell
        middle = 0.5 * (low + high)
        low, high = (middle, high) if student_below(middle, dof) < p else (low, middle)
    return 0.5 * (low + high)


def student_below(t: float, dof: int) -> float:
    """Student's t distribution function for whole degrees of freedom; their number is truncated, so they are.

    Source: the finite series of Abramowitz & Stegun, 26.7.3 and 26.7.4 (from memory, tested against another
    implementation). Right to 1e-13; beyond 10 000 freedoms the normal one serves (less than 2e-5 away).

    Raises:
        OutOfRange: fewer than one degree of freedom.
    """
    if dof < 1:
        raise OutOfRange("dof", dof, "is too few", allowed="1 or more")
    if dof > MANY_FREEDOMS:
        return 0.5 * math.erfc(-t / math.sqrt(2.0))
    angle = math.atan2(t, math.sqrt(dof))
    cosine, odd = math.cos(angle), dof % 2
    term = cosine if odd else 1.0
    total = term if dof > 1 else 0.0
    for k in range(2 + odd, dof - 1, 2):
        term *= (k - 1) / k * cosine**2
        total += term
    inner = 2.0 / math.pi * (angle + math.sin(angle) * total) if odd else math.sin(angle) * total
    return 0.5 + 0.5 * inner


def _root_sum(parts: Iterable[float]) -> float:
    return math.hypot(*parts)
