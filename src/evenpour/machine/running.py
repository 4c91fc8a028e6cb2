"""The running engine: air, fuel, mixture and speed that balance each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.air_meter import lift as plate_lift
from evenpour.machine.auxiliary_air import auxiliary_share
from evenpour.machine.control import bimetal_temperature, control_pressure, regulated
from evenpour.machine.design_point import (
    CRANK_SPEED,
    FAST_IDLE_SPEED,
    GAS_CONSTANT,
    MANIFOLD_WARMER,
    ROAD_SPEED,
    WIDE_OPEN,
)
from evenpour.machine.kind import Kind
from evenpour.machine.metering import fuel
from evenpour.machine.oxygen_control import drop_factor, loop
from evenpour.machine.parameters import Cars
from evenpour.machine.set_up import SetUp, manifold_volume_flow
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser
from evenpour.machine.supply import system_pressure
from evenpour.machine.torque import COLD_FRICTION, WORKING_TEMPERATURE, charge_work, missed
from evenpour.physics.air import dry_air_density
from evenpour.physics.orifice import gas_flow

ROUNDS = 12
TOLERATED = 1e-8  # share of the work
CONVERGED = 1e-4  # share of the engine's work left out of balance
ROAD_POWER = 4.5e6  # W/m³ of displacement, steady road; common practice, no source
SLOWEST, FASTEST = 1.0, 70.0  # 1/s, between which an idle is looked for
RUNNER_SHARE = (
    0.5  # of the air that leaks into a runner, what its own cylinder gets; from memory, not verified
)
MIXTURE_ENDS = 5.0  # lambda above which leaner is no different
COLD_LOSS = 0.0025  # 1/K, share of the fuel that stays liquid on cold walls; common practice, no source
EVAPORATES = 0.70  # least share that does not


@dataclass(frozen=True, slots=True)
class Running:
    """A running engine. Shapes (cars,), or (cylinders, cars) where each has its own; SI.

    Attributes:
        speed: [1/s]. ``manifold``: absolute, [Pa]. ``air``: all air drawn, [kg/s]; ``plate_air``: past the plate.
        lift: Plate over its rest, [m]; ``plunger``: over the height at which a right slit begins, [m].
        fuel: By cylinder, [m³/s]; ``extra``: fuel from elsewhere, [kg/s] a cylinder.
        mixture: Lambda of each cylinder as it burns; ``whole``: all air over all fuel.
        missed: Share of charges that do not burn.
        duty: Of the frequency valve; where there is none, its middle.
        drop: Fall of speed if one cylinder's spark were cut, [1/s].
        unbalanced: Share of the work left out of balance; above CONVERGED the state is no answer.
    """

    speed: Any
    manifold: Any
    outside: Any
    air: Any
    plate_air: Any
    leak_air: Any
    lift: Any
    plunger: Any
    control: Any
    system: Any
    fuel: Any
    mixture: Any
    whole: Any
    missed: Any
    duty: Any
    timing: Any
    drop: Any
    unbalanced: Any

    @property
    def converged(self) -> Any:
        """Which cars' answers may be used."""
        return self.unbalanced <= CONVERGED


def run(kind: Kind, cars: Cars, screws: SetUp, situation: Situation) -> Running:
    """Solve for the manifold pressure at which the engine's work meets friction, pumping and load.

    Idle: what is open past the throttle is given and speed follows. Other states: speed is given and the driver
    opens the throttle as far as it takes. Full load: the throttle is wide and nothing is left to solve.
    """
    return _Engine(kind, cars, screws, situation).solve()


class _Engine:
    """One solve: what does not change from round to round is worked out once."""

    def __init__(self, kind: Kind, cars: Cars, screws: SetUp, situation: Situation) -> None:
        self.kind, self.cars, self.situation = kind, cars, situation
        design = kind.design
        self.outside = situation.outside
        self.gas = GAS_CONSTANT * (situation.ambient_temperature + MANIFOLD_WARMER)
        self.density = dry_air_density(self.outside, situation.intake)
        self.idle = situation.engine in ("idle_cold", "idle_warm")
        self.cold = 0.0 if situation.warm else 1.0
        shortfall = WORKING_TEMPERATURE - situation.ambient_temperature if self.cold else 0.0
        self.friction_share = (1.0 + COLD_FRICTION * shortfall) * cars["friction"]
        self.evaporated = np.maximum(1.0 - COLD_LOSS * shortfall, EVAPORATES)
        self.open = screws.idle_area * cars["idle_air"] + cars["throttle_gap"]
        if self.idle:
            self.open = self.open + cars["auxiliary_opening"] * auxiliary_share(cars, situation)
        self.runner = cars["runner_leak"]
        self.leaks = cars["common_leak"] + self.runner.sum(axis=0)
        self.screw = screws.screw + cars["screw_pitch"] * (cars["mixture_screw"] + situation.screw)
        self.set_cold = bimetal_temperature(cars, situation)
        self.demand = kind.usual_fuel(situation.engine)
        self.system, self.system_missed = system_pressure(
            cars, situation, kind.control_flow, self.demand, cars["injector_opening"].mean(axis=0)
        )
        self.extra = self._extra()
        self.pressing = cars["compression"] / kind.centre["compression"]

    def _extra(self) -> Any:
        """Fuel that no injector gives, for each cylinder, [kg/s]: from the oil, from the cold-start valve."""
        kind, cars, situation = self.kind, self.cars, self.situation
        cylinders = kind.design.cylinders
        leaked = cars["cold_start_leak"] * np.sqrt(self.system) * situation.density / cylinders
        if situation.warm and situation.breather:
            leaked = leaked + cars["crankcase_fuel"] * kind.idle_fuel * situation.density / cylinders
        return leaked

    def solve(self) -> Running:
        state = self.situation.engine
        if state == "full_load":
            manifold = self.outside * WIDE_OPEN * np.ones(len(self.cars))
            return self._finish(manifold, self._at(manifold, self.kind.design.rated_speed))
        fixed = {"fast_idle": FAST_IDLE_SPEED, "road_steady": ROAD_SPEED, "cranking": CRANK_SPEED}.get(state)
        load = ROAD_POWER * self.kind.design.displacement if state == "road_steady" else 0.0
        share = 0.55 if state == "road_steady" else 0.36
        manifold = self.outside * share * np.ones(len(self.cars))
        low, high = 0.12 * self.outside, 0.985 * self.outside
        most = 0.15 * self.outside
        found = self._at(manifold, fixed)
        missing = found.used + load - found.work
        slope = self._slope(manifold, found, fixed is not None)
        for _ in range(ROUNDS):
            if np.all(np.abs(missing) <= TOLERATED * found.used):
                break
            moved = np.clip(manifold - np.clip(missing / slope, -most, most), low, high)
            found = self._at(moved, fixed)
            still = found.used + load - found.work
            # secant: the slope of the last step, where it was a step and points the same way
            change = moved - manifold
            secant = (still - missing) / np.where(change == 0.0, 1.0, change)
            slope = np.where((np.abs(change) > 1e-7 * moved) & (secant * slope > 0.0), secant, slope)
            manifold, missing = moved, still
        return self._finish(manifold, found, np.abs(missing) / np.maximum(found.used + load, 1.0))

    def _at(self, manifold: Any, speed: Any) -> _Found:
        """Everything at one manifold pressure; ``speed`` None: it follows from what is open."""
        leak = gas_flow(self.leaks, self.outside, manifold, self.situation.intake)
        volume = manifold_volume_flow(self.kind.design, 1.0)
        if speed is None:
            plate = gas_flow(self.open, self.outside, manifold, self.situation.intake)
            air = plate + leak
            speed = np.clip(air * self.gas / (volume * manifold), SLOWEST, FASTEST)
        else:
            air = speed * volume * manifold / self.gas
            plate = np.maximum(air - leak, 0.02 * air)
        return self._burn(manifold, air, plate, leak, speed)

    def _burn(self, manifold: Any, air: Any, plate: Any, leak: Any, speed: Any) -> _Found:
        kind, cars, situation = self.kind, self.cars, self.situation
        design = kind.design
        vacuum = self.outside - manifold if situation.vacuum is None else situation.vacuum
        control = control_pressure(cars, self.system, regulated(cars, self.set_cold, vacuum))
        height = plate_lift(design, kind.funnel, cars, plate, self.density, control)
        height = lesser(height, design.lift_max, 1e-4)
        plunger = (height + cars["plate_height"]) / design.lever_ratio + self.screw
        flow = fuel(cars, plunger, self.system, situation)
        own = air / design.cylinders + RUNNER_SHARE * self._runner_extra(leak)
        need = own / situation.blend.stoichiometric_afr
        given = flow * situation.density + self.extra
        duty = 0.5 + 0.0 * speed
        if kind.oxygen_control:
            open_whole = need.sum(axis=0) / given.sum(axis=0)
            duty = loop(cars, situation, open_whole)
            flow = flow * np.sqrt(drop_factor(cars, duty))
            given = flow * situation.density + self.extra
        mixture = np.minimum(need / (np.maximum(given, 1e-12) * self.evaporated), MIXTURE_ENDS)
        failed = missed(mixture, cars["misfire"], cars["injector_spray"], self.pressing, self.cold)
        advance = (1.0 - cars["advance_leak"]) * (
            0.0 if self.idle or situation.engine == "full_load" else 1.0
        )
        late = kind.torque.timing_share(speed, cars["timing"], cars["advance_stuck"], situation.hose, advance)
        burnt = charge_work(mixture) * (1.0 - failed) * np.minimum(self.pressing, 1.05) ** 0.5
        each = kind.torque.specific * late * own * burnt
        work = each.sum(axis=0)
        used = kind.torque.friction(speed, self.friction_share)
        used = used + kind.torque.pumping(speed) * (self.outside - manifold)
        return _Found(
            air,
            plate,
            leak,
            speed,
            control,
            height,
            plunger,
            flow,
            given,
            need,
            mixture,
            failed,
            duty,
            each,
            work,
            used,
        )

    def _runner_extra(self, leak: Any) -> Any:
        """What each cylinder gets beyond its even share because the air leaks into its own runner, [kg/s]."""
        each = self.runner * (leak / np.maximum(self.leaks, 1e-12))
        return each - each.mean(axis=0)

    def _slope(self, manifold: Any, found: _Found, fixed: bool) -> Any:
        """How what is used less what is done changes with manifold pressure; mixture held."""
        torque, speed = self.kind.torque, found.speed
        pumped = torque.pumping(speed)
        if fixed:
            return -(found.work / manifold + pumped)
        friction = torque.friction_slope(speed, self.friction_share)
        vacuum = self.outside - manifold
        slower = speed / manifold
        return -(friction * slower + pumped * (1.0 + vacuum / manifold))

    def _finish(self, manifold: Any, found: _Found, unbalanced: Any = 0.0) -> Running:
        whole = np.minimum(found.need.sum(axis=0) / np.maximum(found.given.sum(axis=0), 1e-12), MIXTURE_ENDS)
        timing = self.kind.torque.timing(
            found.speed, self.cars["timing"], self.cars["advance_stuck"], self.situation.hose
        )
        steep = self.kind.torque.friction_slope(found.speed, self.friction_share)
        steep = steep + self.kind.torque.pumping(1.0) * self.outside
        return Running(
            found.speed,
            manifold,
            self.outside,
            found.air,
            found.plate,
            found.leak,
            found.height,
            found.plunger,
            found.control,
            self.system,
            found.flow,
            found.mixture,
            whole,
            found.failed,
            found.duty,
            timing,
            np.minimum(found.each / steep, found.speed),
            np.maximum(unbalanced, self.system_missed) + 0.0 * manifold,
        )


@dataclass(slots=True)
class _Found:
    air: Any
    plate: Any
    leak: Any
    speed: Any
    control: Any
    height: Any
    plunger: Any
    flow: Any
    given: Any
    need: Any
    mixture: Any
    failed: Any
    duty: Any
    each: Any
    work: Any
    used: Any
