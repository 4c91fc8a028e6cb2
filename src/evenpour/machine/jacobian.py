"""How every reading answers every parameter in which healthy cars differ."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from evenpour.machine.blocks import BLOCK, in_blocks
from evenpour.machine.checks import Predicted, predict
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Query, Readout
from evenpour.machine.set_up import set_up
from evenpour.machine.situation import Situation

STEP = 0.05  # standard deviations to either side: a choked or closed path bends over less than that


def jacobian(
    kind: Kind,
    home: Situation,
    asked: Sequence[tuple[Predicted, Query]],
    draws: NDArray[np.float64],
    step: float = STEP,
) -> NDArray[np.float64]:
    """Slopes of all readings, as they are compared, for each standard deviation of each free parameter.

    Central differences of whole cars: a car whose part differs has its screws set for that part, as it would.

    Args:
        home: Where and on which fuel the screws were set.
        draws: Standard normal numbers of the cars, (cars, free rows).
        step: Half the distance of the two cars compared, in standard deviations.
    Returns:
        Shape (cars, free rows, asked).
    """
    free = draws.shape[1]
    shift = step * np.concatenate([np.eye(free), -np.eye(free)])
    slopes = np.empty((len(draws), free, len(asked)))

    def work(part: slice) -> None:
        cars = kind.blueprint.cars((draws[part, None, :] + shift).reshape(-1, free))
        screws = set_up(kind.design, kind.torque, kind.funnel, cars, home)
        both = predict(Readout(kind, cars, screws), list(asked)).reshape(-1, 2, free, len(asked))
        slopes[part] = (both[:, 0] - both[:, 1]) / (2.0 * step)

    in_blocks(work, len(draws), max(1, BLOCK // (2 * free)))
    return slopes
