"""All that may be the matter on one scale: one cause or several, every reading belonging, some set aside, or
one written wrongly.

An explanation counts in that one thing may not belong, but its places are those that all readings pull at.
Where a check does not belong more likely than not, that is no good to tell anything from: an absurd reading
drags every place to where no car is. So the case is parted: in one part the reading is taken to belong, in
the other it is set aside, with the flat density that it then has, and the rest is explained by itself; there
another may not belong in its turn. A slip that may well have been made is a part, too: there the readings
are explained as they were meant. The parts' weights add up, and what is told is told from the part that holds
the weight.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from evenpour.causes.explanation import Explanation, fitted_without, posterior_of, strays, summed_up
from evenpour.causes.next_test import Held, held_by, held_together
from evenpour.causes.normal import log_sum
from evenpour.causes.observed import Seen
from evenpour.causes.problem import Array, Indices
from evenpour.causes.screening import screen
from evenpour.causes.seen import without
from evenpour.causes.several_cylinders import sets_worth
from evenpour.causes.sharpened import sharpened
from evenpour.causes.slip_kinds import Slip
from evenpour.causes.slips import Apart, explained_as_meant, likely_slips, rows_but
from evenpour.causes.together import Jointly, Together, fitted_together
from evenpour.causes.two_faults import pairs_worth
from evenpour.causes.unexplained import Doubt, by_check

ASTRAY = 0.5  # that a check does not belong, from which the rest is explained without it
LIKELY = 1e-3  # of single causes under which a check does belong, from which they are weighed by draws
SEVERAL_RATHER = 0.5  # of the likeliest one's own probability, from which several are told rather than it
MOST = 3  # things set aside one after the other


@dataclass(frozen=True, slots=True)
class Part:
    """One way to take the readings: some are set aside, and the next one that seems astray belongs.

    Attributes:
        slip: What was written wrongly; its rows count all readings.
        aside: What is set aside; its rows count all readings.
        kept: Rows of the readings that are explained, among all.
        told: Their explanation.
        joint: Several causes at once, on the same.
        level: Log weight of the slip and of what is set aside.
        singles: Log weight of every hypothesis, on the scale of all parts, (H,).
        together: The same of every set of causes at once, (P,).
    """

    slip: Slip | None
    aside: tuple[Doubt, ...]
    kept: Indices
    told: Explanation
    joint: Jointly
    level: float
    singles: Array
    together: Array

    @property
    def log_weight(self) -> float:
        """Of all that is in it."""
        return float(log_sum(np.concatenate([self.singles, self.together])))


@dataclass(frozen=True)
class Weighed:
    """All parts: with nothing set aside first, those with a slip last. Their probabilities sum to 1."""

    parts: tuple[Part, ...]

    @cached_property
    def log_total(self) -> float:
        """Log weight of everything."""
        return float(log_sum(np.array([part.log_weight for part in self.parts])))

    @cached_property
    def share(self) -> tuple[float, ...]:
        """Of each part."""
        return tuple(float(np.exp(part.log_weight - self.log_total)) for part in self.parts)

    @cached_property
    def main(self) -> int:
        """The part to tell from: with the likeliest slip, or none, the last that, with those behind it, is
        likelier than not.
        """
        chains: dict[int, list[int]] = {}
        for at, part in enumerate(self.parts):
            chains.setdefault(id(part.slip), []).append(at)
        chain = max(chains.values(), key=lambda some: sum(self.share[at] for at in some))
        whole = sum(self.share[at] for at in chain)
        return max(
            at
            for n, at in enumerate(chain)
            if not n or sum(self.share[later] for later in chain[n:]) > ASTRAY * whole
        )

    def singles(self, part: Part) -> Array:
        """Probability of every hypothesis in a part, (H,)."""
        return np.asarray(np.exp(part.singles - self.log_total))

    def together(self, part: Part) -> Array:
        """Probability of every set of causes at once in a part, (P,)."""
        return np.asarray(np.exp(part.together - self.log_total))

    @cached_property
    def probability(self) -> Array:
        """Of every single hypothesis, (H,)."""
        return np.asarray(sum(self.singles(part) for part in self.parts))

    @cached_property
    def joint(self) -> dict[tuple[int, ...], float]:
        """Probability of every set of causes at once that was tried."""
        found: dict[tuple[int, ...], float] = {}
        for part in self.parts:
            for one, p in zip(part.joint.sets, self.together(part), strict=True):
                found[one.which] = found.get(one.which, 0.0) + float(p)
        return found

    @cached_property
    def slips(self) -> tuple[tuple[Slip, float], ...]:
        """Slips that may have been made, each with its probability, the likeliest first."""
        found: dict[int, tuple[Slip, float]] = {}
        for part, share in zip(self.parts, self.share, strict=True):
            if part.slip is not None:
                before = found.get(id(part.slip), (part.slip, 0.0))[1]
                found[id(part.slip)] = (part.slip, before + share)
        return tuple(sorted(found.values(), key=lambda one: -one[1]))

    @cached_property
    def does_not_belong(self) -> Array:
        """Probability that each check of all readings does not belong, or was written wrongly, (G,)."""
        told = self.parts[0].told
        checks, of_row = told.checks, told.seen.columns.check
        found = np.zeros(len(checks))
        for part, share in zip(self.parts, self.share, strict=True):
            its = np.zeros(len(checks))
            inside = self._astray(part)
            if len(part.told.checks):
                its[np.searchsorted(checks, part.told.checks)] = inside
            gone = {one.check for one in part.aside}
            if part.slip is not None:
                gone |= {int(of_row[row]) for row in part.slip.rows}
            its[np.isin(checks, list(gone))] = share
            found += its
        for row, chance in self._misread().items():
            g = int(np.searchsorted(checks, of_row[row]))
            found[g] = max(found[g], chance)
        return np.minimum(found, 1.0)

    def _misread(self) -> dict[int, float]:
        """Probability that each word was misread, by its row among all readings."""
        found: dict[int, float] = {}
        for part in self.parts:
            noise, together = part.told.noise, self.together(part)
            own, at = _share_of_nodes(part.told, self.singles(part)), noise.columns.column[noise.choice]
            chances = own @ noise.lines.misread(part.told.fitted.modes.f[:, at])
            if len(together):
                several = part.joint.node_share * together[part.joint.severe.grid.owner]
                chances = chances + several @ noise.lines.misread(part.joint.modes.f[:, at])
            for row, chance in zip(part.kept[noise.choice], map(float, chances), strict=True):
                found[int(row)] = found.get(int(row), 0.0) + chance
        return found

    def held(self) -> list[Held]:
        """The places that hold weight, of all parts."""
        found = []
        for part in self.parts:
            found.append(held_by(part.told, self.singles(part)))
            if part.joint.sets:
                found.append(self._joint_of(part, self.together(part)))
        return found

    def part_of(self, which: Sequence[int]) -> Part:
        """The part in which one cause, or several at once, have most of their weight."""
        return max(self.parts, key=lambda part: self._weight(part, tuple(which)))

    def _weight(self, part: Part, which: tuple[int, ...]) -> float:
        if len(which) == 1:
            return float(part.singles[which[0]])
        own = [n for n, one in enumerate(part.joint.sets) if one.which == which]
        return float(part.together[own[0]]) if own else -np.inf

    def joint_of(self, which: tuple[int, ...]) -> Together:
        """Several causes at once as they were fitted where they are likeliest."""
        return next(one for one in self.part_of(which).joint.sets if one.which == which)

    def place_of(self, which: Sequence[int]) -> Held:
        """The one place where one cause, or several at once, fit best."""
        part = self.part_of(which)
        if len(which) == 1:
            held, owner = held_by(part.told), which[0]
        else:
            held = self._joint_of(part, np.ones(len(part.joint.sets)))
            owner = next(n for n, one in enumerate(part.joint.sets) if one.which == tuple(which))
        rows = np.flatnonzero(held.severe.grid.owner == owner)
        return held.take(rows[[np.argmax(held.weight[rows])]])

    def is_idle(self, which: tuple[int, ...]) -> bool:
        """Whether several causes explain the readings no better than one of them alone."""
        return self.joint[which] <= SEVERAL_RATHER * float(self.probability[list(which)].max())

    def _joint_of(self, part: Part, probability: Array) -> Held:
        """Its causes at once; of idle ones only what the likeliest of them calls for counts."""
        grid = part.told.severe.grid
        remedy = []
        for one, all_ in zip(part.joint.sets, part.joint.severe.grid.remedy, strict=True):
            likelier = max(one.which, key=lambda h: float(self.probability[h]))
            remedy.append(grid.remedy[likelier] if self.is_idle(one.which) else all_)
        return held_together(part.told, part.joint, probability, remedy)

    def _astray(self, part: Part) -> Array:
        """Probability that a part holds and each check of it does not belong besides, (G of the part,)."""
        told, together = part.told, self.together(part)
        found = _share_of_nodes(told, self.singles(part)) @ np.exp(told.odd - strays(told.odd)[:, None])
        if len(together):
            own = part.joint.node_share * together[part.joint.severe.grid.owner]
            found = found + own @ np.exp(part.joint.odd - strays(part.joint.odd)[:, None])
        return by_check(told.doubts, told.checks, found)


def _share_of_nodes(told: Explanation, singles: Array) -> Array:
    """Of what every hypothesis holds in a part, the share of each of its nodes, (N,)."""
    return np.asarray(
        told.node_weight * (singles / np.maximum(told.probability, 1e-300))[told.fitted.grid.owner]
    )


@dataclass(frozen=True, slots=True)
class Often:
    """How often several causes come at once.

    Attributes:
        pairs: Two of any kind, where something is wrong.
        several: Of a cause of one cylinder, that three cylinders or more have it.
    """

    pairs: float
    several: float


def weighed(told: Explanation, often: Often) -> Weighed:
    """Everything on one scale.

    Args:
        told: The explanation of all readings.
        often: How often several causes come at once.
    """
    parts = list(_parted(told, None, (), np.arange(len(told.seen.columns)), 0.0, often))
    apart = [Apart(part.told, part.aside, part.level) for part in parts if part.aside]
    for one in likely_slips(told, apart, Weighed(tuple(parts)).log_total):
        read = rows_but(one.aside, len(told.seen.columns))
        level = one.slip.log_prior + sum(doubt.log_flat for doubt in one.aside)
        right = explained_as_meant(told, one.slip, read)
        parts += _parted(right, one.slip, one.aside, np.flatnonzero(read), level, often)
    return Weighed(tuple(parts))


def _parted(
    told: Explanation,
    slip: Slip | None,
    aside: tuple[Doubt, ...],
    kept: Indices,
    level: float,
    often: Often,
) -> Iterator[Part]:
    """The readings as they are written, or with one slip put right, in parts.

    Args:
        aside: What is set aside to begin with, with *level*, its log weight and the slip's.
        kept: Rows of the readings that *told* explains, among all.
    """
    while len(aside) < MOST and len(told.checks) and told.does_not_belong.max() > ASTRAY:
        check = told.checks[int(np.argmax(told.does_not_belong))]
        d = int(np.argmax(np.where([one.check == check for one in told.doubts], told.is_true, -1.0)))
        likely = told.is_true[d] < 1.0 - LIKELY
        yield _part(taken_to_belong(told, d), slip, aside, kept, level, often, likely=likely)
        doubt = told.doubts[d]
        level += doubt.log_flat
        aside = (*aside, doubt.among(kept))
        kept = kept[~doubt.gone(len(kept))]
        told = set_aside(told, d)
    yield _part(told, slip, aside, kept, level, often, likely=True)


def taken_to_belong(told: Explanation, d: int) -> Explanation:
    """The same explanation without doubt number *d*."""
    odd = told.odd.copy()
    odd[:, d] = -np.inf
    log = posterior_of(told.fitted.grid, told.fitted.modes.log_evidence + strays(odd))
    return replace(told, odd=odd, log_posterior=log)


def set_aside(told: Explanation, d: int) -> Explanation:
    """The explanation of all but what doubt number *d* is about."""
    gone = told.doubts[d].gone(len(told.seen.columns))
    left = tuple(one for one, out in zip(told.seen.observations, gone, strict=True) if not out)
    rest = Seen(told.seen.asked, told.seen.columns.keep(~gone), left)
    heard = without(told.noise, gone)
    fitted = told.again.get(d) or fitted_without(told.severe, told.noise, told.doubts[d])
    # nodes are moved in place as the rest is explained
    fitted = replace(fitted, modes=fitted.modes.take(np.arange(len(fitted.modes))))
    return summed_up(
        told.suspects, told.hypotheses, told.severe, told.model, rest, told.middle, heard, fitted
    )


def _part(
    told: Explanation,
    slip: Slip | None,
    aside: tuple[Doubt, ...],
    kept: Indices,
    level: float,
    often: Often,
    *,
    likely: bool,
) -> Part:
    grid = told.fitted.grid
    nodes = grid.log_prior[grid.owner] + grid.log_weight + told.fitted.modes.log_evidence
    whole = float(log_sum(nodes + strays(told.odd)))
    joint = at_once(told, often)
    weight = np.array([one.log_weight for one in joint.sets])
    log = sharpened(told) if likely else told.log_posterior
    return Part(slip, aside, kept, told, joint, level, log + whole + level, weight + level)


def at_once(told: Explanation, often: Often) -> Jointly:
    """Two causes, and one at several cylinders, on the readings of an explanation."""
    if not len(told.noise.columns):
        return fitted_together(told, [])
    seen = screen(told)
    worth, level = pairs_worth(told, seen, often.pairs / (1.0 - often.pairs))
    return fitted_together(told, [*worth, *sets_worth(told, seen, often.several, level)])
