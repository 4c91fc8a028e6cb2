"""Evidence of the hypotheses that matter, sharpened behind the first answer, with its own error.

First weighed draws, as many as pay. Where few of them carry the weight, Laplace's Gaussians do not cover
the posterior: then a cloud is annealed from the wide Gaussian to the posterior. Where even that keeps few
lineages the answer says so instead of pretending.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.annealed import anneal
from evenpour.causes.evidence import SEED, Evidence, by_draws
from evenpour.causes.laplace import Modes
from evenpour.causes.peaks import with_peaks
from evenpour.causes.problem import Array, Flags, Indices
from evenpour.causes.proposal import proposal
from evenpour.causes.seen import Noise
from evenpour.causes.severe import Severe

DRAWS = 3000
#: Where less than this share of the draws is effective, further peaks are looked for, from so many draws.
COVERED, LOOKED = 0.1, 256
#: Fewer effective draws than this are not trusted.
ENOUGH = 100.0
PARTICLES, MOVES = 1000, 8
#: A cloud whose moves are accepted less often than this stands still.
STUCK = 0.05
#: A standard error of log evidence above this is said to be a failure.
TOO_ROUGH = 0.25


@dataclass(frozen=True, slots=True)
class Refined:
    """Evidence of some hypotheses, and where it cannot be trusted. All (H,), in the order asked for."""

    hypotheses: Indices
    log_evidence: Array
    error: Array
    effective: Array
    annealed: Flags
    failed: Flags

    def into(self, evidence: Evidence) -> Evidence:
        """The evidence of all hypotheses with these in place."""
        now = Evidence(evidence.log_evidence.copy(), evidence.error.copy(), evidence.effective.copy())
        now.log_evidence[self.hypotheses] = self.log_evidence
        now.error[self.hypotheses] = self.error
        now.effective[self.hypotheses] = self.effective
        return now


def refined(
    noise: Noise,
    severe: Severe,
    which: Indices,
    modes: Modes,
    hypotheses: Indices,
    *,
    draws: int = DRAWS,
    particles: int = PARTICLES,
    moves: int = MOVES,
    seed: int = SEED,
) -> Refined:
    """Sharpen the evidence of these hypotheses.

    Args:
        noise: The readings.
        severe: The model at all nodes.
        which: Nodes whose modes are given, rising; each of the hypotheses has some.
        modes: Where they sit.
        hypotheses: Owners to sharpen, (H,).
        draws: Weighed draws each.
        particles: Size of an annealed cloud.
        moves: Steps of the cloud at each temperature.
        seed: Of the draws, the same for all.
    """
    sought = proposal(noise, severe, which, modes, hypotheses)
    log_evidence, error, effective = by_draws(sought, count=draws, seed=seed)
    annealed = np.zeros(len(hypotheses), dtype=bool)
    failed = np.zeros(len(hypotheses), dtype=bool)
    poor = np.flatnonzero(effective < COVERED * draws)
    if len(poor):
        its = np.asarray(hypotheses)[poor]
        narrower = proposal(noise, severe, which, modes, its)
        more, places = with_peaks(noise, severe, which, modes, narrower, count=LOOKED, seed=seed + 1)
        again = by_draws(proposal(noise, severe, more, places, its), count=draws, seed=seed)
        better = again[2] > effective[poor]
        for now, found in zip((log_evidence, error, effective), again, strict=True):
            now[poor[better]] = found[better]
    few = np.flatnonzero(effective < ENOUGH)
    if len(few):
        random = np.random.default_rng(seed)

        def ratio(problem: Indices, v: Array) -> Array:
            return sought.annealing_ratio(few[problem], v)

        cloud = anneal(ratio, len(few), sought.coordinates, random, count=particles, moves=moves)
        better = cloud.error < error[few]
        at = few[better]
        log_evidence[at], error[at] = cloud.log_evidence[better], cloud.error[better]
        effective[at], annealed[at] = cloud.effective[better], True
        failed[at] = (cloud.accepted[better] < STUCK) | (cloud.temperature[better] < 1.0 - 1e-9)
    failed |= error > TOO_ROUGH
    return Refined(np.asarray(hypotheses), log_evidence, error, effective, annealed, failed)
