"""How a healthy car's two screws stand: mixture and idle speed set right, for the car's own parts.

A good car of its kind is not one whose mixture screw stands in one place, but one on which somebody has
turned it until the idle was right. Both screws follow in closed form, since mixture and speed are given. On a
car that was set again since something is wrong with it they follow in the same way from the car as it is.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from evenpour.machine.air_meter import Funnel, meter
from evenpour.machine.auxiliary_air import auxiliary_share
from evenpour.machine.control import bimetal_temperature, control_pressure, regulated
from evenpour.machine.design_point import FILLING, GAS_CONSTANT, MANIFOLD_WARMER, DesignPoint
from evenpour.machine.faults import Act
from evenpour.machine.metering import Slits, slits
from evenpour.machine.oxygen_control import drop_factor
from evenpour.machine.parameters import Cars
from evenpour.machine.probe import drawn_air
from evenpour.machine.situation import Situation
from evenpour.machine.some import PerCar
from evenpour.machine.torque import Torque, advance_comes, charge_work, missed
from evenpour.physics.air import dry_air_density
from evenpour.physics.orifice import choked_flow, gas_flow

#: The parameter that says so of a car with a fault: its screws were set again since, by the gas and by ear.
SINCE = "set_since"
#: Of what else is open past the throttle, what a screw on its seat lets by; common practice, no source.
SEATED = 0.02


def is_set_for(form: Iterable[Act]) -> bool:
    """Whether a form of a cause is that the screws were set again for it."""
    return any(act.parameter == SINCE for act in form)


@dataclass(frozen=True, slots=True)
class SetUp(PerCar):
    """Where the screws stand. ``screw``: plunger lift at the plate's rest with the mixture screw right, [m];
    ``idle_area``: what the idle air screw leaves open, effective, [m²]; both of shape (cars,).
    """

    screw: Any
    idle_area: Any

    def part(self, some: slice) -> SetUp:
        """Those of some of the cars."""
        return SetUp(self.screw[some], self.idle_area[some])


def manifold_volume_flow(design: DesignPoint, speed: Any) -> Any:
    """Charge an engine draws at *speed* [1/s], as volume at manifold conditions, [m³/s]. Hot."""
    return 0.5 * FILLING * design.displacement * speed


def set_up(design: DesignPoint, torque: Torque, funnel: Funnel, cars: Cars, home: Situation) -> SetUp:
    """Set both screws of healthy *cars* at *home*: a warm idle at the place and on the fuel they were set on.

    The mixture is set by what the probe shows, so a little richer than shown for the air the exhaust draws
    in; where an oxygen sensor controls it, with the sensor off.
    """
    situation = replace(home, engine="idle_warm", screw=0.0, sensor="off")
    speed, outside = design.idle_speed, situation.outside
    wanted = design.mixture[0] / (1.0 + drawn_air(cars["exhaust_leak"], 1.0, 1.0))
    gas = GAS_CONSTANT * (situation.ambient_temperature + MANIFOLD_WARMER)
    volume = manifold_volume_flow(design, speed)
    # work * m = friction + pumping (outside - p), m = p volume / gas: linear in p
    late = torque.timing_share(torque.timing(speed, cars["timing"], advance_comes(cars), True))
    pressing = cars["compression"] / cars["compression"].mean(axis=0)
    fires = 1.0 - missed(wanted, cars["misfire"], cars["injector_spray"], pressing, 0.0)
    work = torque.specific * charge_work(wanted) * late * fires.mean(axis=0)
    pumped = torque.pumping(speed)
    manifold = (torque.friction(speed, 1.0) * cars["friction"] + pumped * outside) / (
        work * volume / gas + pumped
    )
    leaked = gas_flow(
        cars["common_leak"] + cars["runner_leak"].sum(axis=0), outside, manifold, situation.intake
    )
    each_area = choked_flow(1.0, outside, situation.intake) * _choking(manifold / outside)
    besides = cars["throttle_gap"] + cars["auxiliary_opening"] * auxiliary_share(cars, situation)
    # a screw cannot be turned in further than to its seat: with a great leak the idle stays too fast
    area = np.maximum((manifold * volume / gas - leaked) / each_area, (1.0 + SEATED) * besides)
    plate = area * each_area
    air = plate + leaked
    set_to = regulated(cars, bimetal_temperature(cars, situation), outside - manifold)
    control = control_pressure(cars, cars["system_setting"], set_to)
    density = dry_air_density(outside, situation.intake)
    height = meter(design, funnel, cars, situation.engine).lift(plate, density, control)
    need = air / (situation.blend.stoichiometric_afr * wanted) / situation.density
    factor = drop_factor(cars, cars["held_duty"]) if design.oxygen_control else 1.0
    lifted = (height - cars["plate_height"]) / design.lever_ratio
    return SetUp(_plunger_for(slits(cars, home, factor), need) - lifted, area - besides)


def set_since(
    design: DesignPoint, torque: Torque, funnel: Funnel, cars: Cars, home: Situation, screws: SetUp
) -> SetUp:
    """The screws of cars with their faults: as they stood before, but of those that were set again `SINCE`
    right for the car as it is.
    """
    again = np.flatnonzero(cars[SINCE] > 0.5)
    if not again.size:
        return screws
    found = SetUp(screws.screw.copy(), screws.idle_area.copy())
    found.put(again, set_again(design, torque, funnel, cars.some(again), home, screws.some(again)))
    return found


def set_again(
    design: DesignPoint, torque: Torque, funnel: Funnel, cars: Cars, home: Situation, screws: SetUp
) -> SetUp:
    """The screws right for cars with a fault; as they stood where no screw sets such a car right."""
    found = set_up(design, torque, funnel, cars, home)
    can = np.isfinite(found.screw) & np.isfinite(found.idle_area)
    return SetUp(np.where(can, found.screw, screws.screw), np.where(can, found.idle_area, screws.idle_area))


def _choking(ratio: Any) -> Any:
    """Flow at a pressure ratio over the choked flow."""
    return gas_flow(1.0, 1.0, ratio, 1.0) / choked_flow(1.0, 1.0, 1.0)


def _plunger_for(ports: Slits, need: Any) -> Any:
    """Plunger lift at which all slits together pass *need* [m³/s].

    But for the corners at the edges the flow is a straight line, on which the first guess lies; one step
    along it and one along the chord bring the rest to nothing.
    """
    steep = (ports.fast * (ports.width - ports.creep)).sum(axis=0)
    spared = ports.fast * ((ports.width - ports.creep) * ports.edge + ports.creep * ports.width)
    z = (need + spared.sum(axis=0)) / steep
    missing = need - ports.metered(z).sum(axis=0)
    further = z + missing / steep
    left = need - ports.metered(further).sum(axis=0)
    gained = missing - left
    return further + left * np.where(gained == 0.0, 0.0, (further - z) / np.where(gained == 0.0, 1.0, gained))
