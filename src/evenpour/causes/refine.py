"""Evidence of the hypotheses that matter, put right by weighed draws, with its own error."""

from __future__ import annotations

import numpy as np

from evenpour.causes.evidence import SEED, Draws, Evidence, by_draws, summed, weighed_draws
from evenpour.causes.laplace import Modes
from evenpour.causes.peaks import with_peaks
from evenpour.causes.problem import Array, Flags, Indices
from evenpour.causes.proposal import proposal
from evenpour.causes.seen import Noise
from evenpour.causes.severe import Severe

FIRST = 256
#: Where less than this share of the draws is effective, further peaks are looked for, so often.
COVERED, SEARCHES = 0.1, 2
#: And so many times the draws are weighed where that may be enough.
MORE = 4
#: With fewer effective draws than this, if more than a tenth of it, four times as many are drawn again.
ENOUGH = 100.0


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
    found, error, effective = drawn_evidence(noise, severe, which, modes, np.asarray(hypotheses), draws, seed)
    now = Evidence(evidence.log_evidence.copy(), evidence.error.copy(), evidence.effective.copy())
    now.log_evidence[:] += np.median(found - evidence.log_evidence[hypotheses])
    now.log_evidence[hypotheses] = found
    now.error[hypotheses] = error
    now.effective[hypotheses] = effective
    return now


def drawn_evidence(
    noise: Noise, severe: Severe, which: Indices, modes: Modes, hypotheses: Indices, draws: int, seed: int
) -> tuple[Array, Array, Array]:
    """Log evidence, error and effective draws, with further peaks and more draws where few were effective."""
    sought = proposal(noise, severe, which, modes, hypotheses)
    drawn = weighed_draws(sought, count=draws, seed=seed)
    found = summed(drawn[0])
    few = found[2] < COVERED * draws
    rows, drawn = np.flatnonzero(few), _of(drawn, few)
    for _ in range(SEARCHES):
        if not len(rows):
            return found
        its = hypotheses[rows]
        # those that are poor were drawn from these very places: peaks are looked for among the same draws
        sought = proposal(noise, severe, which, modes, its)
        which, modes = with_peaks(noise, severe, which, modes, sought, drawn)
        drawn = weighed_draws(proposal(noise, severe, which, modes, its), count=draws, seed=seed)
        _take(found, rows, summed(drawn[0]))
        few = found[2][rows] < COVERED * draws
        rows, drawn = rows[few], _of(drawn, few)
    poor = np.flatnonzero((found[2] < ENOUGH) & (found[2] > ENOUGH / 10.0))
    if len(poor):
        again = proposal(noise, severe, which, modes, hypotheses[poor])
        _take(found, poor, by_draws(again, count=MORE * draws, seed=seed))
    return found


def _of(drawn: Draws, which: Flags) -> Draws:
    """The draws of some hypotheses."""
    log_weight, slot, z = drawn
    return log_weight[which], slot[which], z[which]


def _take(found: tuple[Array, Array, Array], poor: Indices, again: tuple[Array, Array, Array]) -> None:
    better = again[2] > found[2][poor]
    for now, new in zip(found, again, strict=True):
        now[poor[better]] = new[better]
