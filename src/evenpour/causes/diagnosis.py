"""From readings to an answer: first at once for what is alive, then for everything.

The engine remembers where every node's nuisance sits and the model's values and slopes there. A new reading
moves all nodes a little with the old slopes; only nodes that carry weight get new ones. No hypothesis is dropped
for good: nodes that a quick answer passes over keep their place and come along in the next thorough one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.evidence import DRAWS, Evidence, by_laplace, put_right
from evenpour.causes.laplace import Modes, begin, local, settle
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.posterior import Component, Posterior
from evenpour.causes.predictive import left_out
from evenpour.causes.problem import Array, Columns, Grid, Indices, Nodes
from evenpour.causes.seen import Noise, noise_of
from evenpour.causes.unexplained import (
    Variant,
    as_read,
    checks_of,
    clashing_pairs,
    log_flat,
    rows_of,
    set_aside,
    slips_of,
)

#: A quick answer passes over nodes that were less probable than exp(-QUIET) of the likeliest.
QUIET = 18.0
#: New slopes for nodes above this share of the whole that moved further than TURNED, [prior sd].
ALIVE, TURNED = 1e-4, 0.5
#: Hypotheses above this are weighed by draws; variants above this are tried in earnest.
DRAWN, TRIED = 1e-3, 5e-3
ROUNDS = 3


@dataclass(slots=True)
class Memory:
    """What the engine keeps from reading to reading for one car, one sheet and one set of columns."""

    modes: Modes  # all nodes
    weight: Array  # (N,) log posterior of each node when it was last looked at

    def copied(self) -> Memory:
        """A memory that can be changed without changing this one."""
        return Memory(self.modes.take(np.arange(len(self.modes))), self.weight.copy())


def fresh_memory(nodes: Nodes, parameters: int) -> Memory:
    """Nothing read yet: every node at its middle, with slopes there. Costs 2 d + 1 calls a node; worth keeping."""
    every = np.arange(len(nodes.grid))
    modes = begin(nodes.predict, every, np.zeros((len(every), parameters)))
    return Memory(modes, nodes.grid.log_weight + nodes.grid.log_prior[nodes.grid.owner])


def diagnose(
    nodes: Nodes, columns: Columns, memory: Memory, *, thorough: bool = True, draws: int = DRAWS
) -> Posterior:
    """Explain all readings together.

    Args:
        nodes: The model at the nodes of all hypotheses, its spread widened as wanted.
        columns: What was read, its noise widened as wanted.
        memory: Where the nodes were; brought up to date in place.
        thorough: Look at every node; else only at those that had weight before.
        draws: Draws that weigh each hypothesis alive.
    Returns:
        Probabilities of all hypotheses, of slips and of readings that fit nothing; they sum to 1.
    """
    noise = noise_of(columns)
    quiet = memory.weight < memory.weight.max() - QUIET
    active = np.arange(len(memory.weight)) if thorough else np.flatnonzero(~quiet)
    flat = _FlatPrior(columns)
    steps = 8 if thorough else 2
    memory.modes.put(
        active,
        settle(noise, nodes.predict, active, memory.modes.take(active), fresh=False, most=steps),
    )
    stray = _look(noise, nodes.grid, memory, active, flat)
    for _ in range(ROUNDS):
        weight = np.exp(memory.weight - log_sum(memory.weight))
        turned = np.flatnonzero((weight > ALIVE) & (memory.modes.moved > TURNED))
        turned = turned[np.isin(turned, active)]
        if not len(turned):
            break
        memory.modes.put(
            turned, settle(noise, nodes.predict, turned, memory.modes.take(turned), most=3)
        )
        stray[np.searchsorted(active, turned)] = _look(noise, nodes.grid, memory, turned, flat)
    evidence = by_laplace(nodes.grid, _known(memory, active))
    log_prior = nodes.grid.log_prior
    alive = _alive(evidence.log_evidence + log_prior)
    evidence = put_right(evidence, noise, nodes, memory.modes, alive, count=draws)
    return _weighed(nodes, columns, noise, memory, active, stray, evidence, draws)


@dataclass(frozen=True, slots=True)
class _FlatPrior:
    """Every check with its rows and the log prior of its not belonging."""

    checks: Indices
    sets: list[Indices]
    log_prior: Array

    def __init__(self, columns: Columns) -> None:
        checks = checks_of(columns)
        object.__setattr__(self, "checks", checks)
        object.__setattr__(self, "sets", [np.flatnonzero(columns.check == one) for one in checks])
        object.__setattr__(self, "log_prior", np.array([log_flat(columns, [int(one)]) for one in checks]))
