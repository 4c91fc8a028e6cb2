"""Some of the cars of a block, taken out and put back."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray


class PerCar:
    """A dataclass of many cars: arrays have the cars along their last axis; what is no array holds for all.

    For a solve that goes on with those of the cars that are not done.
    """

    __slots__ = ()

    def some(self, which: NDArray[np.intp]) -> Self:
        """The same for some of the cars."""
        changes: dict[str, Any] = {}
        for field in fields(self):  # type: ignore[arg-type]
            value = getattr(self, field.name)
            if isinstance(value, PerCar):
                changes[field.name] = value.some(which)
            elif isinstance(value, np.ndarray) and value.ndim:
                changes[field.name] = value.take(which, axis=-1)
        return replace(self, **changes)  # type: ignore[type-var]

    def put(self, which: NDArray[np.intp], some: Self) -> None:
        """Write *some* over those of the cars, in place."""
        for field in fields(self):  # type: ignore[arg-type]
            value, new = getattr(self, field.name), getattr(some, field.name)
            if isinstance(value, PerCar):
                value.put(which, new)
            elif isinstance(value, np.ndarray) and value.ndim:
                value[..., which] = new
