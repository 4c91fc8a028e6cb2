"""The mode and the evidence of every node, spending the model's time where the posterior is.

Most causes do nothing to most readings, and a gross fault leaves most causes without hope. So: the healthy
car is fitted first; every node starts where it fits better, at the car in the middle or at the fitted
healthy one; two steps with the healthy car's slopes tell which nodes fit best. What tells in a faulty car may
move nothing in a healthy one, so the best node of every cause, and of each of its two ways, gets slopes of
its own before any cause is given up; then all nodes that have hope, and only the likeliest are followed to
the end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.laplace import Modes, begin, settle
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.problem import Array, Grid, Indices, best_of_each
from evenpour.causes.seen import Noise, log_likelihood
from evenpour.causes.severe import Severe
from evenpour.causes.slopes import STEP as ONE_SIDE
from evenpour.causes.slopes import predicted

HOPEFUL = 14.0  # nat behind the best after rough steps, beyond which a node is left there
LIKELY = 9.0  # nat, within which a node is followed to the end
POOR = (
    25.0  # nat by which the best node may fall short of a usual fit before all that start well are followed
)
ALIKE = 0.3  # of the noise, within which a node's readings are the healthy car's
NEAR_SOUND = 1.0  # standard deviations within which its slopes are, too
ANYHOW = 40  # nodes that fit best where they start, followed then whatever the rough steps say of them
SCAN = (0.0, -1.2, 1.2)  # of the severity's number, where a node may start
RENEWED = 0.3  # standard deviations a node moves before its slopes are taken anew
BORROWED = 10.0  # standard deviations: farther than any node is allowed to move without slopes of its own
FINELY = 0.05  # and at the end, where a slope that is a little off would tilt the evidence
FACING, WORTH = 1.2, 0.1  # of the severity's number, towards the best node of a cause; nat gained there
STEP = 0.5  # of the severity's own number, over which its slope is taken


@dataclass(frozen=True, slots=True)
class Fitted:
    """Modes of all nodes of a grid. ``log_evidence``: of every owner, (H,)."""

    grid: Grid
    modes: Modes
    log_evidence: Array

    @property
    def log_posterior(self) -> Array:
        """Of every owner, normalised, (H,)."""
        both = self.grid.log_prior + self.log_evidence
        return np.asarray(both - log_sum(both))


def fit(severe: Severe, noise: Noise) -> Fitted:
    """Fit all nodes of the grid. Node 0 must be the healthy car's."""
    healthy = np.zeros(1, dtype=np.int64)
    start = begin(severe.predict, healthy, np.zeros((1, severe.size)), severe.moving)
    sound = settle(noise, severe.predict, healthy, start, most=10, moving=severe.moving)
    modes, energy = _placed(severe, noise, sound)
    grid = severe.grid
    others = np.arange(1, len(grid))
    _follow(severe, noise, modes, others, np.inf, most=3)
    hopeful = _hopeful(grid, modes, np.arange(len(grid)), HOPEFUL, _gained(severe, noise, modes))
    if modes.log_evidence.max() < _poor(noise):
        # nothing fits yet: the healthy car's slopes may have misled what starts far from it
        hopeful = np.union1d(hopeful, np.argsort(energy, kind="stable")[:ANYHOW])
    _follow(severe, noise, modes, hopeful, RENEWED, most=3)
    _follow(severe, noise, modes, _handed_on(severe, noise, modes), np.inf, most=2)
    _follow(severe, noise, modes, _hopeful(grid, modes, np.arange(len(grid)), LIKELY), FINELY, most=6)
    return summed(grid, modes)


def summed(grid: Grid, modes: Modes) -> Fitted:
    """Sum the evidence of the nodes."""
    total = log_sum_by(grid.log_weight + modes.log_evidence, grid.owner, len(grid.log_prior))
    return Fitted(grid, modes, total)


def _placed(severe: Severe, noise: Noise, sound: Modes) -> tuple[Modes, Array]:
    """All nodes at their best start with the healthy car's slopes and their own over severity; its energy."""
    count = len(severe.grid)
    nodes = np.arange(count)
    starts = [np.zeros(severe.size) for _ in SCAN] + [sound.z[0]]
    for start, v in zip(starts, SCAN, strict=False):
        start[severe.d] = v
    tried = np.repeat(np.array(starts), count, axis=0)
    seen = predicted(severe.predict, np.tile(nodes, len(starts)), tried)
    energies = (0.5 * np.sum(tried**2, axis=1) - log_likelihood(noise, seen)).reshape(len(starts), count)
    first = np.argmin(energies, axis=0) * count + nodes
    z, f, energy = tried[first], seen[first], energies.min(axis=0)
    J = np.repeat(sound.J, count, axis=0)
    _severity_slopes(severe, nodes, z, J)
    taken = z + BORROWED  # slopes that are not their own are renewed as soon as any are
    modes = Modes(z, f, J, taken, np.full(count, -np.inf), np.zeros(count, dtype=bool))
    modes.put(np.zeros(1, dtype=np.int64), sound)
    return modes, energy


def _severity_slopes(severe: Severe, nodes: Indices, z: Array, J: Array) -> None:
    shift = np.zeros(severe.size)
    shift[severe.d] = STEP
    ends = predicted(severe.predict, np.tile(nodes, 2), np.concatenate([z + shift, z - shift]))
    J[:, severe.d] = (ends[: len(nodes)] - ends[len(nodes) :]) / (2.0 * STEP)


def _follow(severe: Severe, noise: Noise, modes: Modes, nodes: Indices, renew: float, *, most: int) -> None:
    """Settle these nodes; those that read like the healthy car keep its slopes."""
    if not len(nodes):
        return
    sound = modes.f[0][noise.columns.column] * noise.per_sd
    away = np.abs(modes.f[nodes][:, noise.columns.column] * noise.per_sd - sound).max(axis=1, initial=0.0)
    near = np.sqrt(np.sum((modes.z[nodes] - modes.z[0])[:, : severe.d] ** 2, axis=1)) < NEAR_SOUND
    how = np.where((away < ALIKE) & near, np.inf, renew)
    rough = renew > FINELY
    its = settle(
        noise, severe.predict, nodes, modes.take(nodes),
        renew=how, most=most, moving=severe.moving, one_sided=rough,
    )  # fmt: skip
    if rough:  # as good as slopes from half a step further on, and no good at the end
        its.taken[how < np.inf] += 0.5 * ONE_SIDE
    modes.put(nodes, its)


def _handed_on(severe: Severe, noise: Noise, modes: Modes) -> Indices:
    """Nodes that fit better from where the best node of their cause sits, put there.

    A jump in what is foreseen (an engine that starts or does not) holds a node on its side of it.
    """
    grid, nodes = severe.grid, np.arange(len(severe.grid))
    best = best_of_each(grid.owner, modes.log_evidence)[grid.owner]
    z = modes.z[best].copy()
    z[:, severe.d] = np.where(nodes < best, FACING, -FACING)
    f = predicted(severe.predict, nodes, z)
    energy = 0.5 * np.sum(z**2, axis=1) - log_likelihood(noise, f)
    now = 0.5 * np.sum(modes.z**2, axis=1) - log_likelihood(noise, modes.f)
    better = nodes[(energy < now - WORTH) & (nodes != best)]
    modes.z[better], modes.f[better], modes.J[better] = z[better], f[better], modes.J[best[better]]
    modes.taken[better] = modes.taken[best[better]]
    return np.asarray(better)


def _poor(noise: Noise) -> float:
    """Log evidence under which even the best node explains the readings poorly."""
    return float(-noise.log_norm - 0.5 * len(noise.number) - POOR)


def _gained(severe: Severe, noise: Noise, modes: Modes) -> Array:
    """Give the best node of each way of every cause slopes of its own, and say what it gained, for every node
    of that way, (N,).
    """
    grid = severe.grid
    way = 2 * grid.owner + (grid.faults.severity[:, 0] < 0.0)
    best = best_of_each(way, grid.log_weight + modes.log_evidence)
    before = modes.log_evidence[best]
    _follow(severe, noise, modes, best, RENEWED, most=3)
    gain = np.maximum(modes.log_evidence[best] - before, 0.0)
    gained = gain[np.searchsorted(way[best], way)]
    gained[best] = 0.0
    return np.asarray(gained)


def _hopeful(grid: Grid, modes: Modes, nodes: Indices, behind: float, more: Array | float = 0.0) -> Indices:
    log = grid.log_prior[grid.owner] + grid.log_weight + modes.log_evidence + more
    return np.asarray(nodes[log[nodes] > log.max() - behind])
