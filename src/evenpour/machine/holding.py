"""The pressure that stays after the pump has stopped, and where it goes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.smooth import lesser, positive
from evenpour.machine.some import PerCar
from evenpour.physics.leakage import pressure_after, time_to_reach

STEPS = 24
OPENING_CORNER = 0.03e5  # Pa, over which an injector that opens low begins to pass
SHUT_CORNER = 0.02e5  # Pa, over which a system that never reached the shut pressure keeps what it had
NOTHING = 1e2  # Pa, below which no gauge shows anything
PORT_PRESSURE = 4.9e5  # Pa, at which a leak of a port is stated
END_BAND = 0.35e5  # Pa, over how much the accumulator's spring comes to its end; from memory, not verified
# Pa, at which a leak of `HOLES` is the same whether it is a hole or a gap: about where systems shut
MEET = 2.5e5
#: Leaks that act partly like holes and partly like gaps (see `gap_share`), and what shuts each off. The
#: control circuit's return ends in a shut-off valve in the primary regulator, and so in one hose with it.
HOLES: Mapping[str, tuple[str, ...]] = {
    "non_return_leak": ("feed",),
    "regulator_leak": ("return",),
    "control_leak": ("return", "control"),
    "accumulator_leak": ("accumulator",),
    "cold_start_leak": ("cold_start_valve",),
}
HOSES = 1.2e-6 / 1e5  # m³/Pa, lines, hoses and the gas that comes out of the fuel; from memory


@dataclass(frozen=True, slots=True)
class Leaks(PerCar):
    """Everything the pressure leaks through after the stop, and what it leaks from. SI.

    Attributes:
        holes: All that leaks like holes, for the root of the pressure, (cars,); ``cold_start``: of these the
            one into the engine.
        seats: Into the engine, (cars,): the injectors, each in series with the slip past the plunger, and the
            cold-start valve as far as it is a gap; laminar.
        elsewhere: The other gaps, (cars,): of the valves, and past the plunger into the air meter; laminar.
        slip: Past the plunger to each port, (cylinders, cars); laminar.
        opening: At which each injector stands off its seat, (cylinders, cars).
        store: Fuel given up for each pascal by the accumulator, (cars,).
        spring_end: At which its spring comes to its end, (cars,).
    """

    holes: Any
    cold_start: Any
    seats: Any
    elsewhere: Any
    slip: Any
    opening: Any
    store: Any
    spring_end: Any

    def laminar(self, pressure: Any) -> Any:
        """What leaks for each pascal at *pressure* [Pa], [m³/(s Pa)], shape (cars,). Hot.

        An injector that opens below the pressure held stands off its seat, and only the slip then holds the
        fuel back.
        """
        above = positive(pressure - self.opening, OPENING_CORNER)
        return self.seats + self.elsewhere + np.einsum("kc,kc->c", self.slip, above) / pressure

    def capacity(self, pressure: Any) -> Any:
        """Fuel given up for each pascal, [m³/Pa]: little once the accumulator's spring is home. Hot."""
        return HOSES + self.store * (0.5 * (1.0 + np.tanh((pressure - self.spring_end) / END_BAND)))

    def fall(self, above: Any, below: Any, left: Any) -> tuple[Any, Any, Any]:
        """What happens while the pressure falls from *above* to *below* [Pa], in the time *left* [s]. Hot.

        Solved exactly with the leaks and the capacity at the middle; what the store gives is divided as the
        leaks stand there.

        Returns:
            Pressure, [Pa]; fuel seeped into the engine, [m³]; time that is left then, [s].
        """
        middle = 0.5 * (above + below)
        laminar, store, root = self.laminar(middle), self.capacity(middle), np.sqrt(middle)
        whole = time_to_reach(above, below, store, self.holes, laminar)
        partly = pressure_after(above, np.minimum(left, whole), store, self.holes, laminar)
        after = np.where(left >= whole, below, partly)
        into = (laminar - self.elsewhere) * root + self.cold_start
        seeped = store * (above - after) * into / (self.holes + laminar * root)
        return after, seeped, np.maximum(left - whole, 0.0)


def leaks(cars: Cars, blocked: str = "none") -> Leaks:
    """What empties the system. Hot.

    Args:
        blocked: What is pinched or shut off: ``none``, ``feed`` (non-return valve out), ``return`` (primary
            regulator out, with the shut-off valve in it), ``accumulator``, ``control`` or
            ``cold_start_valve``.
    """
    every = sum(cars[leak] for leak, shut in HOLES.items() if blocked not in shut)
    cold_start = 0.0 if blocked in HOLES["cold_start_leak"] else cars["cold_start_leak"]
    gap = gap_share(cars["gap_odds"])
    each_pascal = gap / math.sqrt(
        MEET
    )  # a gap's flow for each pascal, where as a hole it had one for the root
    slip = cars["plunger_slip"] + cars["port_leak"] / PORT_PRESSURE
    each = cars["injector_leak"]
    return Leaks(
        holes=(1.0 - gap) * every,
        cold_start=(1.0 - gap) * cold_start,
        seats=(slip * each / (slip + each)).sum(axis=0) + each_pascal * cold_start,
        elsewhere=cars["barrel_leak"] + each_pascal * (every - cold_start),
        slip=slip,
        opening=cars["injector_opening"],
        store=positive(cars["capacity"] - HOSES, 0.1 * HOSES),
        spring_end=cars["spring_end"],
    )


def gap_share(odds: Any) -> Any:
    """Share of a leak of `HOLES` that is a gap at the pressure where hole and gap `MEET`. Hot.

    A seat that is wet all round leaks through a gap: the few mm³/s of a good one go through some 15 mm of it
    that gape by a micrometre, at a Reynolds number below one, and so in proportion to the pressure. The same
    flow through a scratch or beside a grain is a jet through 0.02 mm at a Reynolds number of several hundred,
    and goes with the root. Which it is differs from car to car.

    Args:
        odds: What passes as through gaps, over what passes as through holes; zero or more.
    Source: orders of magnitude from the laws of gap and orifice; the sizes are from memory, not verified.
    """
    return odds / (1.0 + odds)


def capacity(cars: Cars, pressure: Any) -> Any:
    """Fuel given up for each pascal the pressure falls, [m³/Pa], shape (cars,). Hot."""
    return leaks(cars).capacity(pressure)


def held(cars: Cars, system: Any, time: float, blocked: str = "none") -> tuple[Any, Any]:
    """What is left *time* [s] after the stop: pressure, [Pa], and fuel seeped into the engine, [m³]; (cars,).

    Hot. The fall is cut into steps of pressure; a car whose time is up is left alone.

    Args:
        system: Pressure before the stop, [Pa]: a system that did not reach the one at which its regulator
            shuts holds no more than it had.
    """
    return _fallen(leaks(cars, blocked), *_before(cars, system, time))


def held_together(cars: Cars, asked: Sequence[tuple[Any, float, str]]) -> list[tuple[Any, Any]]:
    """What `held` gives for several of its system pressure, time and what is blocked, at once."""
    out = Leaks.joined([leaks(cars, blocked) for _, _, blocked in asked], [len(cars)] * len(asked))
    starts = [_before(cars, system, time) for system, time, _ in asked]
    pressure, seeped = _fallen(out, *(np.concatenate(one) for one in zip(*starts, strict=True)))
    return list(zip(np.split(pressure, len(asked)), np.split(seeped, len(asked)), strict=True))


def _before(cars: Cars, system: Any, time: float) -> tuple[Any, Any]:
    """Pressure with which a fall begins, [Pa], and the time it has, [s]."""
    return lesser(cars["shut_pressure"], system, SHUT_CORNER), np.full(len(cars), float(time))


def _fallen(out: Leaks, pressure: Any, left: Any) -> tuple[Any, Any]:
    """Pressure when the time that is *left* is over, and what has seeped into the engine by then."""
    seeped = np.zeros(len(left))
    top, which = np.sqrt(pressure), np.arange(len(left))
    step = (top - np.sqrt(np.minimum(NOTHING, 0.5 * pressure))) / STEPS
    for number in range(STEPS):
        above, below = np.square(top - number * step), np.square(top - (number + 1) * step)
        pressure[which], more, left = out.fall(above, below, left)
        seeped[which] += more
        going = np.flatnonzero(left > 0.0)
        if not going.size:
            break
        if going.size < left.size:
            out, which = out.some(going), which[going]
            top, step, left = top[going], step[going], left[going]
    return pressure, seeped
