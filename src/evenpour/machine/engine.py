"""One engine turning: air, fuel, mixture, work and what uses it up, at a manifold pressure that is given."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.air_meter import Meter, meter
from evenpour.machine.auxiliary_air import auxiliary_share
from evenpour.machine.balance import Balance, Demand, balance
from evenpour.machine.cold_start import sprayed, sprayed_on, turned_too_weakly, vapour_share
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
from evenpour.machine.oxygen_control import drop_factor, next_duty, told_duty
from evenpour.machine.parameters import Cars
from evenpour.machine.probe import drawn_air, pumped_air, shown
from evenpour.machine.set_up import SetUp, manifold_volume_flow
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser, positive
from evenpour.machine.some import PerCar
from evenpour.machine.supply import battery
from evenpour.machine.tank import Tank, tank
from evenpour.machine.torque import (
    WORKING_TEMPERATURE,
    advance_comes,
    charge_sound,
    charge_work,
    fired,
    friction_share,
    lean_end,
)
from evenpour.machine.valves import seated
from evenpour.physics.air import dry_air_density
from evenpour.physics.orifice import gas_flow

ROAD_POWER = 4.5e6  # W/m³ of displacement, steady road; common practice, no source
NO_SPARK = 0.05  # share of charges that burn at best, with which no engine runs; common practice, no source
OFF = 1e-3  # share of the fuel that a round may be out of balance with its supply, but the last
SLOWEST, FASTEST = 1.0, 120.0  # 1/s, between which an idle is looked for
RUNNER_SHARE = (
    0.5  # of the air that leaks into a runner, what its own cylinder gets; from memory, not verified
)
# Of the displacement, what is left over the piston at its top, where burnt gas stays at the exhaust's
# pressure: a compression of 8.5; common practice, no source.
CLEARANCE = 1.0 / 7.5
LEAST_PLATE, PLATE_CORNER = 0.02, 0.001  # of the air, what a meter still sees when leaks bring the rest
MIXTURE_ENDS, ENDS_CORNER = 5.0, 1e-3  # lambda above which leaner is no different
WARMS_IN = 200.0  # s, in which a cold engine loses most of what its cold costs; common practice, no source
# 1/K³, share of the fuel that stays liquid on cold walls: a seventh at 20 degC, a third at freezing; from
# memory, not verified. Stale fuel, its light end gone, wets more.
WETTING, STALE_WETS = 7.0e-7, 2.0
LEAST_EVAPORATED, EVAPORATED_CORNER = 0.35, 0.05


@dataclass(frozen=True, slots=True)
class Found(PerCar):
    """An engine at one manifold pressure; names as in `Running` and `Engine`.

    Attributes:
        own, given: Air and fuel of each cylinder, [kg/s]. ``burnt``: share of its charges that burn.
        late: Share of the work the timing leaves. ``each``: work of each cylinder at the best timing, [W].
        system, duty: That go with this; the next round begins with them.
        moved: By how much they moved in this round, as a share.
        supply_missed: Share of the pump's flow left out of balance.
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
    timing: Any
    late: Any
    each: Any
    work: Any
    used: Any
    system: Any
    duty: Any
    moved: Any
    supply_missed: Any


@dataclass(frozen=True, slots=True)
class Engine(PerCar):
    """What does not change from round to round. Shapes (cars,), or (cylinders, cars); SI.

    Attributes:
        speed: Where it is given; ``None``: it follows from what is open.
        drawn: Air drawn at a speed of 1/s for each pascal in the manifold, [kg/Pa].
        light: 1 on a light throttle, where the charge burns slowly.
        pulled: Share of the manifold's vacuum that reaches the regulator's diaphragm.
        injected: Air pumped into the exhaust, over the idle's. ``back``: pressure in the exhaust over the
            square of the air, [Pa s²/kg²]; ``None``: none in all cars.
        usual: Lambda of the kind in this state, to begin with.
        beside: Area through which a cylinder gets more than its even share, or less.
        off: Share of what is poured that a round of the supply may leave over.
        rest: Plunger with the plate at rest.
        extra: Fuel that no injector gives, for each cylinder; ``dripping``: that, for the root of the system
            pressure.
        asks: Air over fuel at lambda 1. ``for_air``: fuel over air at that, all of it evaporated.
        strength: Work for the air that burns at the best mixture and timing, [J/kg].
    """

    kind: Kind
    situation: Situation
    vacuum: Any
    speed: Any | None
    load: Any
    light: Any
    outside: Any
    intake: Any
    density: Any
    drawn: Any
    fuel_density: Any
    usual: Any
    cars: Cars | None
    friction: Any
    timing: Any
    comes: Any
    advance: Any
    pulled: Any
    exhaust_leak: Any
    tail_leak: Any
    injected: Any
    back: Any
    open: Any
    leaks: Any
    beside: Any
    circuit: Circuit
    meter: Meter
    slits: Slits
    paths: Paths
    balance: Balance
    off: float
    rest: Any
    extra: Any
    dripping: Any
    evaporated: Any
    asks: Any
    for_air: Any
    lean_end: Any
    sound: Any
    strength: Any

    @property
    def held(self) -> bool:
        """Whether the manifold pressure is given, and only supply and demand of fuel are left to balance."""
        return self.situation.engine in ("full_load", "cranking")

    @property
    def way(self) -> Hashable:
        """What engines that are solved as one have in common."""
        state, situation = self.situation.engine, self.situation
        control = None if self.cars is None else (state, situation.sensor)
        missing = [one is None for one in (self.speed, self.vacuum, self.back, self.circuit.always)]
        return (state if self.held else "", situation.hose, control, *missing)

    def at(self, manifold: Any, last: Found | None = None) -> Found:
        """Everything at one manifold pressure.

        System pressure and duty of the oxygen control hang on the fuel, and the fuel on them: a round takes
        them from the *last* one and hands its own on; ``moved`` says whether they still matter.
        """
        pace = gas_flow(1.0, self.outside, manifold, self.intake)  # kg/(s m²)
        leak = self.leaks * pace
        if self.speed is None:
            plate = self.open * pace
            air = plate + leak
            pressing = manifold if self.back is None else self._left_free(manifold, air)
            speed = np.clip(air / (self.drawn * pressing), SLOWEST, FASTEST)
        else:
            speed = self.speed
            each = speed * self.drawn  # kg/s for each pascal
            air = each * manifold
            if self.back is not None:  # a quadratic: what is held back goes with the square of the air
                air = 2.0 * air / (1.0 + np.sqrt(1.0 + 4.0 * CLEARANCE * self.back * each * air))
            plate = LEAST_PLATE * air + positive((1.0 - LEAST_PLATE) * air - leak, PLATE_CORNER * air)
        vacuum = self.outside - manifold
        set_to = self.circuit.set_to(vacuum * self.pulled if self.vacuum is None else self.vacuum)
        if last is None:
            before = self.balance.usual(set_to, air * (self.for_air / (self.usual * self.fuel_density)))
        else:
            before = last.system
        control = self.circuit.feed.control(before, set_to)
        height = lesser(self.meter.lift(plate, self.density, control), self.kind.design.lift_max, 1e-4)
        plunger = height * (1.0 / self.kind.design.lever_ratio) + self.rest
        duty_before: Any = (0.5 + 0.0 * plate) if last is None else last.duty
        duty, demand = self._demand(plunger, duty_before)
        level = self.balance.step(set_to, demand, before, self.off)
        system, flow = level.pressure, level.poured
        own = air * (1.0 / self.kind.design.cylinders) + self.beside * pace
        given = flow * self.fuel_density + (self.extra + self.dripping * np.sqrt(np.maximum(system, 0.0)))
        mixture = _ended(own * self.for_air / given)
        burnt = fired(mixture, self.lean_end, self.sound)
        if duty is None:  # the loop believes what its probe shows
            assert self.cars is not None
            lost = (given * (1.0 - burnt)).sum(axis=0) / given.sum(axis=0)
            believed = shown(self._whole(own, given), lost, self.stray(air, speed))
            duty = next_duty(self.cars, self.situation, duty_before, believed)
        timing = self._timing(speed)
        late, torque = self.kind.torque.timing_share(timing, self.light), self.kind.torque
        each = self.strength * own * (charge_work(mixture) * burnt)
        against = vacuum if self.back is None else vacuum + self.back * (air * air)
        used = torque.friction(speed, self.friction) + torque.pumping(speed) * against
        moved = np.abs(system - before) / before + np.abs(duty - duty_before)
        return Found(
            air, plate, leak, speed, control, height, plunger, flow, given, own, mixture, burnt, timing, late,
            each, late * each.sum(axis=0), used, system, duty, moved, level.unbalanced,
        )  # fmt: skip

    def _left_free(self, manifold: Any, air: Any) -> Any:
        """Manifold pressure less what burnt gas, held back in the clearance, takes of the charge, [Pa]."""
        return np.maximum(manifold - CLEARANCE * self.back * (air * air), 0.02 * manifold)

    def dead(self) -> Any:
        """Cars that run at no manifold pressure: no spark comes, or no injector ever opens, (cars,)."""
        left, _ = self.balance.left(self.circuit.set_to(self.outside), self.paths.opening.min(axis=0))
        return (self.sound.max(axis=0) < NO_SPARK) | (left < 0.0)

    def _demand(self, plunger: Any, duty: Any) -> tuple[Any, Demand]:
        """The duty where no mixture decides on it, and what the slits ask for."""
        if self.cars is None:
            return 0.5 + 0.0 * plunger, Demand(self.slits.metered(plunger), self.paths)
        told = told_duty(self.cars, self.situation)
        factor = drop_factor(self.cars, duty if told is None else told)
        return told, Demand(self.slits.under(factor).metered(plunger), self.paths.under(factor))

    def _timing(self, speed: Any) -> Any:
        hose = self.situation.hose
        return self.kind.torque.timing(speed, self.timing, self.comes, hose, self.advance)

    def stray(self, air: Any, speed: Any) -> Any:
        """Outside air in the exhaust where a sensor sits, over what the engine draws, [-]."""
        design = self.kind.design
        drawn = drawn_air(self.exhaust_leak, air, design.idle_air)
        return drawn + pumped_air(self.injected, air, design.idle_air, speed, design.idle_speed)

    def late(self, speed: Any) -> Any:
        """Share of the work that the timing leaves, [-]."""
        return self.kind.torque.timing_share(self._timing(speed), self.light)

    def whole(self, found: Found) -> Any:
        """Lambda of all air over all fuel."""
        return _ended(self._whole(found.own, found.given))

    def _whole(self, own: Any, given: Any) -> Any:
        return own.sum(axis=0) / (self.asks * given.sum(axis=0))

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


def _ended(mixture: Any) -> Any:
    return MIXTURE_ENDS - positive(MIXTURE_ENDS - mixture, ENDS_CORNER)


def engine_of(kind: Kind, cars: Cars, screws: SetUp, situation: Situation) -> Engine:
    """The engines of *cars* in a *situation*. Hot."""
    state, design = situation.engine, kind.design
    idle, cranking = state in ("idle_cold", "idle_warm"), state == "cranking"
    light = 1.0 if state in ("fast_idle", "road_steady") else 0.0
    cold = _cold(situation)
    shortfall = cold * max(WORKING_TEMPERATURE - situation.ambient_temperature, 0.0)
    opened = screws.idle_area * cars["idle_air"] + cars["throttle_gap"]
    if idle or cranking:
        opened = opened + cars["auxiliary_opening"] * auxiliary_share(cars, situation)
    runner, spray = cars["runner_leak"], cars["injector_spray"]
    screw = screws.screw + cars["screw_pitch"] * (cars["mixture_screw"] + situation.screw)
    pressing = seated(kind, cars) * cars["compression"] / kind.centre["compression"]
    gas = GAS_CONSTANT * (situation.ambient_temperature + MANIFOLD_WARMER)
    fuel = tank(cars, situation)
    each = fuel.density / design.cylinders
    asks = fuel.blend.stoichiometric_afr
    evaporated = _evaporated(cars, situation, shortfall, fuel)
    failing = cars["misfire"]
    if cranking:
        failing = failing + turned_too_weakly(battery(cars, situation))
    return Engine(
        kind=kind,
        situation=situation,
        vacuum=situation.vacuum,
        speed=_given_speed(kind, situation),
        load=ROAD_POWER * design.displacement if state == "road_steady" else 0.0,
        light=light,
        outside=situation.outside,
        intake=situation.intake,
        density=dry_air_density(situation.outside, situation.intake),
        drawn=manifold_volume_flow(design, 1.0) / gas,
        fuel_density=fuel.density,
        usual=design.mixture[{"full_load": 2, "fast_idle": 1, "road_steady": 1}.get(state, 0)],
        cars=cars if kind.oxygen_control else None,
        friction=friction_share(shortfall) * cars["friction"],
        timing=cars["timing"],
        comes=advance_comes(cars),
        advance=(light + idle * cars["hoses_crossed"]) * (1.0 - cars["advance_leak"]),
        pulled=1.0 - cars["hoses_crossed"] if idle and np.any(cars["load_step"]) else 1.0,
        exhaust_leak=cars["exhaust_leak"],
        tail_leak=cars["tail_leak"],
        injected=cars["injected_air"] if situation.air_pump else 0.0 * cars["injected_air"],
        back=cars["back_pressure"] / design.full_air**2 if np.any(cars["back_pressure"]) else None,
        open=opened,
        leaks=cars["common_leak"] + runner.sum(axis=0),
        beside=RUNNER_SHARE * (runner - runner.mean(axis=0)),
        circuit=circuit(cars, bimetal_temperature(cars, situation)),
        meter=meter(design, kind.funnel, cars, state),
        slits=slits(cars, situation),
        paths=paths(cars, situation),
        balance=balance(cars, situation),
        off=OFF,
        rest=screw - cars["plate_height"] / design.lever_ratio,
        extra=_extra(kind, cars, situation, fuel) * each,
        dripping=cars["cold_start_leak"] * each,
        evaporated=evaporated,
        asks=asks,
        for_air=1.0 / (asks * evaporated),
        lean_end=lean_end(spray, cold, fuel.ethanol),
        sound=charge_sound(failing, spray, pressing, cold),
        strength=kind.torque.specific * np.sqrt(pressing),
    )


def _given_speed(kind: Kind, situation: Situation) -> float | None:
    """The speed somebody else decides on: the driver, or the starter; at idle the engine does."""
    state = situation.engine
    if state in ("idle_cold", "idle_warm"):
        return None
    if situation.speed is not None:
        return float(situation.speed)
    usual = {"fast_idle": FAST_IDLE_SPEED, "road_steady": ROAD_SPEED, "cranking": CRANK_SPEED}
    # full load is looked at from the middle of the speed range, as one drives it
    return usual.get(state, 0.5 * (kind.design.idle_speed + kind.design.rated_speed))


def _cold(situation: Situation) -> float:
    """How cold the engine is still, from 1 at the start to 0 warm."""
    if situation.warm:
        return 0.0
    return float(np.exp(-situation.ran / WARMS_IN)) if situation.engine == "idle_cold" else 1.0


def _evaporated(cars: Cars, situation: Situation, shortfall: float, fuel: Tank) -> Any:
    """Share of the injected fuel that burns: the rest wets cold walls. Shape (cars,)."""
    if situation.engine == "cranking":
        return vapour_share(cars, situation.ambient_temperature, fuel.ethanol)
    wet = WETTING * shortfall**3 * (1.0 + STALE_WETS * cars["staleness"])
    return LEAST_EVAPORATED + positive(1.0 - wet - LEAST_EVAPORATED, EVAPORATED_CORNER)


def _extra(kind: Kind, cars: Cars, situation: Situation, fuel: Tank) -> Any:
    """Fuel that no injector gives, [m³/s]: by a fed cold-start valve, from the oil, by the purge."""
    if situation.engine == "cranking":
        return sprayed(cars, situation.ambient_temperature, fuel.ethanol) * kind.design.displacement
    always = sprayed_on(cars) * kind.design.displacement
    if situation.warm:
        oil = cars["crankcase_fuel"] if situation.breather else 0.0
        always = always + (oil + cars["purge_fuel"]) * kind.idle_fuel
    return always
