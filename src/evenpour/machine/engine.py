"""One engine turning: air, fuel, mixture, work and what uses it up, at a manifold pressure that is given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.air_meter import Meter, meter
from evenpour.machine.auxiliary_air import auxiliary_share
from evenpour.machine.control import Circuit, bimetal_temperature, circuit
from evenpour.machine.design_point import (
    CRANK_SPEED,
    FAST_IDLE_SPEED,
    GAS_CONSTANT,
    MANIFOLD_WARMER,
    ROAD_SPEED,
)
from evenpour.machine.kind import Kind
from evenpour.machine.metering import Paths, Slits, paths, slits
from evenpour.machine.oxygen_control import drop_factor, loop
from evenpour.machine.parameters import Cars
from evenpour.machine.set_up import SetUp, manifold_volume_flow
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser
from evenpour.machine.some import PerCar
from evenpour.machine.supply import system_pressure
from evenpour.machine.torque import (
    COLD_FRICTION,
    WORKING_TEMPERATURE,
    charge_sound,
    charge_work,
    fired,
    lean_end,
)
from evenpour.physics.air import dry_air_density
from evenpour.physics.orifice import gas_flow

ROAD_POWER = 4.5e6  # W/m³ of displacement, steady road; common practice, no source
SLOWEST, FASTEST = 1.0, 70.0  # 1/s, between which an idle is looked for
RUNNER_SHARE = (
    0.5  # of the air that leaks into a runner, what its own cylinder gets; from memory, not verified
)
MIXTURE_ENDS = 5.0  # lambda above which leaner is no different
COLD_LOSS = 0.0025  # 1/K, share of the fuel that stays liquid on cold walls; common practice, no source
EVAPORATES = 0.70  # least share that does not


@dataclass(frozen=True, slots=True)
class Found(PerCar):
    """An engine at one manifold pressure; names as in `Running` and `Engine`.

    Attributes:
        own, given: Air and fuel of each cylinder, [kg/s]. ``burnt``: share of its charges that burn.
        late: Share of the work the timing leaves. ``each``: work of each cylinder at the best timing, [W].
    """

    air: Any
    plate: Any
    leak: Any
    speed: Any
    control: Any
    height: Any
    plunger: Any
    flow: Any
    given: Any
    own: Any
    mixture: Any
    burnt: Any
    duty: Any
    late: Any
    each: Any
    work: Any
    used: Any


@dataclass(frozen=True, slots=True)
class Engine(PerCar):
    """What does not change from round to round. Shapes (cars,), or (cylinders, cars); SI.

    Attributes:
        speed: Where it is given; ``None``: it follows from what is open.
        drawn: Air drawn at a speed of 1/s for each pascal in the manifold, [kg/Pa].
        beside: Area through which a cylinder gets more than its even share, or less.
        most: What each path passes with its valve wide open. ``rest``: plunger with the plate at rest.
        extra: Fuel that no injector gives. ``for_air``: fuel over air at lambda 1, all of it evaporated.
        strength: Work for the air that burns at the best mixture and timing, [J/kg].
    """

    kind: Kind
    situation: Situation
    vacuum: Any
    speed: float | None
    load: float
    outside: Any
    intake: Any
    density: Any
    drawn: Any
    fuel_density: Any
    cars: Cars | None
    friction: Any
    timing: Any
    advance_stuck: Any
    advance: Any
    open: Any
    leaks: Any
    beside: Any
    circuit: Circuit
    meter: Meter
    slits: Slits
    paths: Paths
    most: Any
    rest: Any
    extra: Any
    for_air: Any
    lean_end: Any
    sound: Any
    strength: Any
    system: Any
    system_missed: Any

    def at(self, manifold: Any) -> Found:
        """Everything at one manifold pressure."""
        pace = gas_flow(1.0, self.outside, manifold, self.intake)  # kg/(s m²)
        leak = self.leaks * pace
        if self.speed is None:
            plate = self.open * pace
            air = plate + leak
            speed = np.clip(air / (self.drawn * manifold), SLOWEST, FASTEST)
        else:
            speed = self.speed
            air = (speed * self.drawn) * manifold
            plate = np.maximum(air - leak, 0.02 * air)
        vacuum = self.outside - manifold
        control = self.circuit.control(vacuum if self.vacuum is None else self.vacuum)
        height = lesser(self.meter.lift(plate, self.density, control), self.kind.design.lift_max, 1e-4)
        plunger = height * (1.0 / self.kind.design.lever_ratio) + self.rest
        flow = self.paths.limited(self.slits.metered(plunger), self.most)
        own = air * (1.0 / self.kind.design.cylinders) + self.beside * pace
        given = flow * self.fuel_density + self.extra
        duty: Any = 0.5 + 0.0 * plate
        if self.cars is not None:
            duty = loop(self.cars, self.situation, self._whole(own, given))
            flow = flow * np.sqrt(drop_factor(self.cars, duty))
            given = flow * self.fuel_density + self.extra
        mixture = np.minimum(own * self.for_air / np.maximum(given, 1e-12), MIXTURE_ENDS)
        burnt = fired(mixture, self.lean_end, self.sound)
        late, torque = self.late(speed), self.kind.torque
        each = self.strength * own * (charge_work(mixture) * burnt)
        work = late * each.sum(axis=0)
        used = torque.friction(speed, self.friction) + torque.pumping(speed) * vacuum
        return Found(
            air, plate, leak, speed, control, height, plunger, flow, given, own, mixture, burnt, duty, late,
            each, work, used,
        )  # fmt: skip

    def late(self, speed: Any) -> Any:
        """Share of the work that the timing leaves, [-]."""
        hose = self.situation.hose
        return self.kind.torque.timing_share(speed, self.timing, self.advance_stuck, hose, self.advance)

    def whole(self, found: Found) -> Any:
        """Lambda of all air over all fuel."""
        return np.minimum(self._whole(found.own, found.given), MIXTURE_ENDS)

    def _whole(self, own: Any, given: Any) -> Any:
        need = own.sum(axis=0) / self.situation.blend.stoichiometric_afr
        return need / np.maximum(given.sum(axis=0), 1e-12)

    def balanced(self, air: Any, work: Any, manifold: Any) -> Any:
        """Manifold pressure at which *air* [kg/s] and *work* [W], as found at *manifold*, meet what is used.

        Idle: air and work stay, the speed is the one that uses them up. Else both grow with the pressure.
        """
        torque = self.kind.torque
        if self.speed is None:
            each = torque.pumping(1.0)
            power = work + each * air / self.drawn
            return air / (self.drawn * torque.speed_at(power, self.friction, each * self.outside))
        pumped = torque.pumping(self.speed)
        used = torque.friction(self.speed, self.friction) + pumped * self.outside + self.load
        return used / (work / manifold + pumped)


def engine_of(kind: Kind, cars: Cars, screws: SetUp, situation: Situation) -> Engine:
    state, design = situation.engine, kind.design
    idle = state in ("idle_cold", "idle_warm")
    cold = 0.0 if situation.warm else 1.0
    shortfall = WORKING_TEMPERATURE - situation.ambient_temperature if cold else 0.0
    evaporated = np.maximum(1.0 - COLD_LOSS * shortfall, EVAPORATES)
    opened = screws.idle_area * cars["idle_air"] + cars["throttle_gap"]
    if idle:
        opened = opened + cars["auxiliary_opening"] * auxiliary_share(cars, situation)
    runner, spray = cars["runner_leak"], cars["injector_spray"]
    screw = screws.screw + cars["screw_pitch"] * (cars["mixture_screw"] + situation.screw)
    system, missed = system_pressure(
        cars, situation, kind.control_flow, kind.usual_fuel(state), cars["injector_opening"].mean(axis=0)
    )
    behind = paths(cars, situation)
    pressing = cars["compression"] / kind.centre["compression"]
    given_speed = {"fast_idle": FAST_IDLE_SPEED, "road_steady": ROAD_SPEED, "cranking": CRANK_SPEED}
    given_speed["full_load"] = design.rated_speed
    gas = GAS_CONSTANT * (situation.ambient_temperature + MANIFOLD_WARMER)
    return Engine(
        kind=kind,
        situation=situation,
        vacuum=situation.vacuum,
        speed=given_speed.get(state),
        load=ROAD_POWER * design.displacement if state == "road_steady" else 0.0,
        outside=situation.outside,
        intake=situation.intake,
        density=dry_air_density(situation.outside, situation.intake),
        drawn=manifold_volume_flow(design, 1.0) / gas,
        fuel_density=situation.density,
        cars=cars if kind.oxygen_control else None,
        friction=(1.0 + COLD_FRICTION * shortfall) * cars["friction"],
        timing=cars["timing"],
        advance_stuck=cars["advance_stuck"],
        advance=0.0 if idle or state == "full_load" else 1.0 - cars["advance_leak"],
        open=opened,
        leaks=cars["common_leak"] + runner.sum(axis=0),
        beside=RUNNER_SHARE * (runner - runner.mean(axis=0)),
        circuit=circuit(cars, system, bimetal_temperature(cars, situation)),
        meter=meter(design, kind.funnel, cars),
        slits=slits(cars, situation),
        paths=behind,
        most=behind.most(system),
        rest=screw + cars["plate_height"] / design.lever_ratio,
        extra=_extra(kind, cars, situation, system),
        for_air=1.0 / (situation.blend.stoichiometric_afr * evaporated),
        lean_end=lean_end(spray, cold),
        sound=charge_sound(cars["misfire"], spray, pressing, cold),
        strength=kind.torque.specific * np.sqrt(np.minimum(pressing, 1.05)),
        system=system,
        system_missed=missed,
    )


def _extra(kind: Kind, cars: Cars, situation: Situation, system: Any) -> Any:
    """Fuel that no injector gives, for each cylinder, [kg/s]: from the oil, from the cold-start valve."""
    cylinders = kind.design.cylinders
    leaked = cars["cold_start_leak"] * np.sqrt(system) * situation.density / cylinders
    if situation.warm and situation.breather:
        leaked = leaked + cars["crankcase_fuel"] * kind.idle_fuel * situation.density / cylinders
    return leaked
