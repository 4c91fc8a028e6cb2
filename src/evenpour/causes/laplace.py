r"""Evidence of every node by Laplace's method, in the space of the readings.

At a node, with nuisance z ~ N(0, I), readings y with noise R, predictions f(z) and slopes J:

.. math::

    \varphi(z) &= \tfrac12 (y - f)' R^{-1} (y - f) + \tfrac12 z'z \\
    z_{new} &= (I + J R^{-1} J')^{-1} J R^{-1} (y - f + J' z) \\
    \log E &= -\varphi(z^*) - \tfrac12 \log|I + J R^{-1} J'| - \tfrac12 \log|2 \pi R|

with J having a row for each number of the car. A step costs a solve of the size of the nuisance, however many
readings there are; a reading that responds to nothing costs nothing. All nodes go as one array. Slopes may be
kept from an earlier place: steps with old slopes still go downhill, because the model itself is asked at
every new place.

Source: Tierney and Kadane, J. Am. Stat. Assoc. 81 (1986) 82; with a grid over the awkward parameter, Rue,
Martino and Chopin, J. R. Stat. Soc. B 71 (2009) 319 (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from evenpour.causes.linear import NODES, Linear
from evenpour.causes.problem import Array, Flags, Indices, Moving, Predict
from evenpour.causes.seen import Noise, log_likelihood, residuals, white_misfit, white_slopes
from evenpour.causes.slopes import STEP, predicted, slopes
from evenpour.machine.blocks import in_blocks

#: A step is cut to this length, in prior standard deviations.
LONGEST_STEP = 2.5
#: A node has arrived when the next step promises less than this, [nat].
ARRIVED = 0.01
#: Slopes taken nearer than this to the place, in prior standard deviations, count as taken there.
NEAR = 0.1
HALVINGS = 4
#: Nat behind the best, beyond which a node is left after a step where it is said how likely nodes were.
HOPELESS = 20.0


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

    def joined(self, more: Modes) -> Modes:
        """These and then *more*."""
        pairs = [(getattr(self, one.name), getattr(more, one.name)) for one in fields(self)]
        return Modes(*(np.concatenate(pair) for pair in pairs))

    def put(self, rows: Indices, other: Modes) -> None:
        """Write these nodes."""
        self.z[rows], self.f[rows], self.J[rows] = other.z, other.f, other.J
        self.taken[rows], self.log_evidence[rows] = other.taken, other.log_evidence
        self.arrived[rows] = other.arrived

    @property
    def moved(self) -> Array:
        """How far each node lies from where its slopes were taken, (N,)."""
        return np.asarray(np.sqrt(np.sum((self.z - self.taken) ** 2, axis=1)))


def begin(predict: Predict, nodes: Indices, z: Array, moving: Moving | None = None) -> Modes:
    """Modes at a given place, with slopes taken there; the evidence is not known yet."""
    return Modes(
        z=z.copy(),
        f=predicted(predict, nodes, z),
        J=slopes(predict, nodes, z, moving),
        taken=z.copy(),
        log_evidence=np.full(len(z), -np.inf),
        arrived=np.zeros(len(z), dtype=bool),
    )


@dataclass(frozen=True, slots=True)
class Local:
    """The readings linearised at each node."""

    z: Array  # (n, d)
    J: Array  # (n, d, M)
    H: Array  # (n, d, d) precision of the numbers: the prior's and what the readings add
    pull: Array  # (n, d) H times where the linearised problem has its mode
    r: Array  # (n, m) misfit in units of the noise
    factor: Array  # (n, m) that scales slopes to those units

    def goal(self) -> Array:
        """Where the linearised problem has its mode, (n, d)."""
        return np.asarray(np.linalg.solve(self.H, self.pull[..., None])[..., 0])


def local(noise: Noise, modes: Modes) -> Local:
    """Linearise at the modes with the slopes that are held."""
    r, factor = residuals(noise, modes.f)
    count, d = modes.z.shape
    H, pull = np.empty((count, d, d)), np.empty((count, d))
    white = white_misfit(noise, r)

    def work(part: slice) -> None:
        A = white_slopes(noise, modes.J[part], factor[part])
        H[part] = np.matmul(A, A.transpose(0, 2, 1))
        t = white[part] + np.matmul(modes.z[part, None, :], A)[:, 0]
        pull[part] = np.matmul(A, t[..., None])[..., 0]

    in_blocks(work, count, NODES)
    H[:, np.arange(d), np.arange(d)] += 1.0
    return Local(modes.z, modes.J, H, pull, r, factor)


def settle(
    noise: Noise,
    predict: Predict,
    nodes: Indices,
    start: Modes,
    *,
    renew: float | Array = NEAR,
    most: int = 8,
    moving: Moving | None = None,
    one_sided: bool = False,
    log_prior: Array | None = None,
) -> Modes:
    """Move these nodes to their modes and give their evidence. Slopes that were kept are those of *start*,
    and no copy of them.

    Args:
        noise: The readings.
        predict: The model by node.
        nodes: Which nodes, (n,).
        start: Where they begin, n rows.
        renew: Take slopes anew where a node has moved further than this, in prior standard deviations, or of
            each node so far, (n,); infinity keeps those of the start throughout.
        most: Steps at most.
        moving: Which numbers nodes respond to; all where nothing is said.
        one_sided: Slopes are taken to one side only, at half the cost: those of half a `STEP` away.
        log_prior: Log prior weight of the nodes, (n,), where what falls far behind the best is to be left.
    """
    now = replace(start, z=start.z.copy(), f=start.f.copy(), arrived=np.zeros(len(start), dtype=bool))
    energy = energy_of(noise, now.f, now.z)
    far = np.broadcast_to(np.asarray(renew, dtype=np.float64), len(now))
    spread = np.full(len(now), np.nan)  # log determinant of the precision, where it is known
    linear, going = Linear(noise, *now.z.shape), np.arange(len(now))
    for _ in range(most):
        linear.forget(_renew(predict, nodes, now, going, far, moving, one_sided))
        toward = linear.at(going, now.z, now.f, now.J)
        step, promised = toward.step()
        close = promised < ARRIVED
        now.arrived[going[close]] = True
        spread[going[close]] = np.linalg.slogdet(toward.H[close])[1]
        going = going[~close]
        if not len(going):
            break
        stuck, met = _step(noise, predict, nodes, now, energy, going, step[~close])
        if len(stuck):
            now.J = now.J.copy() if now.J is start.J else now.J
            _mend(now, stuck, *met)
            linear.forget(stuck)
        if log_prior is not None:
            weight = log_prior - energy
            left = weight[going] < weight.max() - HOPELESS
            spread[going[left]] = np.linalg.slogdet(toward.H[~close][left])[1]
            going = going[~left]
    if len(going):
        linear.forget(_renew(predict, nodes, now, going, far, moving, one_sided))
        spread[going] = np.linalg.slogdet(linear.at(going, now.z, now.f, now.J).H)[1]
    now.log_evidence = -energy - 0.5 * spread
    return now


def energy_of(noise: Noise, f: Array, z: Array) -> Array:
    """Minus the log density of readings and numbers where those foresee *f*, up to a constant, (n,)."""
    return np.asarray(0.5 * np.sum(z**2, axis=1) - log_likelihood(noise, f))


def _renew(
    predict: Predict,
    nodes: Indices,
    now: Modes,
    which: Indices,
    far: Array,
    moving: Moving | None,
    one_sided: bool,
) -> Indices:
    """Take slopes anew where nodes have moved far, and say of which."""
    which = which[now.moved[which] > far[which]]
    if len(which):
        now.J, now.taken = now.J.copy(), now.taken.copy()  # they may be those of the start
        f = now.f[which] if one_sided else None
        now.J[which] = slopes(predict, nodes[which], now.z[which], moving, f)
        now.taken[which] = now.z[which]
    return which


def _step(
    noise: Noise, predict: Predict, nodes: Indices, now: Modes, energy: Array, going: Indices, step: Array
) -> tuple[Indices, tuple[Array, Array]]:
    """Go this far, or part of the way where the energy would rise.

    Where it rises however short the step, the slopes were taken across a jump or a bend. Gives these nodes,
    the shortest step, and what it met.
    """
    length = np.sqrt(np.sum(step**2, axis=1, keepdims=True))
    step = step * np.minimum(1.0, LONGEST_STEP / np.maximum(length, 1e-12))
    z = now.z[going] + step
    f = predicted(predict, nodes[going], z)
    found = energy_of(noise, f, z)
    falls = found <= energy[going]
    at = going[falls]
    now.z[at], now.f[at], energy[at] = z[falls], f[falls], found[falls]
    if falls.all():
        return going[:0], (step[:0], f[:0])
    # all shorter steps at once: few nodes are left, and a call of the model costs more than their rows
    at, short = going[~falls], step[~falls]
    parts = np.repeat(0.5 ** np.arange(1, HALVINGS + 1), len(at))
    z = np.tile(now.z[at], (HALVINGS, 1)) + parts[:, None] * np.tile(short, (HALVINGS, 1))
    f = predicted(predict, np.tile(nodes[at], HALVINGS), z)
    found = energy_of(noise, f, z).reshape(HALVINGS, len(at))
    best = np.argmin(found, axis=0)
    falls = found[best, np.arange(len(at))] <= energy[at]
    met = (0.5**HALVINGS * short[~falls], f[-len(at) :][~falls])
    stuck, rows = at[~falls], (best * len(at) + np.arange(len(at)))[falls]
    at = at[falls]
    now.z[at], now.f[at], energy[at] = z[rows], f[rows], found.ravel()[rows]
    return np.asarray(stuck), met


def _mend(now: Modes, which: Indices, step: Array, f: Array) -> None:
    """Slopes that agree with what a step met, so that the next one goes elsewhere: the smallest change of
    them that does (Broyden).
    """
    foreseen = np.einsum("nd,ndm->nm", step, now.J[which])
    missed = f - now.f[which] - foreseen
    # over a step shorter than slopes are taken over, a jump would make a slope without bounds
    along = step / np.maximum(np.sum(step**2, axis=1, keepdims=True), STEP**2)
    now.J[which] += along[:, :, None] * missed[:, None, :]
