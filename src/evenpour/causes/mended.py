"""The car as it would read with causes mended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from evenpour.causes.car_model import CarModel
from evenpour.causes.explanation import Explanation

SCREW = "mixture_screw"


def mended(told: Explanation, which: Sequence[int]) -> CarModel:
    """The model to ask of a car without these causes. Where one of them is how the screw stands now, it is
    asked with the screw right at every reading: what was read before a turn was read with it elsewhere.
    """
    causes = (told.suspects[h].cause for h in which)
    if not any(cause is not None and cause.part == SCREW for cause in causes):
        return told.model
    at_right = (
        (check, replace(query, situation=replace(query.situation, screw=0.0)))
        for check, query in told.model.asked
    )
    return told.model.columns_of(tuple(at_right))
