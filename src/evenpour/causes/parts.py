"""One way to take the readings, and all of them together on one scale.

What each explanation weighs, what is told from where, and how surely each check does not belong.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from evenpour.causes.explanation import Explanation, true_at
from evenpour.causes.felt import healthy
from evenpour.causes.mended import mended
from evenpour.causes.next_test import Held, held_by, held_together
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Array, Flags, Indices
from evenpour.causes.slip_kinds import Slip
from evenpour.causes.together import Jointly, Together
from evenpour.causes.unexplained import Doubt, by_check, rows_but

ASTRAY = 0.5  # that a check does not belong, from which the rest is explained without it
SEVERAL_RATHER = 0.5  # of the likeliest one's own probability, from which several are told rather than it


@dataclass(frozen=True, slots=True)
class Way:
    """One way to take the readings; rows count them all.

    Attributes:
        slips: What was written wrongly.
        aside: What is set aside.
    """

    slips: tuple[Slip, ...] = ()
    aside: tuple[Doubt, ...] = ()

    @property
    def level(self) -> float:
        """Log weight of the slips and of what is set aside."""
        return sum(slip.log_prior for slip in self.slips) + sum(doubt.log_flat for doubt in self.aside)


@dataclass(frozen=True, slots=True)
class Part:
    """The readings taken in one way, and the next one that seems astray belongs.

    Attributes:
        told: The explanation of those that are not set aside.
        joint: Several causes at once, on the same.
        singles: Log weight of every hypothesis, on the scale of all parts, (H,).
        together: The same of every set of causes at once, (P,).
        poor: The hypotheses whose weight draws could not put right, (H,).
    """

    way: Way
    told: Explanation
    joint: Jointly
    singles: Array
    together: Array
    poor: Flags

    @property
    def kept(self) -> Indices:
        """Rows of the readings that are explained, among all."""
        count = len(self.told.seen.columns) + sum(len(one.rows) for one in self.way.aside)
        return np.flatnonzero(rows_but(self.way.aside, count))

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
        """The part to tell from: with the likeliest slips, or none, the last that, with those behind it, is
        likelier than not.
        """
        chains: dict[tuple[int, ...], list[int]] = {}
        for at, part in enumerate(self.parts):
            chains.setdefault(tuple(map(id, part.way.slips)), []).append(at)
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
    def rough(self) -> float:
        """Probability of what draws could not put right."""
        return float(sum(self.singles(part)[part.poor].sum() for part in self.parts))

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
            for slip in part.way.slips:
                found[id(slip)] = (slip, found.get(id(slip), (slip, 0.0))[1] + share)
        return tuple(sorted(found.values(), key=lambda one: -one[1]))

    @cached_property
    def does_not_belong(self) -> Array:
        """Probability that each check of all readings does not belong, or was written wrongly, (G,)."""
        told = self.parts[0].told
        checks, of_row = told.checks, told.seen.columns.check
        found = np.zeros(len(checks))
        for part, share in zip(self.parts, self.share, strict=True):
            its = np.zeros(len(checks))
            inside = by_check(part.told.doubts, part.told.checks, self._true(part))
            if len(part.told.checks):
                its[np.searchsorted(checks, part.told.checks)] = inside
            gone = {one.check for one in part.way.aside}
            gone |= {int(of_row[row]) for slip in part.way.slips for row in slip.rows}
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

    def cars_of(self, which: Sequence[int]) -> tuple[Array, Array]:
        """All columns of the car where causes fit best, and of the same car with nothing wrong, (M,) each."""
        place = self.place_of(which)
        (node,) = place.nodes
        z = place.severe.spread * place.modes.z[node : node + 1, : place.severe.d]
        return place.modes.f[node], np.asarray(mended(self.parts[self.main].told, which)(healthy(1), z)[0])

    def is_idle(self, which: tuple[int, ...]) -> bool:
        """Whether several causes explain the readings no better than one of them alone."""
        return self.joint[which] <= SEVERAL_RATHER * float(self.probability[list(which)].max())

    def likelier(self, which: tuple[int, ...]) -> int:
        """Of several causes the one that is likeliest alone."""
        return max(which, key=lambda h: float(self.probability[h]))

    def _joint_of(self, part: Part, probability: Array) -> Held:
        """Its causes at once; of idle ones only what the likeliest of them calls for counts."""
        grid = part.told.severe.grid
        remedy = []
        for one, all_ in zip(part.joint.sets, part.joint.severe.grid.remedy, strict=True):
            remedy.append(grid.remedy[self.likelier(one.which)] if self.is_idle(one.which) else all_)
        return held_together(part.told, part.joint, probability, remedy)

    def alone_astray(self) -> Array:
        """Probability that each value does not belong and the others of its check do, or that a word was
        misread, by its row among all readings, (m,).
        """
        found = np.zeros(len(self.parts[0].told.seen.columns))
        for part, share in zip(self.parts, self.share, strict=True):
            for one in part.way.aside:
                if not one.whole:
                    found[one.rows] += share
            for one, chance in zip(part.told.doubts, self._true(part), strict=True):
                if not one.whole:
                    found[part.kept[one.rows]] += chance
        for row, chance in self._misread().items():
            found[row] += chance
        return found

    def _true(self, part: Part) -> Array:
        """Probability that a part holds and each doubt of it is true besides, (D of the part,)."""
        told, together = part.told, self.together(part)
        found = _share_of_nodes(told, self.singles(part)) @ true_at(told.odd)
        if len(together):
            own = part.joint.node_share * together[part.joint.severe.grid.owner]
            found = found + own @ true_at(part.joint.odd)
        return np.asarray(found)


def _share_of_nodes(told: Explanation, singles: Array) -> Array:
    """Of what every hypothesis holds in a part, the share of each of its nodes, (N,)."""
    return np.asarray(
        told.node_weight * (singles / np.maximum(told.probability, 1e-300))[told.fitted.grid.owner]
    )
