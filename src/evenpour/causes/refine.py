"""Evidence of the hypotheses that matter, put right by draws and sharpened, with its own error.

First weighed draws, as many as pay. Where few of them carry the weight, Laplace's Gaussians do not cover
the posterior: then a cloud is annealed from the wide Gaussian to the posterior. Where even that keeps few
lineages the answer says so instead of pretending.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.annealed import anneal
from evenpour.causes.evidence import SEED, Evidence, by_draws, summed, weighed_draws
from evenpour.causes.laplace import Modes
from evenpour.causes.peaks import with_peaks
from evenpour.causes.problem import Array, Flags, Indices
from evenpour.causes.proposal import proposal
from evenpour.causes.seen import Noise
from evenpour.causes.severe import Severe

FIRST, DRAWS = 256, 3000
#: Where less than this share of the draws is effective, further peaks are looked for, so often.
COVERED, SEARCHES = 0.1, 2
#: And so many times the draws are weighed where that may be enough.
MORE = 4
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
    log_evidence, error, effective = _drawn(noise, severe, which, modes, np.asarray(hypotheses), draws, seed)
    annealed = np.zeros(len(hypotheses), dtype=bool)
    failed = np.zeros(len(hypotheses), dtype=bool)
    few = np.flatnonzero(effective < ENOUGH)
    if len(few):
        sought = proposal(noise, severe, which, modes, np.asarray(hypotheses)[few])
        random = np.random.default_rng(seed)
        cloud = anneal(
            sought.annealing_ratio, len(few), sought.coordinates, random, count=particles, moves=moves
        )
        better = cloud.error < error[few]
        at = few[better]
        log_evidence[at], error[at] = cloud.log_evidence[better], cloud.error[better]
        effective[at], annealed[at] = cloud.effective[better], True
        failed[at] = (cloud.accepted[better] < STUCK) | (cloud.temperature[better] < 1.0 - 1e-9)
    failed |= error > TOO_ROUGH
    return Refined(np.asarray(hypotheses), log_evidence, error, effective, annealed, failed)


def put_right(
    evidence: Evidence,
    noise: Noise,
    severe: Severe,
    which: Indices,
    modes: Modes,
    hypotheses: Indices,
    *,
    draws: int = FIRST,
    seed: int = SEED,
) -> Evidence:
    """Laplace's evidence put right by a few draws for these hypotheses: what a first answer can afford.

    The others are put right by the median of what these were: they share most of what Laplace misses.
    """
    if not len(hypotheses):
        return evidence
    found, error, effective = _drawn(noise, severe, which, modes, np.asarray(hypotheses), draws, seed)
    now = Evidence(evidence.log_evidence.copy(), evidence.error.copy(), evidence.effective.copy())
    now.log_evidence[:] += np.median(found - evidence.log_evidence[hypotheses])
    now.log_evidence[hypotheses] = found
    now.error[hypotheses] = error
    now.effective[hypotheses] = effective
    return now


def _drawn(
    noise: Noise, severe: Severe, which: Indices, modes: Modes, hypotheses: Indices, draws: int, seed: int
) -> tuple[Array, Array, Array]:
    """Log evidence, error and effective draws, with further peaks and more draws where few were effective."""
    sought = proposal(noise, severe, which, modes, hypotheses)
    drawn = weighed_draws(sought, count=draws, seed=seed)
    found = summed(drawn[0])
    poor = np.flatnonzero(found[2] < COVERED * draws)
    for _ in range(SEARCHES):
        if not len(poor):
            return found
        its = hypotheses[poor]
        sought = proposal(noise, severe, which, modes, its)
        drawn = weighed_draws(sought, count=draws, seed=seed)
        which, modes = with_peaks(noise, severe, which, modes, sought, drawn)
        sought = proposal(noise, severe, which, modes, its)
        _take(found, poor, by_draws(sought, count=draws, seed=seed))
        poor = poor[found[2][poor] < COVERED * draws]
    poor = np.flatnonzero((found[2] < ENOUGH) & (found[2] > ENOUGH / 10.0))
    if len(poor):
        again = proposal(noise, severe, which, modes, hypotheses[poor])
        _take(found, poor, by_draws(again, count=MORE * draws, seed=seed))
    return found


def _take(found: tuple[Array, Array, Array], poor: Indices, again: tuple[Array, Array, Array]) -> None:
    better = again[2] > found[2][poor]
    for now, new in zip(found, again, strict=True):
        now[poor[better]] = new[better]
