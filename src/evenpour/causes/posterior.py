"""What is probable: hypotheses, severities, readings that do not belong. All of it sums to one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.evidence import Evidence
from evenpour.causes.laplace import Modes
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Array, Grid, Indices
from evenpour.causes.seen import Noise
from evenpour.causes.severe import Severe
from evenpour.causes.unexplained import SET_ASIDE, SLIP, Variant

#: A severity in words: up to this, it is called so.
SEVERITY_WORDS = (
    (0.2, "barely noticeable"),
    (0.4, "slight"),
    (0.6, "clear"),
    (0.8, "heavy"),
    (1.01, "gross"),
)


@dataclass(frozen=True, slots=True)
class Component:
    """Nodes under one variant of the readings, with what the model says there: it foresees the next check."""

    noise: Noise
    node: Indices  # (n,)
    modes: Modes  # n rows
    weight: Array  # (n,) posterior


@dataclass(frozen=True, slots=True)
class Posterior:
    """The answer to: what is wrong with this car?

    ``weight[v, h]`` is the probability of hypothesis h with the readings meant as variant v says; everything
    sums to 1. Under a variant that sets readings aside the cause counts as unexplained.
    """

    severe: Severe
    variants: tuple[Variant, ...]
    weight: Array  # (V, H)
    evidence: Evidence  # as read
    node_log_evidence: Array  # (N,) as read, Laplace
    components: tuple[Component, ...]

    @property
    def grid(self) -> Grid:
        """The nodes' owners and severities."""
        return self.severe.grid

    @property
    def probability(self) -> Array:
        """Of every hypothesis, (H,); with ``unexplained`` they sum to 1."""
        kept = np.array([variant.kind != SET_ASIDE for variant in self.variants])
        return np.asarray(self.weight[kept].sum(axis=0))

    @property
    def unexplained(self) -> float:
        """Probability that some reading fits no cause, and no slip mends it."""
        aside = np.array([variant.kind == SET_ASIDE for variant in self.variants])
        return float(self.weight[aside].sum())

    def stray(self) -> dict[int, float]:
        """Probability that each check does not belong as it stands, by its id."""
        found: dict[int, float] = {}
        for variant, weight in zip(self.variants, self.weight.sum(axis=1), strict=True):
            for check in variant.checks:
                found[check] = found.get(check, 0.0) + float(weight)
        return found

    def slips(self) -> list[tuple[Variant, float]]:
        """Slips with their probability, likeliest first."""
        totals = self.weight.sum(axis=1)
        found = [(v, float(w)) for v, w in zip(self.variants, totals, strict=True) if v.kind == SLIP]
        return sorted(found, key=lambda pair: -pair[1])

    def by_remedy(self) -> dict[str, float]:
        """Probability that each remedy is what the car needs."""
        found: dict[str, float] = {}
        for remedy, p in zip(self.grid.remedy, self.probability, strict=True):
            found[remedy] = found.get(remedy, 0.0) + float(p)
        return found


@dataclass(frozen=True, slots=True)
class Severity:
    """How bad a cause is if it is the one: mean, and the range that holds nine tenths."""

    mean: float
    low: float
    high: float

    @property
    def word(self) -> str:
        """The mean in a word."""
        return next(word for top, word in SEVERITY_WORDS if self.mean < top)


def severity(posterior: Posterior, hypothesis: int) -> Severity:
    """Severity of a cause given that it is the one; of a pair, that of its first member."""
    grid = posterior.grid
    own = np.flatnonzero(grid.owner == hypothesis)
    weight = grid.log_weight[own] + posterior.node_log_evidence[own]
    share = np.exp(weight - log_sum(weight))
    middle = grid.faults.first_severity[own]
    # within a cell every severity counts alike
    order = np.argsort(grid.low[own], kind="stable")
    low, high, share_in_order = grid.low[own][order], grid.high[own][order], share[order]
    edges, cells = np.unique(low), np.unique(high)
    mass = np.array([share_in_order[low == edge].sum() for edge in edges])
    cumulative = np.concatenate([[0.0], np.cumsum(mass)])
    at = np.concatenate([edges[:1], cells])
    return Severity(
        mean=float(share @ middle),
        low=float(np.interp(0.05, cumulative, at)),
        high=float(np.interp(0.95, cumulative, at)),
    )


def told_apart(posterior: Posterior, least: float = 0.02, within: float = 0.5) -> list[list[int]]:
    """Groups of likely causes that the readings give the same evidence: what cannot be divided yet.

    Args:
        posterior: The answer.
        least: Causes less probable than this are left out.
        within: Log evidences this near count as the same, [nat].
    """
    likely = np.flatnonzero(posterior.probability >= least)
    order = likely[np.argsort(-posterior.evidence.log_evidence[likely])]
    groups: list[list[int]] = []
    for h in order:
        value = posterior.evidence.log_evidence[h]
        if groups and posterior.evidence.log_evidence[groups[-1][0]] - value <= within:
            groups[-1].append(int(h))
        else:
            groups.append([int(h)])
    return [group for group in groups if len(group) > 1]
