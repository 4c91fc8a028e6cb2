"""The pressure that stays after the pump has stopped, and where it goes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.smooth import positive
from evenpour.physics.leakage import pressure_after

STEPS = 14
FIRST = 1.0  # s, the first step of the time grid
OPENING_CORNER = 0.03e5  # Pa, over which an injector that opens low begins to pass
BOTTOM, BOTTOM_BAND = 1.25e5, 0.1e5  # Pa, where the accumulator's spring comes to its end; from memory
#: Leaks that act like holes, and what shuts each off.
HOLES = {
    "non_return_leak": "feed",
    "regulator_leak": "return",
    "control_leak": "control",
    "accumulator_leak": "accumulator",
    "cold_start_leak": "cold_start_valve",
}
HOSES = 0.6e-6 / 1e5  # m³/Pa, lines and hoses alone; from memory


@dataclass(frozen=True, slots=True)
class Leaks:
    """Everything the pressure leaks through after the stop. SI.

    Attributes:
        holes: All that leak like holes, for the root of the pressure, (cars,).
        seats: The injectors, each in series with the slip past the plunger, and the barrel, (cars,); laminar.
        slip: Past the plunger to each port, (cylinders, cars); laminar.
        opening: At which each injector stands off its seat, (cylinders, cars).
    """

    holes: Any
    seats: Any
    slip: Any
    opening: Any

    def laminar(self, pressure: Any) -> Any:
        """What leaks for each pascal at *pressure* [Pa], [m³/(s Pa)], shape (cars,). Hot.

        An injector that opens below the pressure held stands off its seat, and only the slip then holds the
        fuel back.
        """
        above = positive(pressure - self.opening, OPENING_CORNER)
        return self.seats + np.einsum("kc,kc->c", self.slip, above) / pressure


def leaks(cars: Cars, blocked: str = "none") -> Leaks:
    """What empties the system. Hot.

    Args:
        blocked: What is pinched or shut off: ``none``, ``feed`` (non-return valve out), ``return`` (primary
            regulator out), ``accumulator``, ``control`` or ``cold_start_valve``.
    """
    holes = sum(cars[leak] for leak, shut in HOLES.items() if shut != blocked)
    slip = cars["plunger_slip"] + cars["port_leak"] / 4.9e5
    each = cars["injector_leak"]
    seats = (slip * each / (slip + each)).sum(axis=0) + cars["barrel_leak"]
    return Leaks(holes, seats, slip, cars["injector_opening"])


def capacity(cars: Cars, pressure: Any) -> Any:
    """Fuel given up for each pascal, [m³/Pa]: little once the accumulator's spring is home. Hot."""
    above = 0.5 * (1.0 + np.tanh((pressure - BOTTOM) / BOTTOM_BAND))
    return HOSES + np.maximum(cars["capacity"] - HOSES, 0.0) * above


def held(cars: Cars, time: Any, blocked: str = "none") -> Any:
    """Pressure left *time* [s] after the stop, [Pa], shape (cars,). Hot.

    In steps that grow with time, each solved exactly with the leaks and the capacity of its start.
    """
    pressure = cars["shut_pressure"]
    out = leaks(cars, blocked)
    for share in np.diff(_grid(float(np.max(time)))):
        store = capacity(cars, pressure)
        left = pressure_after(pressure, share * time, store, out.holes, out.laminar(pressure))
        pressure = np.maximum(left, 1e2)
    return pressure


def _grid(longest: float) -> Any:
    """Shares of the time at which the steps end: from a second, or a twentieth of it, to all of it."""
    first = min(FIRST / max(longest, FIRST), 0.05)
    return np.concatenate([[0.0], np.geomspace(first, 1.0, STEPS)])
