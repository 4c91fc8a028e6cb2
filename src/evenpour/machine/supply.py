"""What pump and filter make of the battery's voltage: delivery, pressure with the return pinched, current."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.parameters import Cars
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser, positive
from evenpour.machine.some import PerCar

USUAL_VOLTS = 12.0  # V, at which the pump draws its current; common practice, no source
PER_VOLT = 0.10  # 1/V, flow of the pump gained for each volt about 12 V; common practice, no source
NO_VOLTS = 0.1  # V, below which a battery has none; common practice, no source
LEAST_VOLTS = 4.0  # V, below which the pump does not turn; common practice, no source
INTO_A_CAN = ("before_filter", "behind_filter", "feed_union")  # where delivery is caught without pressure
REGULATOR_STIFFNESS = 0.02e5 / 10e-6  # Pa s/m³, 0.02 bar for each 10 ml/s returned; from memory, not verified
RELIEF_CORNER = 0.3e-6  # m³/s, over which the pump's relief valve takes over
FEED_CORNER = 0.05  # of the pump's flow, over which a poor feed takes over
# m³/s, about which a feed lets in air rather than fuel: a few drops a second; common practice, no source.
DRY_FEED = 0.3e-6
LEAST_CORNER = 1e-9  # m³/s, the same of a pump that does not turn
IDLE_CURRENT = (
    0.45  # share of the pump's current with no pressure to push against; common practice, no source
)
STARVED_CURRENT = 0.25  # share it loses with nothing to pump; common practice, no source
USUAL_HEAD = 1.03  # what a pump pushes against over the system pressure: filter and lines


def battery(cars: Cars, situation: Situation) -> Any:
    """Voltage at the battery, [V]: rested, drawn by the starter, or what the generator holds. Hot."""
    if situation.running:
        return cars["charging_voltage"]
    source = cars["supply_voltage"]
    if situation.engine == "cranking":
        source = source - cars["starter_drop"]
    return positive(source, NO_VOLTS)


def pump_voltage(cars: Cars, situation: Situation) -> Any:
    """Voltage at the pump's terminals while it runs, [V]: the less comes, the less it draws. Hot."""
    if situation.pump_voltage is not None:
        return situation.pump_voltage + 0.0 * cars["supply_voltage"]
    feed = battery(cars, situation) / (1.0 + cars["pump_wiring"] * cars["pump_current"] / USUAL_VOLTS)
    return feed * pump_runs(cars, situation)


def pump_runs(cars: Cars, situation: Situation) -> Any:
    """Share by which the pump runs, [-]: with the engine off it is bridged past its relay. Hot."""
    if situation.engine == "off":
        return 1.0
    kept = 1.0 - cars["pump_lets_go"] if situation.running else 1.0
    return (1.0 - cars["pump_off"]) * kept


def free_flow(cars: Cars, situation: Situation) -> Any:
    """What the pump would bring against no pressure with all the fuel it can swallow, [m³/s]. Hot."""
    volts = pump_voltage(cars, situation)
    speed = positive(1.0 + PER_VOLT * (volts - 12.0), 0.02) * np.tanh(positive(volts - LEAST_VOLTS, 0.1))
    return cars["pump_flow"] * speed * pump_runs(cars, situation)


@dataclass(frozen=True, slots=True)
class PumpLine(PerCar):
    """Flow behind the filter over system pressure: the least of what slip, feed and relief valve leave. SI.

    Attributes:
        feed: What tank, strainer and feed let in, [m³/s]; ``feed_corner``: over which that takes over.
    """

    slip_at_rest: Any
    slip_falls: Any
    feed: Any
    feed_corner: Any
    relief_at_rest: Any
    relief_falls: Any

    def at(self, pressure: Any) -> tuple[Any, Any]:
        """Flow, [m³/s], and how fast it falls with *pressure*, [m³/(s Pa)]. Hot."""
        by_slip = self.slip_at_rest - self.slip_falls * pressure
        spare = self.feed - by_slip
        edge = np.sqrt(spare * spare + self.feed_corner * self.feed_corner)
        by_pump = 0.5 * (by_slip + self.feed - edge)
        pump_falls = 0.5 * self.slip_falls * (1.0 + spare / edge)
        by_relief = self.relief_at_rest - self.relief_falls * pressure
        apart = by_pump - by_relief
        root = np.sqrt(apart * apart + RELIEF_CORNER * RELIEF_CORNER)
        steeper = (self.relief_falls - pump_falls) * (apart / root)
        return 0.5 * (by_pump + by_relief - root), 0.5 * (pump_falls + self.relief_falls + steeper)


def pump_line(cars: Cars, free: Any) -> PumpLine:
    """The flow of *cars* whose pump would bring *free* [m³/s] against no pressure. Hot.

    The pump sees the filter's loss besides the system pressure. Its slip takes a share of the sum, and its
    relief valve limits it. A starved pump turns half empty: what slips back finds room in it beside all that
    the feed lets in, which so comes out at any pressure, until slip alone leaves less.
    """
    slip, filter_ = cars["pump_slip"], cars["filter_resistance"]
    within, steep = 1.0 + slip * filter_, 1.0 / filter_
    corner = np.maximum(FEED_CORNER * free, LEAST_CORNER)
    return PumpLine(
        free / within, slip / within, cars["feed_capacity"], corner, cars["pump_relief"] * steep, steep
    )


def supplied(cars: Cars, free: Any, pressure: Any) -> tuple[Any, Any]:
    """Flow behind the filter at system *pressure* [Pa], [m³/s], and how fast it falls with it. Hot."""
    return pump_line(cars, free).at(pressure)


def delivery(cars: Cars, situation: Situation) -> Any:
    """Flow at the distributor's return, plate at rest, the regulator holding its pressure, [m³/s]. Hot."""
    flow, _ = supplied(cars, free_flow(cars, situation), cars["system_setting"])
    return positive(flow, 0.2e-6)


def poured_out(cars: Cars, situation: Situation, where: str) -> Any:
    """Flow into a can before or behind the filter, [m³/s], no pressure to push against. Hot."""
    free = free_flow(cars, situation)
    if where == "before_filter":
        corner = np.maximum(FEED_CORNER * free, LEAST_CORNER)
        return positive(lesser(free, cars["feed_capacity"], corner), 0.2e-6)
    return positive(supplied(cars, free, 0.0)[0], 0.2e-6)


def dead_head(cars: Cars, situation: Situation) -> Any:
    """Pressure with the return pinched, [Pa]: where the pump's slip or its relief valve takes all. Hot.

    Nothing flows in then, so a poor feed takes nothing off it; but a pump that draws air pushes none.
    """
    flow, feed = free_flow(cars, situation), cars["feed_capacity"]
    wet = 1.0 - np.exp(-((feed / DRY_FEED) ** 2))
    return lesser(flow / cars["pump_slip"], cars["pump_relief"], 0.1e5) * wet


def current(cars: Cars, situation: Situation, pressure: Any, usual: float) -> Any:
    """Current of the pump, [A], at system *pressure* [Pa]; it works against the filter as well. Hot.

    Args:
        usual: System pressure at which the pump takes its usual current, [Pa].
    """
    line = pump_line(cars, free_flow(cars, situation))
    flow = positive(line.at(pressure)[0], 1e-8)
    head = pressure + flow * cars["filter_resistance"]
    loaded = IDLE_CURRENT + (1.0 - IDLE_CURRENT) * head / (USUAL_HEAD * usual)
    swallows = np.maximum(line.slip_at_rest - line.slip_falls * pressure, 1e-9)
    dry = positive(1.0 - cars["feed_capacity"] / swallows, 0.02)
    running = cars["pump_current"] * loaded * (1.0 - STARVED_CURRENT * dry)
    if situation.pump_voltage is None:
        # no more than the wire lets through to a motor that stands; a wire in order is no limit
        most = battery(cars, situation) / cars["pump_wiring"]
        running = running * (1.0 + (running / most) ** 4) ** -0.25
    return running * pump_runs(cars, situation)
