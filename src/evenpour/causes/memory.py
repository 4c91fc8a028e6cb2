"""What the engine keeps from reading to reading, and how a new reading moves it.

A new reading moves all nodes a little with the slopes at hand; only nodes that carry weight get new ones. No
hypothesis is dropped for good: nodes that a quick answer passes over keep their place and come along in the
next thorough one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenpour.causes.laplace import Modes, begin, local, settle
from evenpour.causes.normal import log_sum
from evenpour.causes.predictive import left_out
from evenpour.causes.problem import Array, Indices
from evenpour.causes.seen import Noise
from evenpour.causes.severe import Severe
from evenpour.causes.unexplained import checks_of, log_flat

#: A quick answer passes over nodes that were less probable than exp(-QUIET) of the likeliest.
QUIET = 18.0
#: New slopes for nodes above this share of the whole that moved further than TURNED, [prior sd].
ALIVE, TURNED = 1e-4, 0.5
ROUNDS = 3


@dataclass(slots=True)
class Memory:
    """For one car, one sheet and one set of the model's columns; ``update`` writes in place."""

    modes: Modes  # all nodes
    weight: Array  # (N,) log posterior of each node when it was last looked at, strays included

    def copied(self) -> Memory:
        """A memory that can be changed without changing this one."""
        return Memory(self.modes.take(np.arange(len(self.modes))), self.weight.copy())


def fresh_memory(severe: Severe) -> Memory:
    """Nothing read yet: every node at its middle, with slopes there.

    This costs 2 d + 1 calls of the model a node, and depends on nothing that was read: worth keeping by sheet
    and conditions.
    """
    grid = severe.grid
    modes = begin(severe.predict, np.arange(len(grid)), np.zeros((len(grid), severe.size)))
    return Memory(modes, grid.log_weight + grid.log_prior[grid.owner])


@dataclass(frozen=True, slots=True)
class Looked:
    """Nodes that were brought up to date, and every check's case for not belonging there."""

    which: Indices  # (n,) rising
    stray: Array  # (n, G) log odds of "check g does not belong" against "all do"
    checks: Indices  # (G,)


def update(noise: Noise, severe: Severe, memory: Memory, *, thorough: bool) -> Looked:
    """Bring the memory up to date with these readings: all nodes, or those that had weight before."""
    loud = memory.weight >= memory.weight.max() - QUIET
    which = np.arange(len(loud)) if thorough else np.flatnonzero(loud)
    most = 8 if thorough else 2
    _settled(noise, severe, memory, which, renew=math.inf, most=most)
    checks = checks_of(noise.columns)
    stray = _look(noise, severe, memory, which, checks)
    for _ in range(ROUNDS):
        share = np.exp(memory.weight[which] - log_sum(memory.weight[which]))
        turned = np.flatnonzero((share > ALIVE) & (memory.modes.moved[which] > TURNED))
        if not len(turned):
            break
        _settled(noise, severe, memory, which[turned], renew=TURNED, most=3)
        stray[turned] = _look(noise, severe, memory, which[turned], checks)
    return Looked(which, stray, checks)


def _settled(
    noise: Noise, severe: Severe, memory: Memory, which: Indices, *, renew: float, most: int
) -> None:
    start = memory.modes.take(which)
    memory.modes.put(which, settle(noise, severe.predict, which, start, renew=renew, most=most))


def _look(noise: Noise, severe: Severe, memory: Memory, which: Indices, checks: Indices) -> Array:
    """Weigh these nodes, strays included; what each check would gain by not belonging, (n, G)."""
    grid, modes = severe.grid, memory.modes.take(which)
    stray = strays(noise, modes, checks)
    either = log_sum(np.concatenate([np.zeros((len(which), 1)), stray], axis=1))
    own = grid.log_weight[which] + grid.log_prior[grid.owner[which]]
    memory.weight[which] = own + modes.log_evidence + either
    return stray


def strays(noise: Noise, modes: Modes, checks: Indices) -> Array:
    """Log odds of "this check does not belong" against "all do", by the closed formula, (n, G)."""
    columns = noise.columns
    sets = [np.flatnonzero(columns.check == check) for check in checks]
    foreseen = left_out(noise, local(noise, modes), modes.f, sets).log_density
    return np.asarray(np.array([log_flat(columns, [int(check)]) for check in checks]) - foreseen)
