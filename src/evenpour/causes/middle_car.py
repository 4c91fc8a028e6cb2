"""What the middle car of a kind reads, each question asked of the model once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from evenpour.causes.car_model import CarModel
from evenpour.causes.felt import healthy
from evenpour.causes.observed import key_of
from evenpour.causes.problem import Array
from evenpour.causes.suspects import Suspect
from evenpour.machine.checks import Predicted
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Query
from evenpour.machine.situation import Situation


class Middle:
    """Answers of the middle car to questions, as they are compared: remembers those it gave."""

    def __init__(self, kind: Kind, home: Situation) -> None:
        self._car = CarModel(kind, (Suspect(None, None),), home, (), np.zeros(0, dtype=np.intp), np.zeros(0))
        self._known: dict[tuple[Any, ...], float] = {}

    def __call__(self, asked: Sequence[tuple[Predicted, Query]]) -> Array:
        """Shape (questions,)."""
        keys = [key_of(query) for _, query in asked]
        new = {key: one for key, one in zip(keys, asked, strict=True) if key not in self._known}
        if new:
            told = self._car.columns_of(list(new.values()))(healthy(1), np.zeros((1, 0)))[0]
            self._known.update(zip(new, map(float, told), strict=True))
        return np.array([self._known[key] for key in keys])
