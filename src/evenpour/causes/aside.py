"""All that may be the matter on one scale: one cause or two, every reading belonging or some set aside.

An explanation counts one check in that may not belong, but its places are those that all readings pull at.
Where a check does not belong more likely than not, that is no good to tell anything from: an absurd reading
drags every place to where no car is. So the case is parted: in one part the check is taken to belong, in the
other it is set aside, with the flat density that it then has, and the rest is explained by itself; there
another may not belong in its turn. The parts' weights add up, and what is told is told from the part that
holds the weight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from evenpour.causes.explanation import Explanation, fitted_without, posterior_of, strays, summed_up
from evenpour.causes.next_test import Held, held_by, held_by_pairs
from evenpour.causes.normal import log_sum
from evenpour.causes.observed import Seen
from evenpour.causes.problem import Array
from evenpour.causes.seen import without
from evenpour.causes.sharpened import sharpened
from evenpour.causes.two_faults import Doubles, Pair, pairs
from evenpour.causes.unexplained import log_flat

ASTRAY = 0.5  # that a check does not belong, from which the rest is explained without it
LIKELY = 1e-3  # of single causes under which a check does belong, from which they are weighed by draws
TWO_RATHER = 0.5  # of the likelier one's own probability, from which two causes are told rather than it
MOST = 3  # checks set aside one after the other


@dataclass(frozen=True, slots=True)
class Part:
    """One way to take the readings: some checks are set aside, and the next one that seems astray belongs.

    Attributes:
        aside: Checks that are set aside, by their number among all readings.
        told: The explanation of the others.
        doubles: Two causes at once, on the others.
        singles: Log weight of every hypothesis, on the scale of all parts, (H,).
        pairs: The same of every pair, (P,).
    """

    aside: tuple[int, ...]
    told: Explanation
    doubles: Doubles
    singles: Array
    pairs: Array

    @property
    def log_weight(self) -> float:
        """Of all that is in it."""
        return float(log_sum(np.concatenate([self.singles, self.pairs])))


@dataclass(frozen=True)
class Weighed:
    """All parts, the one with nothing set aside first. Their probabilities sum to 1."""

    parts: tuple[Part, ...]

    @cached_property
    def log_total(self) -> float:
        """Log weight of everything."""
        return float(log_sum(np.array([part.log_weight for part in self.parts])))

    @cached_property
    def share(self) -> tuple[float, ...]:
        """Of each part."""
        return tuple(float(np.exp(part.log_weight - self.log_total)) for part in self.parts)

    @property
    def main(self) -> int:
        """The part to tell from: the last that, with those behind it, is likelier than not."""
        return max(at for at in range(len(self.parts)) if not at or sum(self.share[at:]) > ASTRAY)

    def singles(self, part: Part) -> Array:
        """Probability of every hypothesis in a part, (H,)."""
        return np.asarray(np.exp(part.singles - self.log_total))

    def doubles(self, part: Part) -> Array:
        """Probability of every pair in a part, (P,)."""
        return np.asarray(np.exp(part.pairs - self.log_total))

    @cached_property
    def probability(self) -> Array:
        """Of every single hypothesis, (H,)."""
        return np.asarray(sum(self.singles(part) for part in self.parts))

    @cached_property
    def pairs(self) -> dict[tuple[int, int], float]:
        """Probability of every pair that was tried."""
        found: dict[tuple[int, int], float] = {}
        for part in self.parts:
            for pair, p in zip(part.doubles.pairs, self.doubles(part), strict=True):
                key = (pair.first, pair.second)
                found[key] = found.get(key, 0.0) + float(p)
        return found

    def held(self) -> list[Held]:
        """The places that hold weight, of all parts."""
        found = []
        for part in self.parts:
            found.append(held_by(part.told, self.singles(part)))
            if part.doubles.pairs:
                found.append(self._pairs_of(part, self.doubles(part)))
        return found

    def part_of(self, which: Sequence[int]) -> Part:
        """The part in which one cause, or a pair of them, has most of its weight."""
        return max(self.parts, key=lambda part: self._weight(part, tuple(which)))

    def _weight(self, part: Part, which: tuple[int, ...]) -> float:
        if len(which) == 1:
            return float(part.singles[which[0]])
        own = [n for n, pair in enumerate(part.doubles.pairs) if (pair.first, pair.second) == which]
        return float(part.pairs[own[0]]) if own else -np.inf

    def pair_of(self, which: tuple[int, int]) -> Pair:
        """A pair as it was fitted where it is likeliest."""
        listed = self.part_of(which).doubles.pairs
        return next(one for one in listed if (one.first, one.second) == which)

    def place_of(self, which: Sequence[int]) -> Held:
        """The one place where one cause, or a pair of them, fits best."""
        part = self.part_of(which)
        if len(which) == 1:
            held, owner = held_by(part.told), which[0]
        else:
            held = self._pairs_of(part, np.ones(len(part.doubles.pairs)))
            owner = next(
                n for n, one in enumerate(part.doubles.pairs) if (one.first, one.second) == tuple(which)
            )
        rows = np.flatnonzero(held.severe.grid.owner == owner)
        return held.take(rows[[np.argmax(held.weight[rows])]])

    def is_idle(self, which: tuple[int, int]) -> bool:
        """Whether two causes explain the readings no better than one of them alone."""
        return self.pairs[which] <= TWO_RATHER * float(self.probability[list(which)].max())

    def _pairs_of(self, part: Part, probability: Array) -> Held:
        """Its pairs; of an idle one only what its likelier member calls for counts."""
        grid = part.told.severe.grid
        remedy = []
        for pair, both in zip(part.doubles.pairs, part.doubles.severe.grid.remedy, strict=True):
            which = (pair.first, pair.second)
            likelier = max(which, key=lambda h: float(self.probability[h]))
            remedy.append(grid.remedy[likelier] if self.is_idle(which) else both)
        return held_by_pairs(part.told, part.doubles, probability, remedy)

    def does_not_belong(self, at: int) -> Array:
        """Probability that each check of a part's explanation does not belong, with the later parts, (G,)."""
        part = self.parts[at]
        checks = part.told.checks
        found = np.zeros(len(checks))
        for later in self.parts[at:]:
            inside = _astray(later, self.singles(later), self.doubles(later))
            place = np.searchsorted(checks, later.told.checks)
            found[place] += inside
            found[np.isin(checks, later.aside)] += float(np.exp(later.log_weight - self.log_total))
        return np.minimum(found, 1.0)


def weighed(told: Explanation, prior: float) -> Weighed:
    """Everything on one scale.

    Args:
        told: The explanation of all readings.
        prior: How likely two causes at once are, against one alone, all together.
    """
    parts: list[Part] = []
    aside: tuple[int, ...] = ()
    level = 0.0
    while len(aside) < MOST and len(told.checks) and told.does_not_belong.max() > ASTRAY:
        g = int(np.argmax(told.does_not_belong))
        check = int(told.checks[g])
        likely = told.does_not_belong[g] < 1.0 - LIKELY
        parts.append(_part(taken_to_belong(told, g), aside, level, prior, likely=likely))
        level += log_flat(told.seen.columns, [check])
        aside = (*aside, check)
        told = set_aside(told, g)
    parts.append(_part(told, aside, level, prior, likely=True))
    return Weighed(tuple(parts))


def taken_to_belong(told: Explanation, g: int) -> Explanation:
    """The same explanation without the doubt whether check number *g* belongs."""
    odd = told.odd.copy()
    odd[:, g] = -np.inf
    log = posterior_of(told.fitted.grid, told.fitted.modes.log_evidence + strays(odd))
    return replace(told, odd=odd, log_posterior=log)


def set_aside(told: Explanation, g: int) -> Explanation:
    """The explanation of all but check number *g*."""
    check = told.checks[g]
    gone = told.seen.columns.check == check
    left = tuple(one for one, out in zip(told.seen.observations, gone, strict=True) if not out)
    rest = Seen(told.seen.asked, told.seen.columns.keep(~gone), left)
    heard = without(told.noise, gone)
    fitted = told.again.get(g) or fitted_without(told.severe, told.noise, int(check))
    # nodes are moved in place as the rest is explained
    fitted = replace(fitted, modes=fitted.modes.take(np.arange(len(fitted.modes))))
    return summed_up(
        told.suspects, told.hypotheses, told.severe, told.model, rest, told.middle, heard, fitted
    )


def _part(told: Explanation, aside: tuple[int, ...], level: float, prior: float, *, likely: bool) -> Part:
    grid = told.fitted.grid
    nodes = grid.log_prior[grid.owner] + grid.log_weight + told.fitted.modes.log_evidence
    whole = float(log_sum(nodes + strays(told.odd)))
    doubles = pairs(told, prior)
    weight = np.array([pair.log_weight for pair in doubles.pairs])
    log = sharpened(told) if likely else told.log_posterior
    return Part(aside, told, doubles, log + whole + level, weight + level)


def _astray(part: Part, singles: Array, doubles: Array) -> Array:
    """Probability that each check of a part does not belong besides those that it sets aside, (G,)."""
    told = part.told
    grid = told.fitted.grid
    within = told.node_weight * (singles / np.maximum(told.probability, 1e-300))[grid.owner]
    found = within @ np.exp(told.odd - strays(told.odd)[:, None])
    if len(doubles):
        own = part.doubles.node_share * doubles[part.doubles.severe.grid.owner]
        found = found + own @ np.exp(part.doubles.odd - strays(part.doubles.odd)[:, None])
    return np.asarray(found)
