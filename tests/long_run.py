"""Evidence of hypotheses with many draws, and where they do not suffice with an annealed cloud.

What the tool's few draws are measured against. Where few of them carry the weight, Laplace's Gaussians do not
cover the posterior: then a cloud is annealed from the wide Gaussian to the posterior. Where even that
keeps few lineages the answer says so instead of pretending.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from annealed import anneal
from evenpour.causes.evidence import SEED, Evidence
from evenpour.causes.laplace import Modes
from evenpour.causes.problem import Array, Flags, Indices
from evenpour.causes.proposal import Proposal, proposal
from evenpour.causes.refine import ENOUGH, drawn_evidence
from evenpour.causes.seen import Noise
from evenpour.causes.severe import Severe

DRAWS = 3000
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
    log_evidence, error, effective = drawn_evidence(
        noise, severe, which, modes, np.asarray(hypotheses), draws, seed
    )
    annealed = np.zeros(len(hypotheses), dtype=bool)
    failed = np.zeros(len(hypotheses), dtype=bool)
    few = np.flatnonzero(effective < ENOUGH)
    if len(few):
        sought = proposal(noise, severe, which, modes, np.asarray(hypotheses)[few])
        random = np.random.default_rng(seed)
        cloud = anneal(
            partial(_ratio, sought), len(few), sought.coordinates, random, count=particles, moves=moves
        )
        better = cloud.error < error[few]
        at = few[better]
        log_evidence[at], error[at] = cloud.log_evidence[better], cloud.error[better]
        effective[at], annealed[at] = cloud.effective[better], True
        failed[at] = (cloud.accepted[better] < STUCK) | (cloud.temperature[better] < 1.0 - 1e-9)
    failed |= error > TOO_ROUGH
    return Refined(np.asarray(hypotheses), log_evidence, error, effective, annealed, failed)


def _ratio(sought: Proposal, problem: Indices, v: Array) -> Array:
    """Log ratio of posterior (not normalised) to the wide Gaussian of a slot, (R,).

    Right for hypotheses whose nodes have one place each.
    """
    slot, z = sought.drawn(problem, v, 1)
    length = 0.5 * np.sum(v[:, 1:] ** 2, axis=1) + sought.log_root[1, sought.at[problem, slot]]
    return np.asarray(length + sought.target(problem, slot, z) - sought.log_share[problem, slot])
