r"""Evidence of every node by Laplace's method, in the space of the readings.

At a node, with nuisance z ~ N(0, I), readings y with noise R, predictions f(z) and slopes J:

.. math::

    \varphi(z) &= \tfrac12 (y - f)' R^{-1} (y - f) + \tfrac12 z'z \\
    z_{new} &= J' (J J' + R)^{-1} (y - f + J z) \\
    \log E &= -\varphi(z^*) - \tfrac12 \log|I + R^{-1} J J'| - \tfrac12 \log|2 \pi R|

A step costs a solve of the size of the readings, not of the nuisance; a reading that responds to nothing
costs nothing. All nodes go as one array. Slopes may be kept from an earlier place: steps with old slopes
still go downhill, because the model itself is asked at every new place.

Source: Tierney and Kadane, J. Am. Stat. Assoc. 81 (1986) 82; with a grid over the awkward parameter, Rue,
Martino and Chopin, J. R. Stat. Soc. B 71 (2009) 319 (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.problem import Array, Flags, Indices, Predict
from evenpour.causes.seen import Noise, log_likelihood, residuals
from evenpour.causes.slopes import predicted, slopes

#: A step is cut to this length, in prior standard deviations.
LONGEST_STEP = 2.5
#: A node has arrived when the next step promises less than this, [nat].
ARRIVED = 0.01
#: Slopes taken nearer than this to the place, in prior standard deviations, count as taken there.
NEAR = 0.1
HALVINGS = 4


@dataclass(slots=True)
class Modes:
    """Where the nuisance of each node sits, and the model there: the engine's memory from reading to reading.

    ``put`` writes in place, so that an update of few nodes costs as little as they are.
    """

    z: Array  # (N, d)
    f: Array  # (N, M) at z
    J: Array  # (N, d, M)
    taken: Array  # (N, d) where the slopes were taken
    log_evidence: Array  # (N,)
    arrived: Flags  # (N,)

    def __len__(self) -> int:
        return len(self.z)

    def take(self, rows: Indices) -> Modes:
        """A copy of these nodes."""
        return Modes(
            self.z[rows],
            self.f[rows],
            self.J[rows],
            self.taken[rows],
            self.log_evidence[rows],
            self.arrived[rows],
        )

    def put(self, rows: Indices, other: Modes) -> None:
        """Write these nodes."""
        self.z[rows], self.f[rows], self.J[rows] = other.z, other.f, other.J
        self.taken[rows], self.log_evidence[rows] = other.taken, other.log_evidence
        self.arrived[rows] = other.arrived

    @property
    def moved(self) -> Array:
        """How far each node lies from where its slopes were taken, (N,)."""
        return np.asarray(np.sqrt(np.sum((self.z - self.taken) ** 2, axis=1)))


def begin(predict: Predict, nodes: Indices, z: Array) -> Modes:
    """Modes at a given place, with slopes taken there; the evidence is not known yet."""
    return Modes(
        z=z.copy(),
        f=predicted(predict, nodes, z),
        J=slopes(predict, nodes, z),
        taken=z.copy(),
        log_evidence=np.full(len(z), -np.inf),
        arrived=np.zeros(len(z), dtype=bool),
    )


@dataclass(frozen=True, slots=True)
class Local:
    """The readings linearised at each node: t is what N(0, B) foresees, B = A'A + noise, all scaled."""

    A: Array  # (n, d, m)
    t: Array  # (n, m)
    B: Array  # (n, m, m)
    r: Array  # (n, m)
    factor: Array  # (n, m)


def local(noise: Noise, modes: Modes) -> Local:
    """Linearise at the modes with the slopes that are held."""
    r, factor = residuals(noise, modes.f)
    A = modes.J[:, :, noise.columns.column] * factor[:, None, :]
    t = r + np.einsum("nd,ndm->nm", modes.z, A)
    return Local(A, t, np.matmul(A.transpose(0, 2, 1), A) + noise.correlation, r, factor)


def settle(
    noise: Noise, predict: Predict, nodes: Indices, start: Modes, *, renew: float = NEAR, most: int = 8
) -> Modes:
    """Move these nodes to their modes and give their evidence.

    Args:
        noise: The readings.
        predict: The model by node.
        nodes: Which nodes, (n,).
        start: Where they begin, n rows.
        renew: Take slopes anew where a node has moved further than this, in prior standard deviations;
            infinity keeps those of the start throughout.
        most: Steps at most.
    """
    now = start.take(np.arange(len(start)))
    energy = _energy(noise, now.f, now.z)
    now.arrived[:] = False
    going = np.arange(len(now))
    for _ in range(most):
        _renew(predict, nodes, now, going, renew)
        part = now.take(going)
        goal, promised = _newton(noise, part)
        close = promised < ARRIVED
        now.arrived[going[close]] = True
        going, goal = going[~close], goal[~close]
        if not len(going):
            break
        _step(noise, predict, nodes, now, energy, going, goal)
    _renew(predict, nodes, now, np.arange(len(now)), renew)
    now.log_evidence = evidence(noise, now)
    return now


def evidence(noise: Noise, modes: Modes) -> Array:
    """Log evidence at the modes, (n,)."""
    at = local(noise, modes)
    spread = np.linalg.slogdet(at.B)[1] - np.linalg.slogdet(noise.correlation)[1]
    return np.asarray(-_energy(noise, modes.f, modes.z) - 0.5 * spread)


def _energy(noise: Noise, f: Array, z: Array) -> Array:
    return np.asarray(0.5 * np.sum(z**2, axis=1) - log_likelihood(noise, f))


def _newton(noise: Noise, modes: Modes) -> tuple[Array, Array]:
    """Where the linearised problem has its mode, and by how much the energy should fall on the way there."""
    at = local(noise, modes)
    v = np.linalg.solve(at.B, at.t[..., None])[..., 0]
    goal = np.einsum("ndm,nm->nd", at.A, v)
    step = goal - modes.z
    bent = np.einsum("nd,ndm->nm", step, at.A)
    promised = 0.5 * (
        np.sum(step**2, axis=1) + np.sum(bent * np.linalg.solve(noise.correlation, bent.T).T, axis=1)
    )
    return goal, promised


def _renew(predict: Predict, nodes: Indices, now: Modes, which: Indices, renew: float) -> None:
    which = which[now.moved[which] > renew]
    if len(which):
        now.J[which] = slopes(predict, nodes[which], now.z[which])
        now.taken[which] = now.z[which]


def _step(
    noise: Noise, predict: Predict, nodes: Indices, now: Modes, energy: Array, going: Indices, goal: Array
) -> None:
    """Go to the goal, or part of the way where the energy would rise.

    Where it rises however short the step, the slopes were taken across a jump or a bend: they are mended by
    what was met on the way (Broyden), and the next step goes elsewhere.
    """
    step = goal - now.z[going]
    length = np.sqrt(np.sum(step**2, axis=1, keepdims=True))
    step *= np.minimum(1.0, LONGEST_STEP / np.maximum(length, 1e-12))
    left = np.arange(len(going))
    for halving in range(HALVINGS + 1):
        at = going[left]
        z = now.z[at] + step[left]
        f = predicted(predict, nodes[at], z)
        found = _energy(noise, f, z)
        falls = found <= energy[at]
        if halving == HALVINGS:
            _mend(now, at[~falls], step[left[~falls]], f[~falls])
        at, left = at[falls], left[~falls]
        now.z[at], now.f[at], energy[at] = z[falls], f[falls], found[falls]
        if not len(left):
            break
        step[left] *= 0.5


def _mend(now: Modes, which: Indices, step: Array, f: Array) -> None:
    """Slopes that agree with what a step met: the smallest change of them that does."""
    foreseen = np.einsum("nd,ndm->nm", step, now.J[which])
    missed = f - now.f[which] - foreseen
    along = step / np.maximum(np.sum(step**2, axis=1, keepdims=True), 1e-12)
    now.J[which] += along[:, :, None] * missed[:, None, :]
