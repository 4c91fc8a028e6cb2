"""The model's flow test and warm idle once more, car by car in one compiled loop, to hold its speed against.

The same equations and the same rounds as in evenpour.machine, written out for numbers in place of arrays,
for a kind without oxygen control. Nothing but the benchmark uses it, which first holds it to the model.
"""

from __future__ import annotations

import math
from collections import namedtuple
from dataclasses import replace
from typing import Any

import numpy as np
from numba import njit

from evenpour.machine import auxiliary_air, control, design_point, engine, metering, running, supply, torque
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Cars
from evenpour.machine.set_up import SetUp, manifold_volume_flow
from evenpour.machine.situation import VOLTS_WARM, Situation
from evenpour.physics.air import dry_air_density
from evenpour.physics.blend import blend_viscosity
from evenpour.physics.orifice import CRITICAL_RATIO, HEAD, SLIT_CONTRACTION, SLIT_CREEP

# Numbers of the model, by a name the compiler can see.
EDGE_CORNER, OPENING_CORNER = metering.EDGE_CORNER, metering.OPENING_CORNER
TRAVEL, VALVE_PASSES = metering.TRAVEL_CORNER, float(metering.VALVE_PASSES)
SLIT_ROUNDING, AIR_DISCHARGE = design_point.SLIT_ROUNDING, design_point.AIR_DISCHARGE
CORNER, RELIEF_CORNER, LEAST, STEP = supply.CORNER, supply.RELIEF_CORNER, supply.LEAST, supply.STEP
STIFFNESS, HEAD_NEEDED, HEAD_CORNER = supply.REGULATOR_STIFFNESS, supply.HEAD_NEEDED, supply.HEAD_CORNER
PER_VOLT, LEAST_VOLTS, SUPPLY_TOLERATED = supply.PER_VOLT, supply.LEAST_VOLTS, supply.TOLERATED
SUPPLY_ROUNDS, ROUNDS, TOLERATED = supply.TOGETHER + supply.ROUNDS, running.ROUNDS, running.TOLERATED
FREEZING, CONTROL_LEAST, CONTROL_CORNER = control.FREEZING, control.LEAST, control.CORNER
STRIP_SHARE, STRIP_TIME, BODY_TIME = control.STRIP_SHARE, control.STRIP_TIME, control.BODY_TIME
LOAD_LOW, LOAD_HIGH = control.LOAD_BAND
ENGINE_WARMS_BY, RUNNING_TIME = control.ENGINE_WARMS_BY, control.RUNNING_TIME
HALF_OPEN, NARROW, RISE, TIME = (
    auxiliary_air.HALF_OPEN,
    auxiliary_air.NARROW,
    auxiliary_air.RISE,
    auxiliary_air.TIME,
)
SLOWEST, FASTEST, RUNNER_SHARE = engine.SLOWEST, engine.FASTEST, engine.RUNNER_SHARE
MIXTURE_ENDS, START, FARTHEST = engine.MIXTURE_ENDS, running.START, running.FARTHEST
LOW_END, HIGH_END = running.ENDS
LOW_UNTRIED, HIGH_UNTRIED = running.UNTRIED
BEST_MIXTURE, RICH_FALL, LEAN_FALL = torque.BEST_MIXTURE, torque.RICH_FALL, torque.LEAN_FALL
BEST_TIMING, TIMING_FALL, FRICTION_AT_REST = torque.BEST_TIMING, torque.TIMING_FALL, torque.FRICTION_AT_REST
ADVANCE_FROM, ADVANCE_TO = torque.ADVANCE_FROM, torque.ADVANCE_TO
LEAN_END, RICH_END = torque.LEAN_END_WARM, torque.RICH_END
LEAN_WIDTH, RICH_WIDTH = torque.LEAN_WIDTH, torque.RICH_WIDTH

PLANT = (
    "cylinders", "plunger_over_plate", "tangent", "diameter", "lift_max", "ratio", "idle_area", "full_area",
    "low", "half", "top", "idle_speed", "friction_torque", "displacement", "idle_timing", "full_timing",
    "specific", "mixture", "pressing", "idle_fuel", "control_flow", "outside", "intake", "air_density",
    "drawn", "fuel_density", "viscosity", "air_fuel", "ambient", "warm_volts", "breather",
)  # fmt: skip
Plant = namedtuple("Plant", PLANT)  # a kind of tuple the compiler knows


def plant_of(kind: Kind, situation: Situation) -> Any:
    """What all cars of one kind share in a situation, as numbers."""
    design, driven = kind.design, kind.torque
    gas = design_point.GAS_CONSTANT * (situation.ambient_temperature + design_point.MANIFOLD_WARMER)
    warm = replace(situation, engine="idle_warm")
    return Plant(
        cylinders=design.cylinders,
        plunger_over_plate=design.plunger_area / (design.lever_ratio * design.plate_area),
        tangent=design.funnel_tangent,
        diameter=design.plate_diameter,
        lift_max=design.lift_max,
        ratio=design.lever_ratio,
        idle_area=kind.funnel.idle_area,
        full_area=kind.funnel.full_area,
        low=kind.funnel.shape[0],
        half=kind.funnel.shape[1],
        top=kind.funnel.shape[2],
        idle_speed=driven.idle_speed,
        friction_torque=driven.friction_torque,
        displacement=driven.displacement,
        idle_timing=driven.idle_timing,
        full_timing=driven.full_timing,
        specific=driven.specific,
        mixture=design.mixture[0],
        pressing=kind.centre["compression"],
        idle_fuel=kind.idle_fuel,
        control_flow=kind.control_flow,
        outside=float(warm.outside),
        intake=float(warm.intake),
        air_density=float(dry_air_density(warm.outside, warm.intake)),
        drawn=manifold_volume_flow(design, 1.0) / gas,
        fuel_density=float(situation.density),
        viscosity=float(blend_viscosity(situation.blend, situation.ambient_temperature)),
        air_fuel=float(situation.blend.stoichiometric_afr),
        ambient=float(situation.ambient_temperature),
        warm_volts=VOLTS_WARM,
        breather=1.0 if situation.breather else 0.0,
    )


def laid_out(cars: Cars, screws: SetUp) -> tuple[Any, Any]:
    """The cars as the loop reads them: where each parameter begins, and a row of numbers for each car."""
    rows = namedtuple("Rows", tuple(cars.rows))(*(place.start for place in cars.rows.values()))
    return rows, np.ascontiguousarray(np.vstack([cars.values, screws.screw, screws.idle_area]).T)


_compiled = njit(nogil=True, error_model="numpy", fastmath=True)


@_compiled
def _positive(x: float, width: float) -> float:
    return 0.5 * (x + math.sqrt(x * x + width * width))


@_compiled
def _lesser(a: float, b: float, width: float) -> float:
    return 0.5 * (a + b - math.sqrt((a - b) * (a - b) + width * width))


@_compiled
def _metered(lift: float, edge: float, width: float, jet: float, viscosity: float) -> float:
    free = _positive(lift - edge, EDGE_CORNER)
    area = width * free
    drag = (0.25 * SLIT_CONTRACTION / SLIT_CREEP) * viscosity / jet * (width + free)
    return (
        SLIT_ROUNDING * SLIT_CONTRACTION * jet * area * area / (math.sqrt(drag * drag + area * area) + drag)
    )


@_compiled
def _most(car: Any, row: Any, own: int, system: float, bare: bool) -> float:
    line = car[row.line_restriction + own]
    resistance = 1.0 / (line * line) + 1.0 / (VALVE_PASSES * VALVE_PASSES)
    head = system
    if not bare:
        injector = car[row.injector_restriction + own]
        resistance += 1.0 / (injector * injector)
        head = _positive(system - car[row.injector_opening + own], OPENING_CORNER)
    return math.sqrt(max(head - car[row.pressure_drop + own], 1.0) / resistance)


@_compiled
def _limited(wanted: float, most: float) -> float:
    both, twice = wanted + most, (4.0 - TRAVEL * TRAVEL) * wanted * most
    return 0.5 * twice / (both + math.sqrt(both * both - twice))


@_compiled
def _jet(car: Any, row: Any, own: int, density: float) -> float:
    return math.sqrt(2.0 / density * max(car[row.pressure_drop + own], 1.0))


@_compiled
def _opening(car: Any, row: Any, cylinders: int) -> float:
    total = 0.0
    for own in range(cylinders):
        total += car[row.injector_opening + own]
    return total / cylinders


@_compiled
def _system(car: Any, row: Any, volts: float, asked: float, poured: float, against: float) -> float:
    """Where supply and demand balance: Newton, and halving where it would leave the bracket."""
    speed = _positive(1.0 + PER_VOLT * (volts - 12.0), 0.02) * math.tanh(_positive(volts - LEAST_VOLTS, 0.1))
    turned = car[row.pump_flow] * speed * (1.0 - car[row.pump_off])
    free = _lesser(turned, car[row.feed_capacity], 0.05 * turned)
    slip, steep, setting = car[row.pump_slip], 1.0 / car[row.filter_resistance], car[row.system_setting]
    stiffness = STIFFNESS + car[row.return_resistance]
    within = 1.0 + slip / steep
    a, b, c = free / within, slip / within, car[row.pump_relief] * steep
    taken_for = asked / math.sqrt(setting)
    flow = max(car[row.pump_flow], 1e-9)
    apart = a - b * setting - c + steep * setting
    root = math.sqrt(apart * apart + RELIEF_CORNER * RELIEF_CORNER)
    supply_ = 0.5 * (a - b * setting + c - steep * setting - root)
    falls = 0.5 * (b + steep + (steep - b) * apart / root)
    over = supply_ - asked - poured
    low, high = LEAST, setting + max(over, 0.0) * stiffness + STEP
    pressure = setting + over / (1.0 / stiffness + falls)
    for _ in range(SUPPLY_ROUNDS):
        pressure = min(max(pressure, low), high)
        apart = a - b * pressure - c + steep * pressure
        root = math.sqrt(apart * apart + RELIEF_CORNER * RELIEF_CORNER)
        supply_ = 0.5 * (a - b * pressure + c - steep * pressure - root)
        falls = 0.5 * (b + steep + (steep - b) * apart / root)
        lift = (pressure - setting) / stiffness
        reach = math.sqrt(lift * lift + CORNER * CORNER)
        returned = 0.5 * (lift + reach)
        taken = taken_for * math.sqrt(pressure)
        slope = falls + returned / (reach * stiffness) + 0.5 * taken / pressure
        missed = supply_ - taken - returned
        if poured > 0.0:
            beyond = (pressure - against) / HEAD_NEEDED - 1.0
            curve = math.sqrt(beyond * beyond + HEAD_CORNER)
            share = 0.5 * (beyond + 2.0 - curve)
            if share > 0.0:
                missed -= poured * share
                slope += poured * (1.0 - beyond / curve) * (0.5 / HEAD_NEEDED)
        if missed < 0.0 and pressure <= LEAST:
            return LEAST
        low, high = (pressure, high) if missed > 0.0 else (low, pressure)
        tried = pressure + missed / slope
        if abs(missed) <= SUPPLY_TOLERATED * flow:
            return tried
        pressure = tried if low <= tried <= high else 0.5 * (low + high)
    return pressure


@_compiled
def _set_to(car: Any, row: Any, bimetal: float, vacuum: float) -> float:
    line = car[row.control_offset] + car[row.control_slope] * (bimetal - FREEZING)
    found = _lesser(_positive(line, 0.05e5), car[row.warm_setting], CONTROL_CORNER)
    if car[row.load_step] == 0.0:
        return found
    reached = (vacuum * (1.0 - car[row.load_leak]) - LOAD_LOW) / (LOAD_HIGH - LOAD_LOW)
    return found - car[row.load_step] * (1.0 - _lesser(_positive(reached, 0.02), 1.0, 0.02))


@_compiled
def _control(car: Any, row: Any, system: float, set_to: float) -> float:
    passes, leak = car[row.feed_orifice] ** 2, car[row.shut_leak] ** 2
    own = 1.0 / (1.0 + passes * (car[row.inlet_resistance] + car[row.control_return_resistance]))
    through = min(own * set_to + (1.0 - own) * system, system)
    return max(_lesser(through, passes / (passes + leak) * system, 0.02e5), CONTROL_LEAST)


@_compiled
def _warmed(car: Any, row: Any, ambient: float, volts: float, time: float) -> float:
    resistance, rise = car[row.heater_resistance], car[row.heater_rise]
    power = (volts * resistance / (resistance + car[row.heater_lead])) ** 2 / resistance
    link, loss = 1.0 / (STRIP_SHARE * rise), 1.0 / ((1.0 - STRIP_SHARE) * rise)
    capacity, body_capacity = STRIP_TIME * link, BODY_TIME * loss
    body_end = ambient + power / loss
    strip_end = body_end + power / link
    out, back, away = link / capacity, link / body_capacity, loss / body_capacity
    half = 0.5 * (out - back - away)
    apart, mean = math.sqrt(half * half + out * back), 0.5 * (out + back + away)
    slow = math.exp(-time * (out * away / (mean + apart)))
    twice = 2.0 * apart * time + 1e-300
    spread = -math.expm1(-twice)
    odd = slow * time * (spread / twice)
    strip, body = ambient - strip_end, ambient - body_end
    return strip_end + slow * (1.0 - 0.5 * spread) * strip - odd * (half * strip - out * body)


@_compiled
def catches(plant: Any, row: Any, cars: Any, opening: float, bare: bool, flows: Any) -> None:
    """A flow test of every car, plate held at *opening* [m]; *flows* (cars, cylinders), [m³/s], is filled."""
    count = plant.cylinders
    metered = np.empty(count)
    for number in range(cars.shape[0]):
        car = cars[number]
        least = car[row.slit_edge]
        for own in range(1, count):
            least = min(least, car[row.slit_edge + own])
        spread = 0.0
        for own in range(count):
            spread += math.exp(-(car[row.slit_edge + own] - least) / 0.4e-6)
        plunger = least - 0.4e-6 * math.log(spread) + opening / plant.ratio
        setting, poured = car[row.system_setting], 0.0
        for own in range(count):
            jet = _jet(car, row, own, plant.fuel_density)
            metered[own] = _metered(
                plunger, car[row.slit_edge + own], car[row.slit_width + own], jet, plant.viscosity
            )
            poured += _limited(metered[own], _most(car, row, own, setting, bare)) + car[row.port_leak + own]
        set_to = _set_to(car, row, plant.ambient, 0.0)
        asked = car[row.feed_orifice] * math.sqrt(max(setting - _control(car, row, setting, set_to), 1e3))
        volts = car[row.supply_voltage] - car[row.pump_wiring] * car[row.pump_current]
        against = 0.0 if bare else _opening(car, row, count)
        system = _system(car, row, volts, asked, poured, against)
        for own in range(count):
            flows[number, own] = (
                _limited(metered[own], _most(car, row, own, system, bare)) + car[row.port_leak + own]
            )


@_compiled
def _late(plant: Any, car: Any, row: Any, speed: float) -> float:
    weights = min(max((speed - ADVANCE_FROM) / (ADVANCE_TO - ADVANCE_FROM), 0.0), 1.0)
    early = (plant.full_timing - plant.idle_timing) * weights * (1.0 - car[row.advance_stuck])
    off = plant.idle_timing + car[row.timing] + early - min(BEST_TIMING, plant.full_timing)
    return max(1.0 / (1.0 + TIMING_FALL * off * off), 0.05)


@_compiled
def _charge_work(mixture: float) -> float:
    away = math.log(max(mixture, 0.05) / BEST_MIXTURE)
    fall = away / LEAN_FALL if away > 0.0 else away / RICH_FALL
    return 1.0 / (1.0 + fall * fall)


@_compiled
def _pace(plant: Any, manifold: float) -> float:
    ratio = min(max(manifold / plant.outside, CRITICAL_RATIO), 1.0)
    s2 = ratio ** (2.0 / 7.0)
    s4 = s2 * s2
    return plant.outside * math.sqrt(HEAD / plant.intake * (s4 * s4 * s2 * (1.0 - s2)))


@_compiled
def _balanced(plant: Any, car: Any, row: Any, air: float, work: float) -> float:
    each = 0.5 * plant.displacement
    power = work + each * air / plant.drawn
    flat = 2.0 * math.pi * plant.friction_torque * FRICTION_AT_REST * car[row.friction]
    curved = flat * (1.0 - FRICTION_AT_REST) / (FRICTION_AT_REST * plant.idle_speed)
    flat += each * plant.outside
    return air * (flat + math.sqrt(flat * flat + 4.0 * curved * power)) / (2.0 * plant.drawn * power)


@_compiled
def idles(plant: Any, row: Any, cars: Any, speeds: Any, manifolds: Any, mixtures: Any) -> None:
    """The warm idle of every car; *speeds*, *manifolds* (cars,), *mixtures* (cars, cylinders) are filled."""
    count = plant.cylinders
    screw_at, area_at = cars.shape[1] - 2, cars.shape[1] - 1
    jet, most, lean_end, sound = np.empty(count), np.empty(count), np.empty(count), np.empty(count)
    strength = np.empty(count)
    for number in range(cars.shape[0]):
        car = cars[number]
        # what does not change from round to round
        heat = plant.warm_volts**2 / car[row.auxiliary_heater]
        end = plant.ambient + 25.0 + RISE * heat
        warm = end + (plant.ambient + 25.0 - end) * math.exp(-1200.0 / TIME)
        follows = 0.5 * (1.0 + math.tanh(0.5 * (HALF_OPEN + car[row.auxiliary_shift] - warm) / NARROW))
        stuck = car[row.auxiliary_stuck]
        share = (1.0 - stuck) * follows + stuck * car[row.auxiliary_stuck_at]
        open_ = car[area_at] * car[row.idle_air] + car[row.throttle_gap] + car[row.auxiliary_opening] * share
        runners = 0.0
        for own in range(count):
            runners += car[row.runner_leak + own]
        leaks = car[row.common_leak] + runners
        volts = plant.warm_volts - 12.6 + car[row.supply_voltage]
        volts -= car[row.pump_wiring] * car[row.pump_current]
        system = _system(car, row, volts, plant.control_flow, plant.idle_fuel, _opening(car, row, count))
        bimetal = _warmed(car, row, plant.ambient + ENGINE_WARMS_BY, plant.warm_volts - 0.5, RUNNING_TIME)
        extra = car[row.cold_start_leak] * math.sqrt(system) * plant.fuel_density / count
        extra += plant.breather * car[row.crankcase_fuel] * plant.idle_fuel * plant.fuel_density / count
        rest = (
            car[screw_at]
            + car[row.screw_pitch] * car[row.mixture_screw]
            + car[row.plate_height] / plant.ratio
        )
        force = 1.0 - car[row.lever_drag] - car[row.plunger_drag] - 0.05 * car[row.plate_off_centre]
        low = plant.low + math.log(car[row.funnel_idle])
        half = plant.half + math.log(car[row.funnel_middle])
        top = plant.top + math.log(car[row.funnel_top])
        slope, bend = 4.0 * half - 3.0 * low - top, 2.0 * (low + top) - 4.0 * half
        for own in range(count):
            jet[own] = _jet(car, row, own, plant.fuel_density)
            most[own] = _most(car, row, own, system, False)
            spray, pressing = car[row.injector_spray + own], car[row.compression + own] / plant.pressing
            lean_end[own] = LEAN_END - 0.35 * spray
            weak = 0.5 * (1.0 + math.tanh(0.5 * (0.42 - pressing) / 0.05))
            patchy = min(0.12 * spray * spray, 0.9)
            sound[own] = (1.0 - weak) * (1.0 - patchy) * (1.0 - min(car[row.misfire + own], 1.0))
            strength[own] = plant.specific * math.sqrt(min(pressing, 1.05))
        # the manifold pressure at which the work meets what is used
        air = (open_ + leaks) * _pace(plant, START * plant.outside)
        work = air * _late(plant, car, row, plant.idle_speed) * plant.specific * _charge_work(plant.mixture)
        ends = LOW_END * plant.outside, HIGH_END * plant.outside
        manifold = min(max(_balanced(plant, car, row, air, work), ends[0]), ends[1])
        below, above = LOW_UNTRIED * ends[0], HIGH_UNTRIED * ends[1]
        last, last_missing, speed = 0.0, 0.0, 0.0
        for trial in range(ROUNDS + 1):
            pace = _pace(plant, manifold)
            plate = open_ * pace
            air = plate + leaks * pace
            speed = min(max(air / (plant.drawn * manifold), SLOWEST), FASTEST)
            vacuum = plant.outside - manifold
            held = _control(car, row, system, _set_to(car, row, bimetal, vacuum))
            drop = held * plant.plunger_over_plate * force
            area = plate / (AIR_DISCHARGE * math.sqrt(2.0 * plant.air_density * drop))
            x = math.log(area / plant.idle_area) / math.log(plant.full_area / plant.idle_area)
            x = min(max(x, -0.7), 1.15)
            gap = math.sqrt(plant.diameter * plant.diameter + 4.0 / math.pi * area) - plant.diameter
            height = 0.5 * gap / plant.tangent * math.exp(low + x * (slope + x * bend))
            plunger = _lesser(height, plant.lift_max, 1e-4) / plant.ratio + rest
            work = 0.0
            for own in range(count):
                edge, width = car[row.slit_edge + own], car[row.slit_width + own]
                flow = _limited(_metered(plunger, edge, width, jet[own], plant.viscosity), most[own])
                given = (flow + car[row.port_leak + own]) * plant.fuel_density + extra
                beside = RUNNER_SHARE * (car[row.runner_leak + own] - runners / count)
                charge = air / count + beside * pace
                mixture = min(charge / (plant.air_fuel * max(given, 1e-12)), MIXTURE_ENDS)
                ends_ = (1.0 + math.exp((mixture - lean_end[own]) / LEAN_WIDTH)) * (
                    1.0 + math.exp((RICH_END - mixture) / RICH_WIDTH)
                )
                work += strength[own] * charge * _charge_work(mixture) * sound[own] / ends_
                mixtures[number, own] = mixture
            work *= _late(plant, car, row, speed)
            rub = FRICTION_AT_REST + (1.0 - FRICTION_AT_REST) * speed / plant.idle_speed
            used = 2.0 * math.pi * plant.friction_torque * rub * car[row.friction] * speed
            used += 0.5 * plant.displacement * speed * vacuum
            missing = used - work
            if abs(missing) <= TOLERATED * used or trial == ROUNDS:
                break
            following = _balanced(plant, car, row, air, work)
            change = manifold - last
            if trial > 0 and abs(change) > 1e-7 * manifold and (missing - last_missing) / change < 0.0:
                following = manifold - missing * change / (missing - last_missing)
            below, above = (manifold, above) if missing > 0.0 else (below, manifold)
            farthest = FARTHEST * plant.outside
            following = min(max(following, manifold - farthest), manifold + farthest)
            following = min(max(following, ends[0]), ends[1])
            if not below < following < above:
                following = min(max(0.5 * (below + above), ends[0]), ends[1])
            if following == manifold:
                break
            last, last_missing, manifold = manifold, missing, following
        speeds[number], manifolds[number] = speed, manifold
