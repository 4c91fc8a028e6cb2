"""The pump running and the engine not: pressures, flow tests, the onset."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.control import Feed, bimetal_temperature, feed, regulated
from evenpour.machine.kind import Kind
from evenpour.machine.metering import EDGE_CORNER, Paths, Slits, paths, slits
from evenpour.machine.parameters import Cars
from evenpour.machine.set_up import SetUp
from evenpour.machine.situation import Situation
from evenpour.machine.supply import Balance, Demand, balance

SEEN_BARE = 2.5e-9  # m³/s, a drop in twenty seconds at a line's open end; common practice, no source
SEEN_INJECTED = (
    9.0e-9  # m³/s, what lifts a filled line to its injector's pressure in half a minute; from memory
)
CONVERGED = 1e-4


@dataclass(frozen=True, slots=True)
class Pressures:
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
class Supplied:
    """Supply and control circuit with the engine off, whatever the ports pour. Shape (cars,); SI.

    Attributes:
        orifice: Flow into the control circuit for the root of the pressure over its feed.
        opening: Pressure at which the injectors open, their mean.
    """

    balance: Balance
    feed: Feed
    set_to: Any
    orifice: Any
    opening: Any

    def pressures(self, poured: Any = None, *, bare: bool = False) -> Pressures:
        """Pressures while *poured* [m³/s] leaves through the ports: *bare* lines, or injectors. Hot."""
        demand = None if poured is None else Demand(poured, 0.0 if bare else self.opening)
        system, unbalanced = self.balance.pressure(demand)
        control = self.feed.control(system, self.set_to)
        flow = self.orifice * np.sqrt(np.maximum(system - control, 1.0))
        return Pressures(system, control, flow, unbalanced)


def supplied(cars: Cars, situation: Situation) -> Supplied:
    """Supply and control circuit of *cars* with the engine off. Hot."""
    vacuum = 0.0 if situation.vacuum is None else situation.vacuum
    set_to = regulated(cars, bimetal_temperature(cars, situation), vacuum)
    setting, orifice, between = cars["system_setting"], cars["feed_orifice"], feed(cars)
    asked = orifice * np.sqrt(np.maximum(setting - between.control(setting, set_to), 1e3))
    opening = cars["injector_opening"].mean(axis=0)
    return Supplied(balance(cars, situation, asked), between, set_to, orifice, opening)


def pressures(kind: Kind, cars: Cars, situation: Situation, poured: Any = None) -> Pressures:
    """Pressures while *poured* [m³/s] leaves through the ports."""
    return supplied(cars, situation).pressures(poured, bare=situation.lines)


def rest_lift(kind: Kind, cars: Cars, screws: SetUp, situation: Situation) -> Any:
    """Plunger with the plate at rest, over the height at which a right slit begins, [m]. Hot."""
    turned = cars["mixture_screw"] + situation.screw
    return screws.screw + cars["screw_pitch"] * turned + cars["plate_height"] / kind.design.lever_ratio


@dataclass(frozen=True, slots=True)
class Poured:
    """A flow test. ``fuel``: by port, [m³/s], shape (ports, cars); the rest of shape (cars,)."""

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
        most: The most each path passes at the set pressure, (ports, cars).
        begins: Height of the slit that begins first, (cars,).
    """

    slits: Slits
    paths: Paths
    most: Any
    begins: Any

    def pour(self, supplied: Supplied, plunger: Any, *, bare: bool) -> Poured:
        """A flow test with the plunger at a height, [m], (cars,). Hot."""
        metered = self.slits.metered(plunger)
        wanted = self.paths.limited(metered, self.most).sum(axis=0)
        state = supplied.pressures(wanted, bare=bare)
        flow = self.paths.limited(metered, self.paths.most(state.system))
        return Poured(flow, state.system, state.control, plunger, state.unbalanced)


def ports(cars: Cars, situation: Situation) -> Ports:
    """The ports of *cars*, behind them lines and, unless those are bare, injectors. Hot."""
    behind = paths(cars, situation, bare=situation.lines)
    return Ports(slits(cars, situation), behind, behind.most(cars["system_setting"]), first_edge(cars))


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
    open_to = ports(cars, situation) if open_to is None else open_to
    if situation.opening is None:
        plunger = rest_lift(kind, cars, screws, situation)
    else:
        plunger = open_to.begins + situation.opening / kind.design.lever_ratio
    return open_to.pour(supply, plunger, bare=situation.lines)


def first_edge(cars: Cars) -> Any:
    """Height of the slit that begins first, [m], shape (cars,); the least, its corner rounded. Hot."""
    edges = cars["slit_edge"]
    least = edges.min(axis=0)
    width = 0.4e-6
    return least - width * np.log(np.exp(-(edges - least) / width).sum(axis=0))


def onset(kind: Kind, cars: Cars, screws: SetUp, situation: Situation) -> Any:
    """Screw at which fuel just appears with the plate at rest, from where it stands, clockwise, [turns]. Hot.

    Bare: where the first line gives a drop in the time one waits. Through injectors: where enough flows past
    the edge to fill the line up to the injector's pressure in the time one waits, so a little later.
    """
    seen = SEEN_BARE if situation.lines else SEEN_INJECTED
    speed = np.sqrt(2.0 * kind.design.slit_drop / kind.design.fuel_density)
    needed = seen / (0.4 * kind.design.slit_width * speed)  # m of free slit, creeping flow at a hair's width
    leaks = cars["port_leak"].max(axis=0) / (0.4 * kind.design.slit_width * speed)
    begins = first_edge(cars) + np.maximum(needed - EDGE_CORNER, 0.0) - leaks
    if not situation.lines:
        # an injector that passes nothing below a higher pressure makes its line fill for longer
        begins = begins + 1.5e-6 * (cars["injector_opening"].min(axis=0) / 3.3e5 - 1.0)
    return (begins - rest_lift(kind, cars, screws, situation)) / cars["screw_pitch"]
