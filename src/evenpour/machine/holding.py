"""The pressure that stays after the pump has stopped, and where it goes."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.smooth import positive
from evenpour.physics.leakage import pressure_after

STEPS = 14
FIRST = 1.0  # s, the first step of the time grid
OPENING_CORNER = 0.03e5  # Pa, over which an injector that opens low begins to pass
BOTTOM, BOTTOM_BAND = 1.25e5, 0.1e5  # Pa, where the accumulator's spring comes to its end; from memory
HOSES = 0.6e-6 / 1e5  # m³/Pa, lines and hoses alone; from memory


def leak_terms(cars: Cars, pressure: Any, blocked: str = "none") -> tuple[Any, Any]:
    """What empties the system at *pressure* [Pa]: the factor of sqrt(p) and the factor of p. Hot.

    Args:
        blocked: What is pinched or shut off: ``none``, ``feed`` (non-return valve out), ``return`` (primary
            regulator out), ``accumulator``, ``control`` or ``cold_start_valve``.
    """
    roots: Any = 0.0
    if blocked != "feed":
        roots = roots + cars["non_return_leak"]
    if blocked != "return":
        roots = roots + cars["regulator_leak"]
    if blocked != "control":
        roots = roots + cars["control_leak"]
    if blocked != "accumulator":
        roots = roots + cars["accumulator_leak"]
    if blocked != "cold_start_valve":
        roots = roots + cars["cold_start_leak"]
    return roots, _through_injectors(cars, pressure) + cars["barrel_leak"]


def _through_injectors(cars: Cars, pressure: Any) -> Any:
    """Laminar leak of all injectors, each in series with the slip past the plunger, [m³/(s Pa)]. Hot.

    One that opens below the pressure held stands off its seat, and only the slip then holds the fuel back.
    """
    slip = cars["plunger_slip"] + cars["port_leak"] / 4.9e5
    above = positive(pressure - cars["injector_opening"], OPENING_CORNER) / pressure
    leaks = cars["injector_leak"]
    return (slip * leaks / (slip + leaks) + slip * above).sum(axis=0)


def capacity(cars: Cars, pressure: Any) -> Any:
    """Fuel given up for each pascal the pressure falls, [m³/Pa]: little once the accumulator's spring is home. Hot."""
    above = 0.5 * (1.0 + np.tanh((pressure - BOTTOM) / BOTTOM_BAND))
    return HOSES + np.maximum(cars["capacity"] - HOSES, 0.0) * above


def held(cars: Cars, time: Any, blocked: str = "none") -> Any:
    """Pressure left *time* [s] after the stop, [Pa], shape (cars,). Hot.

    In steps that grow with time, each solved exactly with the leaks and the capacity of its start.
    """
    pressure = cars["shut_pressure"] * 1.0
    for share in np.diff(_grid(float(np.max(time)))):
        roots, laminar = leak_terms(cars, pressure, blocked)
        pressure = np.maximum(
            pressure_after(pressure, share * time, capacity(cars, pressure), roots, laminar), 1e2
        )
    return pressure


def _grid(longest: float) -> Any:
    """Shares of the time at which the steps end: from a second, or a twentieth of it, to all of it."""
    first = min(FIRST / max(longest, FIRST), 0.05)
    return np.concatenate([[0.0], np.geomspace(first, 1.0, STEPS)])
