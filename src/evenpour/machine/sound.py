"""Whether an engine runs at all in a state, and which cylinders take part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.machine.kind import Kind
from evenpour.machine.running import Running

STALLS = 0.4  # of its idle speed, below which an engine does not keep turning; common practice, no source
BURNS = 0.3  # share of charges that must burn for an engine to turn by itself; common practice, no source


def runs(kind: Kind, state: Running) -> NDArray[np.bool_]:
    """Which cars hold the state: a balance was found, enough charges burn, and it turns fast enough."""
    burns = 1.0 - state.missed.mean(axis=0) >= BURNS
    turns = state.speed >= STALLS * kind.design.idle_speed
    return np.asarray(state.converged & burns & turns)


@dataclass(frozen=True, slots=True)
class Soundness:
    """How one car fares in a state. ``missed``: by cylinder; ``burns``: whether enough charges do."""

    runs: bool
    burns: bool
    missed: tuple[float, ...]


def soundness(kind: Kind, state: Running, car: int = 0) -> Soundness:
    """Of one of the cars."""
    missed: Any = state.missed[:, car]
    return Soundness(
        bool(runs(kind, state)[car]),
        bool(1.0 - missed.mean() >= BURNS),
        tuple(float(share) for share in missed),
    )
