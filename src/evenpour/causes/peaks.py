"""Further peaks of a node's posterior, found from the draws that weigh most.

Several small leaks that add up to one large one have as many peaks as leaks: any of them may be the large
one. Laplace's mode is one of them. Draws that weigh a lot far from it show where the others are; followed
downhill they find them.
"""

from __future__ import annotations

import numpy as np

from evenpour.causes.evidence import Draws
from evenpour.causes.laplace import Modes, begin, settle
from evenpour.causes.problem import Array, Indices
from evenpour.causes.proposal import Proposal
from evenpour.causes.seen import Noise
from evenpour.causes.severe import Severe

#: Draws followed for each hypothesis, and how far from a known peak another one lies, [prior sd].
FOLLOWED, APART = 16, 1.0
#: Peaks lower than this below the highest of their hypothesis are left out, [nat].
LOW = 6.0


def with_peaks(
    noise: Noise, severe: Severe, which: Indices, modes: Modes, sought: Proposal, drawn: Draws
) -> tuple[Indices, Modes]:
    """The modes with further peaks of the proposal's hypotheses: their nodes (n,) and places.

    Args:
        noise: The readings.
        severe: The model at all nodes.
        which: Node of every mode known so far.
        modes: Where they sit.
        sought: The proposal, of some hypotheses.
        drawn: Its weighed draws.
    """
    log_weight, slot, z = drawn
    heaviest = np.argsort(-log_weight, axis=1)[:, :FOLLOWED]
    problem = np.repeat(np.arange(len(heaviest)), heaviest.shape[1])
    draw = heaviest.ravel()
    node = sought.node[problem, slot[problem, draw]]
    start = begin(severe.predict, node, z[problem, draw], severe.moving)
    found = settle(noise, severe.predict, node, start, renew=0.5, most=8, moving=severe.moving)
    kept_node, kept_z = [int(one) for one in which], list(modes.z)
    new: list[int] = []
    owner = severe.grid.owner
    for row in np.argsort(-found.log_evidence):
        same = [at for at, one in zip(kept_z, kept_node, strict=True) if owner[one] == owner[node[row]]]
        mine = np.array([owner[one] == owner[node[row]] for one in which])
        height = modes.log_evidence[mine].max() if mine.any() else -np.inf
        if found.log_evidence[row] > height - LOW and _far(found.z[row], same):
            new.append(int(row))
            kept_node.append(int(node[row]))
            kept_z.append(found.z[row])
    rows = np.array(new, dtype=np.int64)
    return np.concatenate([which, node[rows]]), joined(modes, found.take(rows))


def _far(z: Array, known: list[Array]) -> bool:
    return all(float(np.sum((z - one) ** 2)) > APART**2 for one in known)


def joined(one: Modes, other: Modes) -> Modes:
    """Both, one after the other."""
    return Modes(
        np.concatenate([one.z, other.z]),
        np.concatenate([one.f, other.f]),
        np.concatenate([one.J, other.J]),
        np.concatenate([one.taken, other.taken]),
        np.concatenate([one.log_evidence, other.log_evidence]),
        np.concatenate([one.arrived, other.arrived]),
    )
