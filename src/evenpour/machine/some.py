"""Some of the cars of a block, taken out and put back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Self

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

    def stretch(self, cars: slice) -> Self:
        """The same for some of the cars that stand side by side; views."""
        found = object.__new__(type(self))
        for name in type(self).__slots__:
            value = getattr(self, name)
            if isinstance(value, PerCar):
                value = value.stretch(cars)
            elif isinstance(value, np.ndarray) and value.ndim:
                value = value[..., cars]
            object.__setattr__(found, name, value)
        return found

    @classmethod
    def joined(cls, several: Sequence[Self], cars: Sequence[int]) -> Self:
        """All cars of *several*, one after the other, so many *cars* of each; what is no number and holds for
        all is the first's.
        """
        found = object.__new__(cls)
        for name in cls.__slots__:
            object.__setattr__(found, name, _joined([getattr(one, name) for one in several], cars))
        return found


def _joined(values: Sequence[Any], cars: Sequence[int]) -> Any:
    first = values[0]
    if isinstance(first, PerCar):
        return type(first).joined(values, cars)
    if not isinstance(first, int | float | np.ndarray):
        return first
    deep = max(map(np.ndim, values))
    if not deep:
        return first if all(one == first for one in values) else np.repeat(np.array(values, float), cars)
    rows = next(np.shape(one)[:-1] for one in values if np.ndim(one) == deep)
    whole, at = np.empty((*rows, sum(cars))), 0
    for one, count in zip(values, cars, strict=True):
        whole[..., at : at + count] = one
        at += count
    return whole
