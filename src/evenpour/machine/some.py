"""Some of the cars of a block, taken out and put back."""

from __future__ import annotations

from typing import Self

import numpy as np
from numpy.typing import NDArray


class PerCar:
    """A dataclass of many cars: arrays have the cars along their last axis; what is no array holds for all.

    For a solve that goes on with those of the cars that are not done. Frozen and slotted.
    """

    __slots__: tuple[str, ...] = ()

    def some(self, which: NDArray[np.intp]) -> Self:
        """The same for some of the cars."""
        found = object.__new__(type(self))
        for name in type(self).__slots__:
            value = getattr(self, name)
            if isinstance(value, PerCar):
                value = value.some(which)
            elif isinstance(value, np.ndarray) and value.ndim:
                value = value.take(which, axis=-1)
            object.__setattr__(found, name, value)
        return found

    def put(self, which: NDArray[np.intp], some: Self) -> None:
        """Write *some* over those of the cars, in place."""
        for name in type(self).__slots__:
            value, new = getattr(self, name), getattr(some, name)
            if isinstance(value, PerCar):
                value.put(which, new)
            elif isinstance(value, np.ndarray) and value.ndim:
                value[..., which] = new
