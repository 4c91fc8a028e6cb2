"""What is in a car's tank, where that may be another fuel than the one stated."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Situation
from evenpour.physics.blend import Blend, blend, blend_density


@dataclass(frozen=True, slots=True)
class Tank:
    """The fuel of many cars. Numbers where all hold what was stated, else arrays of shape (cars,).

    Attributes:
        ethanol: Share by volume, 0 to 1.
        density: At the situation's temperature, [kg/m³].
    """

    ethanol: Any
    blend: Blend
    density: Any


def tank(cars: Cars, situation: Situation) -> Tank:
    """What the *cars* hold in a *situation*. Hot.

    ``ethanol`` of a car counts from what was stated: 1 is nothing but ethanol, -1 none at all.
    """
    other = cars["ethanol"]
    if not np.any(other):
        return Tank(situation.fuel, situation.blend, situation.density)
    fuel, petrol, temperature = situation.fuel, situation.fuel_density, situation.ambient_temperature
    if not isinstance(temperature, int | float):
        return _held(other, fuel, petrol, temperature)
    return _held_before(other.tobytes(), fuel, petrol, float(temperature))


#: What is remembered of the cars in front of one's eyes: each situation asks for it several times.
REMEMBERED = 16


@lru_cache(REMEMBERED)
def _held_before(other: bytes, share: float, petrol: float, temperature: float) -> Tank:
    return _held(np.frombuffer(other), share, petrol, temperature)


def _held(other: Any, stated: float, petrol: float, temperature: Any) -> Tank:
    """The fuel of cars that hold another one than was *stated*."""
    more, less = np.maximum(other, 0.0), np.maximum(-other, 0.0)
    share: Any = np.clip(stated + (1.0 - stated) * more - stated * less, 0.0, 1.0)
    fuel = blend(share, petrol)  # of as many fuels as there are cars
    return Tank(share, fuel, blend_density(fuel, temperature))
