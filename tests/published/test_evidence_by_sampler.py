"""Evidence of a miniature against a general-purpose nested sampler; the whole run is in the benchmarks."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from achieved import Check

sys.path.insert(0, str(Path(__file__).parents[1]))

import causes_miniature as miniature
from causes_sampler import sampled
from evenpour.causes.evidence import by_laplace
from evenpour.causes.laplace import begin, settle
from evenpour.causes.refine import put_right
from evenpour.causes.seen import noise_of

LIVE = 60
SAMPLED = Check(
    topic="Diagnosis",
    source="dynesty, nested sampling (an open-source library), run here",
    what="log evidence of a miniature, in the sampler's own standard errors",
    tolerance=3.0,
    because="the sampler is off by its own standard error, about 0.3 at this size",
)


@pytest.mark.parametrize("case", range(2))
def test_log_evidence_agrees_with_a_general_purpose_sampler(case: int) -> None:
    severe = miniature.world()
    random = np.random.default_rng(case)
    hypothesis, columns = miniature.drawn(random, severe.grid)
    noise, nodes = noise_of(columns), np.arange(len(severe.grid))
    start = begin(severe.predict, nodes, np.zeros((len(nodes), severe.size)))
    modes = settle(noise, severe.predict, nodes, start)
    rough = by_laplace(severe.grid, nodes, modes)
    ours = put_right(rough, noise, severe, nodes, modes, np.array([hypothesis])).log_evidence[hypothesis]
    theirs = sampled(noise, severe.grid, hypothesis, live=LIVE, seed=case)
    SAMPLED.holds(ours / theirs.error, theirs.log_evidence / theirs.error)
