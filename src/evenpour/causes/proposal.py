"""Where draws under a hypothesis are sought: Gaussians at its nodes.

A coordinate vector that is standard normal becomes a node and the numbers of a car there. There are two
Gaussians at every node: Laplace's own, and a wide one as if the readings had been twice as noisy, which
reaches the far ends of bent and bounded directions without leaving the directions nobody has read.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.laplace import Modes, local
from evenpour.causes.normal import log_sum, normal_below
from evenpour.causes.problem import Array, Flags, Indices
from evenpour.causes.seen import Noise, log_likelihood
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
    """Gaussians at the nodes of H hypotheses; K nodes each, filled up where there are fewer."""

    noise: Noise
    severe: Severe
    node: Indices  # (H, K)
    edge: Array  # (H, K + 1) cumulative share of draws of each cell
    log_share: Array  # (H, K) log of prior over proposal share of the cell
    at: Indices  # (H, K) which Gaussian
    center: Array  # (G, d)
    bent: Array  # (G, d, m) slopes of the readings, in units of their noise
    root: Array  # (2, G, d, d) of the narrow and of the wide covariance
    log_root: Array  # (2, G) log determinant of the root

    @property
    def coordinates(self) -> int:
        """Length of the coordinate vector: one chooses the cell, the rest are the car's numbers."""
        return 1 + int(self.center.shape[1])

    def drawn(self, problem: Indices, v: Array, wide: int) -> tuple[Indices, Indices, Array]:
        """Gaussian and cell (R,), and numbers (R, d), of coordinates (R, 1 + d)."""
        share = normal_below(v[:, 0])
        cell = np.sum(share[:, None] >= self.edge[problem, 1:-1], axis=1)
        own = self.at[problem, cell]
        z = np.empty((len(v), v.shape[1] - 1))
        for g, some in _together(own):
            z[some] = self.center[g] + v[some, 1:] @ self.root[wide, g].T
        return own, cell, z

    def annealing_ratio(self, problem: Indices, v: Array) -> Array:
        """Log ratio of posterior (not normalised) to the wide Gaussian, (R,)."""
        own, cell, z = self.drawn(problem, v, 1)
        length = 0.5 * np.sum(v[:, 1:] ** 2, axis=1)
        return np.asarray(length + self.log_root[1, own] + self._target(problem, cell, z))

    def weights(self, v: Array, narrow: int) -> Array:
        """Log weights of the same draws for every hypothesis, (H, n); the first *narrow* are drawn narrow."""
        parts = [
            self._mixed(some, wide, narrow / len(v)) for wide, some in enumerate((v[:narrow], v[narrow:]))
        ]
        return np.concatenate(parts, axis=1)

    def _mixed(self, v: Array, wide: int, share: float) -> Array:
        problem = np.repeat(np.arange(len(self.node)), len(v))
        own, cell, z = self.drawn(problem, np.tile(v, (len(self.node), 1)), wide)
        length, read = np.empty(len(z)), np.empty(len(z))
        for g, some in _together(own):
            apart = z[some] - self.center[g]
            length[some] = np.sum(apart**2, axis=1)
            read[some] = np.sum((apart @ self.bent[g]) ** 2, axis=1)
        narrow_density = np.log(share) - 0.5 * (length + read / NARROW) - self.log_root[0, own]
        wide_density = np.log1p(-share) - 0.5 * (length + read / WIDE) - self.log_root[1, own]
        log_ratio = self._target(problem, cell, z) - np.logaddexp(narrow_density, wide_density)
        return np.asarray(log_ratio.reshape(len(self.node), len(v)))

    def _target(self, problem: Indices, cell: Indices, z: Array) -> Array:
        f = predicted(self.severe.predict, self.node[problem, cell], z)
        log_prior = self.log_share[problem, cell] - 0.5 * np.sum(z**2, axis=1)
        return np.asarray(log_likelihood(self.noise, f) + log_prior)


def proposal(noise: Noise, severe: Severe, which: Indices, modes: Modes, hypotheses: Indices) -> Proposal:
    """Gaussians at the modes of these hypotheses' nodes; *which* nodes the modes are, rising."""
    grid = severe.grid
    found = np.full(len(grid), -np.inf)
    found[which] = modes.log_evidence
    own = [np.flatnonzero(grid.owner == h) for h in hypotheses]
    shape = (len(own), max(len(some) for some in own))
    node, strong = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
    log_share, edge = np.zeros(shape), np.ones((len(own), shape[1] + 1))
    edge[:, 0] = 0.0
    for h, some in enumerate(own):
        weight = grid.log_weight[some] + found[some]
        weight = np.exp(weight - log_sum(weight))
        prior = np.exp(grid.log_weight[some])
        share = (1.0 - SPREAD_OUT) * weight + SPREAD_OUT * prior / prior.sum()
        node[h, : len(some)] = some
        edge[h, 1 : len(some)] = np.cumsum(share)[:-1]
        log_share[h, : len(some)] = np.log(prior) - np.log(share)
        strong[h, : len(some)] = some[_nearest(weight >= min(FAINT, weight.max()))]
        strong[h, len(some) :] = strong[h, 0]
    kept, back = np.unique(strong, return_inverse=True)
    gaussians = _gaussians(noise, modes.take(np.searchsorted(which, kept)))
    return Proposal(noise, severe, node, edge, log_share, back.reshape(shape), *gaussians)


def _nearest(strong: Flags) -> Indices:
    """For each cell the nearest one that is strong."""
    at = np.flatnonzero(strong)
    return np.asarray(at[np.argmin(np.abs(np.arange(len(strong))[:, None] - at), axis=1)])


def _together(own: Indices) -> list[tuple[int, Indices]]:
    """Rows that share a Gaussian."""
    order = np.argsort(own, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(own[order])) + 1)
    return [(int(own[some[0]]), some) for some in parts if len(some)]


def _gaussians(noise: Noise, modes: Modes) -> tuple[Array, Array, Array, Array]:
    at = local(noise, modes)
    across = at.A.transpose(0, 2, 1)
    roots = []
    for noisier in (NARROW, WIDE):
        B = at.B + (noisier - 1.0) * noise.correlation
        cov = np.eye(modes.z.shape[1]) - np.matmul(at.A, np.linalg.solve(B, across))
        roots.append(np.linalg.cholesky(0.5 * (cov + cov.transpose(0, 2, 1))))
    root = np.stack(roots)
    bent = np.matmul(at.A, np.linalg.inv(np.linalg.cholesky(noise.correlation)).T)
    return modes.z, bent, root, np.log(np.einsum("wnii->wni", root)).sum(axis=2)
