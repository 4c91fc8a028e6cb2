"""The pump running and the engine not: pressures, flow tests, the onset."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.balance import Balance, Demand, balance
from evenpour.machine.control import bimetal_temperature, regulated
from evenpour.machine.design_point import SLIT_ROUNDING
from evenpour.machine.kind import Kind
from evenpour.machine.metering import EDGE_CORNER, Paths, Slits, paths, slits
from evenpour.machine.oxygen_control import drop_factor
from evenpour.machine.parameters import Cars
from evenpour.machine.set_up import SetUp
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import positive
from evenpour.machine.some import PerCar
from evenpour.machine.tank import tank
from evenpour.physics.blend import blend_viscosity
from evenpour.physics.orifice import SLIT_CONTRACTION, SLIT_CREEP

SEEN_BARE = 2.5e-9  # m³/s, a drop in twenty seconds at a line's open end; common practice, no source
# m³/s, what brings a filled line up to the usual opening pressure in half a minute; from memory, not verified
SEEN_INJECTED, USUAL_OPENING = 9.0e-9, 3.3e5
NEVER = 0.1e5  # Pa over the system's pressure, for each of which an injector hides its line's onset once more
FIRST_CORNER = 0.4e-6  # m, over which one port takes over from another as the first to pour
CONVERGED = 1e-4  # share of the pump's flow left out of balance


@dataclass(frozen=True, slots=True)
class Pressures(PerCar):
    """The pump running, engine off. Shape (cars,); SI.

    Attributes:
        flow: What the control circuit returns, [m³/s].
        unbalanced: Share of the supply left out of balance; above CONVERGED the state is no answer.
    """

    system: Any
    control: Any
    flow: Any
    unbalanced: Any

    @property
    def converged(self) -> Any:
        """Which cars' answers may be used."""
        return self.unbalanced <= CONVERGED


@dataclass(frozen=True, slots=True)
class Supplied(PerCar):
    """Supply and control circuit with the engine off, whatever the ports pour. Shape (cars,); SI."""

    balance: Balance
    set_to: Any

    def pouring(self, demand: Demand | None) -> tuple[Pressures, Any]:
        """Pressures while the ports pour, and what leaves each, [m³/s]; ``None`` where they are shut. Hot."""
        level = self.balance.pressure(self.set_to, demand)
        flow, control = self.balance.taken(self.set_to, level.pressure)
        return Pressures(level.pressure, control, flow, level.unbalanced), level.poured


def supplied(cars: Cars, situation: Situation) -> Supplied:
    """Supply and control circuit of *cars* with the engine off. Hot."""
    vacuum = 0.0 if situation.vacuum is None else situation.vacuum
    set_to = regulated(cars, bimetal_temperature(cars, situation), vacuum)
    return Supplied(balance(cars, situation), set_to)


def pressures(cars: Cars, situation: Situation) -> Pressures:
    """Pressures with the plate at rest, so that the ports pour nothing."""
    return supplied(cars, situation).pouring(None)[0]


def rest_lift(kind: Kind, cars: Cars, screws: SetUp, situation: Situation) -> Any:
    """Plunger with the plate at rest, over the height at which a right slit begins, [m]. Hot.

    The lever lies on its stop, wherever the plate stands on the lever.
    """
    turned = cars["mixture_screw"] + situation.screw
    return screws.screw + cars["screw_pitch"] * turned + cars["rest_stop"] / kind.design.lever_ratio


@dataclass(frozen=True, slots=True)
class Poured(PerCar):
    """A flow test. ``fuel``: of each cylinder's port, [m³/s], (cylinders, cars); the rest (cars,)."""

    fuel: Any
    system: Any
    control: Any
    plunger: Any
    unbalanced: Any

    @property
    def converged(self) -> Any:
        """Which cars' answers may be used."""
        return self.unbalanced <= CONVERGED


@dataclass(frozen=True, slots=True)
class Ports:
    """Slits, and what lies behind them, whatever the plunger's height and the system pressure. SI.

    Attributes:
        begins: Height of the slit that begins first, (cars,).
    """

    slits: Slits
    paths: Paths
    begins: Any

    def pour(self, supplied: Supplied, plunger: Any) -> Poured:
        """A flow test with the plunger at a height, [m], (cars,). Hot."""
        state, poured = supplied.pouring(Demand(self.slits.metered(plunger), self.paths))
        return Poured(poured, state.system, state.control, plunger, state.unbalanced)


def ports(kind: Kind, cars: Cars, situation: Situation) -> Ports:
    """The ports of *cars*, behind them lines and, unless those are bare, injectors. Hot.

    Where there is a frequency valve it hums at the duty held without the sensor.
    """
    factor = drop_factor(cars, cars["held_duty"]) if kind.oxygen_control else 1.0
    return Ports(
        slits(cars, situation, factor), paths(cars, situation, factor, bare=situation.lines), first_edge(cars)
    )


def pour(
    kind: Kind,
    cars: Cars,
    screws: SetUp,
    situation: Situation,
    supply: Supplied | None = None,
    open_to: Ports | None = None,
) -> Poured:
    """Fuel through lines or injectors, the plate held at an opening or at rest.

    An opening is measured from the bare-line onset, where the first port lets go, so it does not depend on
    the screw. What is poured pulls at the system pressure of a weak supply, which falls until the ports pour
    what the supply brings.

    Args:
        supply, open_to: Of these cars in this situation, where they are known already.
    """
    supply = supplied(cars, situation) if supply is None else supply
    open_to = ports(kind, cars, situation) if open_to is None else open_to
    return open_to.pour(supply, _plunger(kind, cars, screws, situation, open_to))


def _plunger(kind: Kind, cars: Cars, screws: SetUp, situation: Situation, open_to: Ports) -> Any:
    if situation.opening is None:
        return rest_lift(kind, cars, screws, situation)
    return open_to.begins + situation.opening / kind.design.lever_ratio


def pressures_together(supplies: Sequence[Supplied], cars: int) -> list[Pressures]:
    """Pressures of so many *cars* with the ports shut, in several situations at once."""
    whole, _ = Supplied.joined(supplies, [cars] * len(supplies)).pouring(None)
    return [whole.stretch(slice(at * cars, (at + 1) * cars)) for at in range(len(supplies))]


def pour_together(
    kind: Kind, cars: Cars, screws: SetUp, asked: Sequence[tuple[Situation, Supplied, Ports]]
) -> list[Poured]:
    """What `pour` gives in several situations: all with bare lines at once, and all with injectors."""
    found: dict[int, Poured] = {}
    for bare in (True, False):
        some = [at for at, (_, _, ports) in enumerate(asked) if (ports.paths.opening is None) == bare]
        if not some:
            continue
        counts, each = [len(cars)] * len(some), [asked[at] for at in some]
        plungers = [_plunger(kind, cars, screws, situation, ports) for situation, _, ports in each]
        wanted = [ports.slits.metered(plunger) for plunger, (_, _, ports) in zip(plungers, each, strict=True)]
        demand = Demand(
            np.concatenate(wanted, axis=-1), Paths.joined([ports.paths for _, _, ports in each], counts)
        )
        state, poured = Supplied.joined([supply for _, supply, _ in each], counts).pouring(demand)
        whole = Poured(poured, state.system, state.control, np.concatenate(plungers), state.unbalanced)
        for number, at in enumerate(some):
            found[at] = whole.stretch(slice(number * len(cars), (number + 1) * len(cars)))
    return [found[at] for at in range(len(asked))]


def first_edge(cars: Cars) -> Any:
    """Height of the slit that begins first, [m], shape (cars,); the least, its corner rounded. Hot."""
    return _least(cars["slit_edge"])


def _least(heights: Any) -> Any:
    least = heights.min(axis=0)
    return least - FIRST_CORNER * np.log(np.exp(-(heights - least) / FIRST_CORNER).sum(axis=0))


def onset(kind: Kind, cars: Cars, screws: SetUp, situation: Situation) -> Any:
    """Screw at which fuel just appears with the plate at rest, from where it stands, clockwise, [turns]. Hot.

    Bare: where the first line gives a drop in the time one waits. Through injectors: where enough flows past
    the edge to fill the line up to the injector's pressure in the time one waits, so a little later. One
    whose injector does not open at the system's pressure never shows.
    """
    seen = SEEN_BARE * np.ones_like(cars["slit_edge"])
    if not situation.lines:
        shut = positive((cars["injector_opening"] - cars["system_setting"]) / NEVER, 0.1)
        seen = SEEN_INJECTED * (cars["injector_opening"] / USUAL_OPENING) * (1.0 + shut)
    begins = cars["slit_edge"] + _free_for(
        cars, positive(seen - cars["port_leak"], 0.02 * SEEN_BARE), situation
    )
    return (_least(begins) - rest_lift(kind, cars, screws, situation)) / cars["screw_pitch"]


def _free_for(cars: Cars, flow: Any, situation: Situation) -> Any:
    """How far over its edge a plunger stands for a small *flow* [m³/s], [m]: the slit's law turned round.

    For a height far below the width the discharge coefficient is C (sqrt(f² + 1) - f), f = creep / height, so
    that flow / (C width jet) is sqrt(creep² + height²) - creep.
    """
    fuel = tank(cars, situation)
    jet = np.sqrt(2.0 * cars["pressure_drop"] / fuel.density)
    viscosity = blend_viscosity(fuel.blend, situation.ambient_temperature)
    creep = 0.25 * SLIT_CONTRACTION / SLIT_CREEP * viscosity / jet
    ideal = flow / (SLIT_ROUNDING * SLIT_CONTRACTION * cars["slit_width"] * jet)
    height = np.sqrt(ideal * (ideal + 2.0 * creep))
    return height - 0.25 * EDGE_CORNER**2 / height
