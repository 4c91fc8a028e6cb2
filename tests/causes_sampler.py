"""Evidence of the miniature's hypotheses by a general-purpose nested sampler, which knows nothing of ours."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np

import causes_miniature as miniature
from evenpour.causes.normal import normal_at
from evenpour.causes.problem import Array, Grid, alone
from evenpour.causes.seen import Noise, log_likelihood


@dataclass(frozen=True, slots=True)
class Sampled:
    """Log evidence with the sampler's own standard error, and how often it called the model."""

    log_evidence: float
    error: float
    calls: int


def sampled(noise: Noise, grid: Grid, hypothesis: int, *, live: int, seed: int) -> Sampled:
    """Integrate severity and the car's numbers under one hypothesis; the model is asked row by row."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the sampler's own, of its plotting and of its bounds
        from dynesty import NestedSampler

        own = np.flatnonzero(grid.owner == hypothesis)
        low, high = float(grid.low[own].min()), float(grid.high[own].max())
        first = np.array([hypothesis])
        calls = 0

        def value(unit: Array) -> float:
            nonlocal calls
            calls += 1
            faults = alone(first, low + unit[:1] * (high - low))
            z = normal_at(np.clip(unit[None, 1:], 1e-15, 1.0 - 1e-15))
            return float(log_likelihood(noise, miniature.model(faults, z))[0])

        sampler = NestedSampler(
            value,
            lambda unit: unit,
            1 + miniature.D,
            nlive=live,
            sample="rwalk",
            walks=20,
            rstate=np.random.default_rng(seed),
        )
        sampler.run_nested(dlogz=0.1, print_progress=False)
        found = sampler.results
    return Sampled(float(found.logz[-1]), float(found.logzerr[-1]), calls)
