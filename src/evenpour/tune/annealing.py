"""Draws from a density known only up to its size, and that size: from a rough guess to the thing itself by
steps.

A crowd of draws from a wide guess is reweighed towards the density a little at a time, drawn anew where it
has become heavy, and moved about by steps as long as the crowd is wide, so that bent and one-sided densities
are followed too. The weights met on the way multiply to the density's size: the evidence.

Along a ridge that is long, thin and bent the crowd stays too close together: two nearly equal decays (MGH17
of NIST's sets, correlations of 0.999) come out about half as wide as they are.

Source: annealed importance sampling, Neal, Stat. Comput. 11 (2001) 125, with redrawing as in Del Moral,
    Doucet and Jasra, J. R. Stat. Soc. B 68 (2006) 411; steps along the difference of two others as in ter
    Braak, Stat. Comput. 16 (2006) 239. From memory, not verified; tested on densities of known size.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
LogDensity = Callable[[Array], Array]
"""Rows, (m, d), to the log of the density at each, (m,); -inf where there is none."""

CROWD = 320
KEPT = 0.6  # of the crowd that must still count after a step
MOVES, LAST_MOVES, ANSWERS = 4, 10, 5  # after a step; at the end; of those, the ones that answer
MOST_STEPS = 60
FREEDOM = 5.0  # of the t distribution of the guess: tails heavier than what is looked for
WIDER = 4.0  # variance of the guess over the one that was worked out: too wide costs steps, too narrow truth


def annealed(
    log_density: LogDensity, middle: Array, spread: Array, random: np.random.Generator
) -> tuple[Array, float]:
    """Draws of the density, all equally likely, and the log of its integral.

    Args:
        log_density: Called with some hundred rows at a time.
        middle: Where it lies, roughly, (d,).
        spread: Its covariance, roughly, (d, d).
    Returns:
        Draws, (ANSWERS x CROWD, d), and the log of the size.
    """
    guess = _Guess(middle, WIDER * spread)
    crowd = guess.draws(CROWD, random)
    base, there = guess.log_density(crowd), log_density(crowd)
    power, log_size = 0.0, 0.0
    for _ in range(MOST_STEPS):
        gain = there - base
        step = _step(gain, 1.0 - power)
        weights, mean = _weights(step * gain)
        log_size += mean
        power = min(1.0, power + step)
        chosen = _redrawn(weights, random)
        crowd, base, there = crowd[chosen], base[chosen], there[chosen]
        done = power >= 1.0 - 1e-9
        found = []
        for move in range(LAST_MOVES if done else MOVES):
            crowd, base, there = _moved(crowd, base, there, power, guess, log_density, random)
            if done and move >= LAST_MOVES - ANSWERS:
                found.append(crowd)
        if done:
            return np.concatenate(found), log_size
    return crowd, -math.inf  # nowhere near: it does not count beside any that was reached


class _Guess:
    """A t distribution."""

    def __init__(self, middle: Array, spread: Array) -> None:
        self.middle, self.d = middle, middle.size
        self.root = np.linalg.cholesky(spread)
        self.size = (
            math.lgamma(0.5 * (FREEDOM + self.d))
            - math.lgamma(0.5 * FREEDOM)
            - 0.5 * self.d * math.log(FREEDOM * math.pi)
            - float(np.sum(np.log(np.diag(self.root))))
        )
        self.inverse = np.linalg.inv(self.root)

    def draws(self, many: int, random: np.random.Generator) -> Array:
        stretch = np.sqrt(FREEDOM / random.chisquare(FREEDOM, many))
        return self.middle + (random.standard_normal((many, self.d)) * stretch[:, None]) @ self.root.T

    def log_density(self, rows: Array) -> Array:
        square = np.sum(((rows - self.middle) @ self.inverse.T) ** 2, axis=1)
        return np.asarray(self.size - 0.5 * (FREEDOM + self.d) * np.log1p(square / FREEDOM))


def _step(gain: Array, left: float) -> float:
    """The longest step, at most *left*, after which enough of the crowd counts."""
    enough = KEPT * np.count_nonzero(np.isfinite(gain))  # those outside are lost with the first step anyway

    def counts(step: float) -> bool:
        weights, _ = _weights(step * gain)
        return bool(1.0 / float(np.sum(weights**2)) >= enough)

    if counts(left):
        return left
    low, high = 0.0, left
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if counts(middle) else (low, middle)
    return max(low, 1e-6)


def _weights(log_weights: Array) -> tuple[Array, float]:
    """Weights that sum to 1, and the log of their mean before."""
    there = np.isfinite(log_weights)
    if not np.any(there):
        return np.full(log_weights.size, 1.0 / log_weights.size), -math.inf
    top = float(np.max(log_weights[there]))
    weights = np.where(there, np.exp(np.where(there, log_weights, top) - top), 0.0)
    return weights / np.sum(weights), top + math.log(float(np.mean(weights)))


def _redrawn(weights: Array, random: np.random.Generator) -> NDArray[np.intp]:
    """Each as often as it weighs, in random order."""
    places = (np.arange(weights.size) + random.random()) / weights.size
    chosen = np.minimum(np.searchsorted(np.cumsum(weights), places), weights.size - 1)
    return random.permutation(chosen)


def _moved(
    crowd: Array,
    base: Array,
    there: Array,
    power: float,
    guess: _Guess,
    log_density: LogDensity,
    random: np.random.Generator,
) -> tuple[Array, Array, Array]:
    """Each half by steps along the difference of two of the other half, kept as often as the density says."""
    many, d = crowd.shape
    half = many // 2
    for mine, others in ((slice(0, half), slice(half, many)), (slice(half, many), slice(0, half))):
        own, other = crowd[mine], crowd[others]
        pairs = random.integers(other.shape[0], size=(2, own.shape[0]))
        length = 2.38 / math.sqrt(2.0 * d) * random.choice([1.0, 0.5, 0.2], size=own.shape[0])
        jitter = 1e-3 * np.std(other, axis=0) * random.standard_normal(own.shape)
        trial = own + length[:, None] * (other[pairs[0]] - other[pairs[1]]) + jitter
        trial_base, trial_there = guess.log_density(trial), log_density(trial)
        now = (1.0 - power) * base[mine] + power * there[mine]
        then = (1.0 - power) * trial_base + power * trial_there
        kept = np.log(random.random(own.shape[0])) < then - now
        crowd[mine] = np.where(kept[:, None], trial, own)
        base[mine] = np.where(kept, trial_base, base[mine])
        there[mine] = np.where(kept, trial_there, there[mine])
    return crowd.copy(), base, there
