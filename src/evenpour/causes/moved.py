"""Nodes on their way to where they lie without a check."""

from __future__ import annotations

import numpy as np

from evenpour.causes.laplace import Modes, settle
from evenpour.causes.problem import NONE, Array, Indices, Predict
from evenpour.causes.seen import Noise


class Moved:
    """Nodes as they come to lie without a check. Slopes are heavy: a node that never got others has those of
    the whole.
    """

    def __init__(self, whole: Modes) -> None:
        self._whole = whole
        self.z, self.f = whole.z.copy(), whole.f.copy()
        self._taken = whole.taken.copy()
        self._place = np.full(len(whole), NONE)
        self._J = whole.J[:0]

    def take(self, nodes: Indices) -> Modes:
        """A copy of these nodes."""
        whole = self._whole
        return Modes(
            self.z[nodes], self.f[nodes], self._slopes(nodes), self._taken[nodes],
            whole.log_evidence[nodes], whole.arrived[nodes],
        )  # fmt: skip

    def settled(self, rest: Noise, predict: Predict, nodes: Indices, log_prior: Array) -> Array:
        """Move these nodes, each once, to their modes with the slopes they have; their log evidence."""
        start = self.take(nodes)
        its = settle(rest, predict, nodes, start, renew=np.inf, most=2, log_prior=log_prior)
        self.z[nodes], self.f[nodes] = its.z, its.f
        if its.J is not start.J:
            mended = np.flatnonzero((its.J != start.J).any(axis=(1, 2)))
            self._keep(nodes[mended], its.J[mended])
        return its.log_evidence

    def put(self, nodes: Indices, z: Array, f: Array, slopes: Array) -> None:
        """Put these nodes, each once, elsewhere; with slopes by the car's numbers, (n or 1, d, M)."""
        J = self._slopes(nodes)
        J[:, : slopes.shape[1]] = slopes
        self._keep(nodes, J)
        self.z[nodes], self.f[nodes] = z, f
        self._taken[nodes] = np.inf  # slopes that are not their own are taken anew when any are

    def _slopes(self, nodes: Indices) -> Array:
        found, at = self._whole.J[nodes], self._place[nodes]
        own = np.flatnonzero(at != NONE)
        found[own] = self._J[at[own]]
        return found

    def _keep(self, nodes: Indices, J: Array) -> None:
        new = self._place[nodes] == NONE
        self._place[nodes[new]] = np.arange(len(self._J), len(self._J) + int(new.sum()))
        self._J = np.concatenate([self._J, J[new]])
        self._J[self._place[nodes[~new]]] = J[~new]
