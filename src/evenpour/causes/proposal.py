"""Where draws under a hypothesis are sought: Gaussians at its nodes.

At every place there are two: Laplace's own, and a wide one as if the readings had been twice as noisy, which
reaches the far ends of bent and bounded directions without leaving the directions nobody has read. A node
may have several places, where its posterior has several peaks. A draw is weighed against all Gaussians of its
node together, so that places that overlap count once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.laplace import Modes, local
from evenpour.causes.normal import log_sum, log_sum_by, normal_below
from evenpour.causes.problem import Array, Indices
from evenpour.causes.seen import Noise, log_likelihood, white_slopes
from evenpour.causes.severe import Severe
from evenpour.causes.slopes import predicted

#: Variance of the readings' noise as the two Gaussians take it, over what it is.
NARROW, WIDE = 1.05, 4.0
#: Share of draws that go to the cells as the prior has them, not as Laplace's evidence has them.
SPREAD_OUT = 0.1
#: Nodes of less weight than this within their hypothesis are sought where the nearest is that has more.
FAINT = 1e-3


@dataclass(frozen=True, slots=True)
class Proposal:
    """Places of H hypotheses, S slots each, filled up where there are fewer."""

    noise: Noise
    severe: Severe
    node: Indices  # (H, S)
    edge: Array  # (H, S + 1) cumulative share of draws of each slot
    log_share: Array  # (H, S) log share of draws of each slot; -inf where there is none
    at: Indices  # (H, S) which Gaussian
    center: Array  # (G, d)
    bent: Array  # (G, d, p) slopes of the readings, in directions of unit noise
    root: Array  # (2, G, d, d) of the narrow and of the wide covariance
    log_root: Array  # (2, G) log determinant of the root

    @property
    def coordinates(self) -> int:
        """Length of the coordinate vector: one chooses the slot, the rest are the car's numbers."""
        return 1 + int(self.center.shape[1])

    def drawn(self, problem: Indices, v: Array, wide: int) -> tuple[Indices, Array]:
        """Slots (R,), and numbers (R, d), of coordinates (R, 1 + d)."""
        share = normal_below(v[:, 0])
        slot = np.sum(share[:, None] >= self.edge[problem, 1:-1], axis=1)
        z = np.empty((len(v), v.shape[1] - 1))
        for g, some in _together(self.at[problem, slot]):
            z[some] = self.center[g] + v[some, 1:] @ self.root[wide, g].T
        return slot, z

    def weights(self, v: Array, narrow: int) -> tuple[Array, Indices, Array]:
        """Log weights (H, n) of the same draws for every hypothesis; the first *narrow* are drawn narrow.

        With them the slots (H, n) and numbers (H, n, d) of the draws.
        """
        parts = [
            self._mixed(some, wide, narrow / len(v)) for wide, some in enumerate((v[:narrow], v[narrow:]))
        ]
        log_weight, slot, z = (np.concatenate(some, axis=1) for some in zip(*parts, strict=True))
        return log_weight, slot, z

    def _mixed(self, v: Array, wide: int, narrow: float) -> tuple[Array, Indices, Array]:
        count, draws = len(self.node), len(v)
        problem = np.repeat(np.arange(count), draws)
        slot, z = self.drawn(problem, np.tile(v, (count, 1)), wide)
        density = np.full(len(z), -np.inf)
        node = self.node[problem, slot]
        for h, s in np.argwhere(np.isfinite(self.log_share)):
            some = np.flatnonzero((problem == h) & (node == self.node[h, s]))
            if len(some):
                own = self.log_share[h, s] + self._log_density(int(self.at[h, s]), z[some], narrow)
                density[some] = np.logaddexp(density[some], own)
        log_weight = self.target(problem, slot, z) - density
        return (
            log_weight.reshape(count, draws),
            slot.reshape(count, draws),
            z.reshape(count, draws, -1),
        )

    def _log_density(self, g: int, z: Array, narrow: float) -> Array:
        """Of the two Gaussians of a place together, without what all Gaussians share."""
        apart = z - self.center[g]
        length = np.sum(apart**2, axis=1)
        read = np.sum((apart @ self.bent[g]) ** 2, axis=1)
        near = np.log(narrow) - 0.5 * (length + read / NARROW) - self.log_root[0, g]
        far = np.log1p(-narrow) - 0.5 * (length + read / WIDE) - self.log_root[1, g]
        return np.asarray(np.logaddexp(near, far))

    def target(self, problem: Indices, slot: Indices, z: Array) -> Array:
        """Log of the posterior, not normalised, at numbers of these slots, (R,)."""
        node = self.node[problem, slot]
        f = predicted(self.severe.predict, node, z)
        log_prior = self.severe.grid.log_weight[node] - 0.5 * np.sum(z**2, axis=1)
        return np.asarray(log_likelihood(self.noise, f) + log_prior)


def proposal(noise: Noise, severe: Severe, which: Indices, modes: Modes, hypotheses: Indices) -> Proposal:
    """Gaussians at the modes of these hypotheses' nodes.

    Args:
        noise: The readings.
        severe: The model at all nodes.
        which: Node of every mode, (n,); a node may come several times, with several peaks.
        modes: Where they sit, n rows.
        hypotheses: Owners whose draws are sought, each with a mode at least.
    """
    grid = severe.grid
    best = np.full(len(grid), -np.inf)  # of the peaks of each node, together
    present = np.unique(which)
    best[present] = log_sum_by(modes.log_evidence, np.searchsorted(present, which), len(present))
    rows: list[list[tuple[int, int, float]]] = []  # node, mode that it is sought at, share
    for h in hypotheses:
        own = np.flatnonzero(grid.owner == h)
        weight = grid.log_weight[own] + best[own]
        weight = np.exp(weight - log_sum(weight))
        prior = np.exp(grid.log_weight[own])
        share = (1.0 - SPREAD_OUT) * weight + SPREAD_OUT * prior / prior.sum()
        strong = own[weight >= min(FAINT, weight.max())]
        slots = []
        for node, its in zip(own, share, strict=True):
            near = node if node in strong else strong[np.argmin(np.abs(strong - node))]
            peaks = np.flatnonzero(which == near)
            height = np.exp(modes.log_evidence[peaks] - best[near])
            slots += [
                (int(node), int(peak), float(its * part)) for peak, part in zip(peaks, height, strict=True)
            ]
        rows.append(slots)
    return _filled(noise, severe, modes, rows)


def _filled(noise: Noise, severe: Severe, modes: Modes, rows: list[list[tuple[int, int, float]]]) -> Proposal:
    shape = (len(rows), max(len(slots) for slots in rows))
    node, mode = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
    share = np.zeros(shape)
    for h, slots in enumerate(rows):
        for s, (its_node, its_mode, its_share) in enumerate(slots):
            node[h, s], mode[h, s], share[h, s] = its_node, its_mode, its_share
        node[h, len(slots) :], mode[h, len(slots) :] = slots[-1][0], slots[-1][1]
    share /= share.sum(axis=1, keepdims=True)
    edge = np.concatenate([np.zeros((len(rows), 1)), np.cumsum(share, axis=1)], axis=1)
    edge[:, 1:] = np.where(share > 0.0, edge[:, 1:], 1.0)
    kept, back = np.unique(mode, return_inverse=True)
    with np.errstate(divide="ignore"):
        log_share = np.log(share)
    gaussians = _gaussians(noise, modes.take(kept))
    return Proposal(noise, severe, node, edge, log_share, back.reshape(shape), *gaussians)


def _together(own: Indices) -> list[tuple[int, Indices]]:
    """Rows that share a Gaussian."""
    order = np.argsort(own, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(own[order])) + 1)
    return [(int(own[some[0]]), some) for some in parts if len(some)]


def _gaussians(noise: Noise, modes: Modes) -> tuple[Array, Array, Array, Array]:
    at = local(noise, modes)
    # a symmetric root: the same draws go the same way under every hypothesis, and rounding cannot spoil it
    own, across = np.linalg.eigh(at.H)
    roots, logs = [], []
    for noisier in (NARROW, WIDE):
        short = 1.0 / np.sqrt(1.0 + np.maximum(own - 1.0, 0.0) / noisier)
        roots.append(np.matmul(across * short[:, None, :], across.transpose(0, 2, 1)))
        logs.append(np.log(short).sum(axis=1))
    bent = white_slopes(noise, modes.J, at.factor)
    return modes.z, bent, np.stack(roots), np.stack(logs)
