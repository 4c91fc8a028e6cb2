"""The model's flow test and warm idle once more, car by car in one compiled loop, to hold its speed against.

The same equations and the same rounds as in evenpour.machine, written out for numbers in place of arrays,
for a kind without oxygen control and for engines that run. Nothing but the benchmark uses it, which first
holds it to the model.
"""

from __future__ import annotations

import math
from collections import namedtuple
from dataclasses import replace
from typing import Any

import numpy as np
from numba import njit

from evenpour.machine import (
    air_meter,
    auxiliary_air,
    balance,
    cold_start,
    control,
    design_point,
    engine,
    engine_off,
    metering,
    running,
    supply,
    torque,
    valves,
)
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Cars
from evenpour.machine.set_up import SetUp, manifold_volume_flow
from evenpour.machine.situation import Situation
from evenpour.physics.air import dry_air_density
from evenpour.physics.blend import blend_viscosity
from evenpour.physics.orifice import CRITICAL_RATIO, HEAD, SLIT_CONTRACTION, SLIT_CREEP

# Numbers of the model, by a name the compiler can see.
EDGE_CORNER, OPENING_CORNER, FIRST_CORNER = (
    metering.EDGE_CORNER,
    metering.OPENING_CORNER,
    engine_off.FIRST_CORNER,
)
LEFT_CORNER, CREEPING = metering.LEFT_CORNER, metering.CREEPING
TRAVEL, VALVE_PASSES = metering.TRAVEL_CORNER, float(metering.VALVE_PASSES)
SLIT_ROUNDING, AIR_DISCHARGE = design_point.SLIT_ROUNDING, design_point.AIR_DISCHARGE
CORNER, RELIEF_CORNER, LEAST, STEP = balance.CORNER, supply.RELIEF_CORNER, balance.LEAST, balance.STEP
STIFFNESS, PER_VOLT, LEAST_VOLTS = supply.REGULATOR_STIFFNESS, supply.PER_VOLT, supply.LEAST_VOLTS
SUPPLY_TOLERATED, SUPPLY_ROUNDS, NEARS = balance.TOLERATED, balance.ROUNDS, balance.NEARS
GROWS, GROWS_CORNER = valves.GROWS, valves.CORNER
USUAL_VOLTS, FEED_CORNER, LEAST_CORNER = supply.USUAL_VOLTS, supply.FEED_CORNER, supply.LEAST_CORNER
ROUNDS, TOLERATED, STILL, MADE_UP = running.ROUNDS, running.TOLERATED, running.STILL, running.MADE_UP
SPRAY = cold_start.SPRAY
FREEZING, CONTROL_LEAST, CONTROL_CORNER = control.FREEZING, control.LEAST, control.CORNER
FLOOR, FLOOR_CORNER, SHUT_CORNER = control.FLOOR, control.FLOOR_CORNER, control.SHUT_CORNER
STRIP_SHARE, STRIP_TIME, BODY_TIME = control.STRIP_SHARE, control.STRIP_TIME, control.BODY_TIME
LOAD_LOW, LOAD_HIGH = control.LOAD_BAND
RUNNING_TIME, LEAD_TAKES = control.RUNNING_TIME, control.LEAD_TAKES
HALF_OPEN, NARROW, TIME = auxiliary_air.HALF_OPEN, auxiliary_air.NARROW, auxiliary_air.TIME
WARM_BY, WARM_TIME = auxiliary_air.WARM_BY, auxiliary_air.WARM_TIME
PART_FROM, PART_WIDTH = air_meter.PART_FROM, air_meter.PART_WIDTH
FULL_FROM, FULL_WIDTH, RUBBING = air_meter.FULL_FROM, air_meter.FULL_WIDTH, air_meter.RUBBING
SLOWEST, FASTEST, RUNNER_SHARE = engine.SLOWEST, engine.FASTEST, engine.RUNNER_SHARE
MIXTURE_ENDS, ENDS_CORNER = engine.MIXTURE_ENDS, engine.ENDS_CORNER
START, FARTHEST = running.START, running.FARTHEST
LOW_END, HIGH_END = running.ENDS
LOW_UNTRIED, HIGH_UNTRIED = running.UNTRIED
BEST_MIXTURE, RICH_FALL, LEAN_FALL = torque.BEST_MIXTURE, torque.RICH_FALL, torque.LEAN_FALL
BEST_TIMING, TIMING_FALL, FRICTION_AT_REST = torque.BEST_TIMING, torque.TIMING_FALL, torque.FRICTION_AT_REST
ADVANCE_FROM, ADVANCE_TO, ADVANCE_CORNER = torque.ADVANCE_FROM, torque.ADVANCE_TO, torque.ADVANCE_CORNER
LEAN_END, RICH_END = torque.LEAN_END_WARM, torque.RICH_END
STRINGS_WARM = torque.STRINGS_WARM
LEAN_WIDTH, RICH_WIDTH = torque.LEAN_WIDTH, torque.RICH_WIDTH

PLANT = (
    "cylinders", "plunger_over_plate", "before", "lift_max", "ratio", "idle_area", "full_area", "low",
    "half", "high", "idle_speed", "friction_torque", "displacement", "idle_timing", "full_timing",
    "specific", "usual", "pressing", "idle_fuel", "full_air", "outside", "intake", "air_density", "drawn",
    "fuel_density", "viscosity", "air_fuel", "evaporated", "ambient", "breather", "lost_without_clearance",
)  # fmt: skip
Plant = namedtuple("Plant", PLANT)  # a kind of tuple the compiler knows


def plant_of(kind: Kind, situation: Situation) -> Any:
    """What all cars of one kind share in a situation, as numbers."""
    design, driven, funnel = kind.design, kind.torque, kind.funnel
    gas = design_point.GAS_CONSTANT * (situation.ambient_temperature + design_point.MANIFOLD_WARMER)
    warm = replace(situation, engine="idle_warm")
    least, corner = engine.LEAST_EVAPORATED, engine.EVAPORATED_CORNER
    whole = 1.0 - least
    return Plant(
        cylinders=design.cylinders,
        plunger_over_plate=design.plunger_area / (design.lever_ratio * design.plate_area),
        before=funnel.before,
        lift_max=design.lift_max,
        ratio=design.lever_ratio,
        idle_area=funnel.idle_area,
        full_area=funnel.full_area,
        low=funnel.shape[0],
        half=funnel.shape[1],
        high=funnel.shape[2],
        idle_speed=driven.idle_speed,
        friction_torque=driven.friction_torque,
        displacement=driven.displacement,
        idle_timing=driven.idle_timing,
        full_timing=driven.full_timing,
        specific=driven.specific,
        usual=design.mixture[0],
        pressing=kind.centre["compression"],
        idle_fuel=kind.idle_fuel,
        full_air=design.full_air,
        outside=float(warm.outside),
        intake=float(warm.intake),
        air_density=float(dry_air_density(warm.outside, warm.intake)),
        drawn=manifold_volume_flow(design, 1.0) / gas,
        fuel_density=float(situation.density),
        viscosity=float(blend_viscosity(situation.blend, situation.ambient_temperature)),
        air_fuel=float(situation.blend.stoichiometric_afr),
        evaporated=least + 0.5 * (whole + math.sqrt(whole * whole + corner * corner)),
        ambient=float(situation.ambient_temperature),
        breather=1.0 if situation.breather else 0.0,
        lost_without_clearance=max(kind.clearance, kind.exhaust_clearance) / valves.HELD_OPEN,
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
def _step(x: float) -> float:
    return 0.5 * (1.0 + math.tanh(0.5 * x))


# ---- The ports ----


@_compiled
def _jet(car: Any, row: Any, own: int, density: float) -> float:
    return math.sqrt(2.0 / density * max(car[row.pressure_drop + own], 1.0))


@_compiled
def _metered(lift: float, edge: float, width: float, jet: float, viscosity: float) -> float:
    free = _positive(lift - edge, EDGE_CORNER)
    area = width * free
    drag = (0.25 * SLIT_CONTRACTION / SLIT_CREEP) * viscosity / jet * (width + free)
    return (
        SLIT_ROUNDING * SLIT_CONTRACTION * jet * area * area / (math.sqrt(drag * drag + area * area) + drag)
    )


@_compiled
def _passes(car: Any, row: Any, own: int, bare: bool) -> float:
    line = car[row.line_restriction + own]
    resistance = 1.0 / (line * line) + 1.0 / (VALVE_PASSES * VALVE_PASSES)
    if not bare:
        injector = car[row.injector_restriction + own]
        resistance += 1.0 / (injector * injector)
    return 1.0 / math.sqrt(resistance)


@_compiled
def _poured(
    car: Any, row: Any, own: int, wanted: float, passes: float, system: float, bare: bool
) -> tuple[float, float]:
    """What leaves a port, and how fast that rises with the system's pressure."""
    head, rises = system, 1.0
    if not bare:
        over = system - car[row.injector_opening + own]
        head = _positive(over, OPENING_CORNER)
        rises = head / (2.0 * head - over)
    over = head - car[row.pressure_drop + own]
    left = _positive(over, LEFT_CORNER)
    most = passes * left / math.sqrt(left + CREEPING)
    rises *= left / (2.0 * left - over) * most * (0.5 / left + 0.5 * CREEPING / (left * (left + CREEPING)))
    comes = wanted + car[row.port_leak + own]
    half, both = 0.5 * (4.0 - TRAVEL * TRAVEL) * comes, comes + most
    root = math.sqrt(both * both - 2.0 * half * most)
    return half * most / (both + root), 0.5 * (1.0 - (both - half) / root) * rises


# ---- Supply and control circuit ----


@_compiled
def _set_to(car: Any, row: Any, bimetal: float, vacuum: float) -> float:
    line, warm = (
        car[row.control_offset] + car[row.control_slope] * (bimetal - FREEZING),
        car[row.warm_setting],
    )
    if car[row.load_step] != 0.0:
        reached = (vacuum * (1.0 - car[row.load_leak]) - LOAD_LOW) / (LOAD_HIGH - LOAD_LOW)
        warm -= car[row.load_step] * (1.0 - _lesser(_positive(reached, 0.02), 1.0, 0.02))
    return FLOOR + _positive(_lesser(line, warm, CONTROL_CORNER) - FLOOR, FLOOR_CORNER)


@_compiled
def _feed(car: Any, row: Any) -> tuple[float, float]:
    """The share of what the regulator sets, and the share of the system's when that is wholly shut."""
    passes, leak = car[row.feed_orifice] ** 2, car[row.shut_leak] ** 2
    own = 1.0 / (1.0 + passes * (car[row.inlet_resistance] + car[row.control_return_resistance]))
    return own, passes / (passes + leak)


@_compiled
def _control(feed: tuple[float, float], system: float, set_to: float) -> tuple[float, float]:
    """Control pressure, and how fast it rises with the system's."""
    through, divided = feed[0] * set_to + (1.0 - feed[0]) * system, feed[1] * system
    rises = 1.0 - feed[0] if through < system else 1.0
    apart = min(through, system) - divided
    root = math.sqrt(apart * apart + SHUT_CORNER * SHUT_CORNER)
    side = 0.5 * (1.0 + apart / root)
    found = divided + 0.5 * (apart - root)
    if found <= CONTROL_LEAST:
        return CONTROL_LEAST, 0.0
    return found, side * feed[1] + (1.0 - side) * rises


@_compiled
def _pump_volts(car: Any, row: Any, battery: float) -> float:
    return battery / (1.0 + car[row.pump_wiring] * car[row.pump_current] / USUAL_VOLTS)


@_compiled
def _pump(car: Any, row: Any, volts: float, off: float) -> tuple[float, float, float, float, float, float]:
    """Flow at rest and its fall with the pressure, by slip and by the relief valve; what the feed lets in and
    its corner; *off*: what stands.
    """
    speed = _positive(1.0 + PER_VOLT * (volts - 12.0), 0.02) * math.tanh(_positive(volts - LEAST_VOLTS, 0.1))
    free = car[row.pump_flow] * speed * (1.0 - off)
    corner = max(FEED_CORNER * free, LEAST_CORNER)
    slip, steep = car[row.pump_slip], 1.0 / car[row.filter_resistance]
    within = 1.0 + slip / steep
    by_relief = car[row.pump_relief] * steep
    return free / within, slip / within, by_relief, steep, car[row.feed_capacity], corner


@_compiled
def _supplied(pump: tuple[float, float, float, float, float, float], pressure: float) -> tuple[float, float]:
    by_slip, by_relief = pump[0] - pump[1] * pressure, pump[2] - pump[3] * pressure
    spare = pump[4] - by_slip
    edge = math.sqrt(spare * spare + pump[5] * pump[5])
    by_pump, slower = 0.5 * (by_slip + pump[4] - edge), 0.5 * pump[1] * (1.0 + spare / edge)
    apart = by_pump - by_relief
    root = math.sqrt(apart * apart + RELIEF_CORNER * RELIEF_CORNER)
    falls = 0.5 * (slower + pump[3] + (pump[3] - slower) * (apart / root))
    return 0.5 * (by_pump + by_relief - root), falls


@_compiled
def _left(
    car: Any, row: Any, pump: Any, feed: Any, set_to: float, pressure: float
) -> tuple[float, float, float]:
    """What supply leaves for the ports, how fast that falls with the pressure, what the regulator returns."""
    supply_, falls = _supplied(pump, pressure)
    stiffness = STIFFNESS + car[row.return_resistance]
    lift = (pressure - car[row.system_setting]) / stiffness
    reach = math.sqrt(lift * lift + CORNER * CORNER)
    returned = 0.5 * (lift + reach)
    held, rises = _control(feed, pressure, set_to)
    drop = max(pressure - held, 1.0)
    taken = car[row.feed_orifice] * math.sqrt(drop)
    slope = falls + returned / (reach * stiffness) + 0.5 * taken / drop * (1.0 - rises)
    return supply_ - taken - returned, slope, returned


@_compiled
def _regulated(car: Any, row: Any, pump: Any, feed: Any, set_to: float, taken: float) -> float:
    """About where the regulator holds the pressure."""
    setting = car[row.system_setting]
    supply_, falls = _supplied(pump, setting)
    held, _ = _control(feed, setting, set_to)
    into = car[row.feed_orifice] * math.sqrt(max(setting - held, 1.0))
    more = 0.5 * into / max(setting - held, 1.0)
    stiffness = STIFFNESS + car[row.return_resistance]
    return setting + (supply_ - into - taken) / (1.0 / stiffness + falls + more)


@_compiled
def _system(
    car: Any,
    row: Any,
    pump: Any,
    feed: Any,
    set_to: float,
    wanted: Any,
    passes: Any,
    bare: bool,
    start: float,
) -> float:
    """Where supply and demand balance: Newton, and halving where it would leave the bracket or hop about."""
    setting = car[row.system_setting]
    low, before, pressure = 0.0, math.inf, max(start, LEAST)
    high = setting + max(_supplied(pump, setting)[0], 0.0) * (STIFFNESS + car[row.return_resistance]) + STEP
    for _ in range(SUPPLY_ROUNDS):
        left, steep, _ = _left(car, row, pump, feed, set_to, pressure)
        for own in range(len(wanted)):
            flow, rises = _poured(car, row, own, wanted[own], passes[own], pressure, bare)
            left, steep = left - flow, steep + rises
        if pressure <= LEAST and left <= 0.0:
            return LEAST
        low, high = (pressure, high) if left > 0.0 else (low, pressure)
        tried = max(pressure + left / steep, LEAST)
        if abs(left) <= SUPPLY_TOLERATED * car[row.pump_flow]:
            return tried
        nears = low < tried < high and abs(left) < NEARS * before
        pressure, before = tried if nears else 0.5 * (low + high), abs(left)
    return pressure


@_compiled
def catches(plant: Any, row: Any, cars: Any, opening: float, bare: bool, flows: Any) -> None:
    """A flow test of every car, plate held at *opening* [m]; *flows* (cars, cylinders), [m³/s], is filled."""
    count = plant.cylinders
    wanted, passes = np.empty(count), np.empty(count)
    for number in range(cars.shape[0]):
        car = cars[number]
        least = car[row.slit_edge]
        for own in range(1, count):
            least = min(least, car[row.slit_edge + own])
        spread = 0.0
        for own in range(count):
            spread += math.exp(-(car[row.slit_edge + own] - least) / FIRST_CORNER)
        plunger = least - FIRST_CORNER * math.log(spread) + opening / plant.ratio
        asked = 0.0
        for own in range(count):
            edge, width = car[row.slit_edge + own], car[row.slit_width + own]
            jet = _jet(car, row, own, plant.fuel_density)
            wanted[own] = _metered(plunger, edge, width, jet, plant.viscosity)
            passes[own] = _passes(car, row, own, bare)
            asked += wanted[own]
        volts = _pump_volts(car, row, car[row.supply_voltage])
        pump = _pump(car, row, volts, 0.0)
        feed = _feed(car, row)
        set_to = _set_to(car, row, plant.ambient + car[row.body_warmth], 0.0)
        start = _regulated(car, row, pump, feed, set_to, asked)
        system = _system(car, row, pump, feed, set_to, wanted, passes, bare, start)
        for own in range(count):
            flows[number, own] = _poured(car, row, own, wanted[own], passes[own], system, bare)[0]


# ---- The engine ----


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
def _comes(car: Any, row: Any) -> float:
    return car[row.advance_reach] * (1.0 - car[row.advance_stuck])


@_compiled
def _late(plant: Any, car: Any, row: Any, speed: float) -> float:
    weights = _positive((speed - ADVANCE_FROM) / (ADVANCE_TO - ADVANCE_FROM), ADVANCE_CORNER)
    weights = _lesser(weights, 1.0, ADVANCE_CORNER)
    early = (plant.full_timing - plant.idle_timing) * weights * _comes(car, row)
    off = plant.idle_timing + car[row.timing] + early - min(BEST_TIMING, plant.full_timing)
    return 1.0 / (1.0 + TIMING_FALL * off * off)


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
def _extra(plant: Any, car: Any, row: Any) -> float:
    always = SPRAY * car[row.cold_start_flow] * car[row.cold_start_fed] * plant.displacement
    oil = plant.breather * car[row.crankcase_fuel]
    return always + (oil + car[row.purge_fuel]) * plant.idle_fuel


@_compiled
def _opened(plant: Any, car: Any, row: Any, idle_area: float) -> float:
    """What is open past the throttle of a warm engine."""
    heater = car[row.auxiliary_heater]
    battery, ambient = car[row.charging_voltage], plant.ambient + WARM_BY
    volts = battery * heater / (heater + car[row.auxiliary_lead])
    end = ambient + car[row.auxiliary_rise] * volts * volts / heater
    warm = end + (ambient - end) * math.exp(-WARM_TIME / TIME)
    follows = _step((HALF_OPEN + car[row.auxiliary_shift] - warm) / NARROW)
    stuck = min(car[row.auxiliary_stuck], 1.0)
    share = (1.0 - stuck) * follows + stuck * car[row.auxiliary_stuck_at]
    return idle_area * car[row.idle_air] + car[row.throttle_gap] + car[row.auxiliary_opening] * share


@_compiled
def idles(plant: Any, row: Any, cars: Any, speeds: Any, manifolds: Any, mixtures: Any) -> None:
    """The warm idle of every car; *speeds*, *manifolds* (cars,), *mixtures* (cars, cylinders) are filled."""
    count = plant.cylinders
    screw_at, area_at = cars.shape[1] - 2, cars.shape[1] - 1
    jet, passes, lean_end, sound = np.empty(count), np.empty(count), np.empty(count), np.empty(count)
    strength, wanted, flows = np.empty(count), np.empty(count), np.empty(count)
    for number in range(cars.shape[0]):
        car = cars[number]
        # what does not change from round to round
        open_, runners = _opened(plant, car, row, car[area_at]), 0.0
        for own in range(count):
            runners += car[row.runner_leak + own]
        leaks = car[row.common_leak] + runners
        battery = car[row.charging_voltage]
        pump = _pump(car, row, _pump_volts(car, row, battery), car[row.pump_off])
        feed = _feed(car, row)
        ambient = plant.ambient + car[row.engine_warmth]
        bimetal = _warmed(car, row, ambient, battery - LEAD_TAKES, RUNNING_TIME)
        each = plant.fuel_density / count
        extra, dripping = (
            _extra(plant, car, row) * each,
            car[row.cold_start_leak] * each,
        )
        rest = (
            car[screw_at]
            + car[row.screw_pitch] * car[row.mixture_screw]
            - car[row.plate_height] / plant.ratio
        )
        force = 1.0 - car[row.lever_drag] - car[row.plunger_drag] - RUBBING * car[row.plate_off_centre]
        low = plant.low + math.log(car[row.funnel_idle])
        half = plant.half + math.log(car[row.funnel_middle])
        high = plant.high + math.log(car[row.funnel_top])
        for own in range(count):
            jet[own] = _jet(car, row, own, plant.fuel_density)
            passes[own] = _passes(car, row, own, False)
            grown = _positive(GROWS - car[row.valve_clearance + own], GROWS_CORNER)
            seated = math.exp(-grown * plant.lost_without_clearance)
            spray = car[row.injector_spray + own]
            pressing = seated * car[row.compression + own] / plant.pressing
            lean_end[own] = LEAN_END - STRINGS_WARM * spray
            weak, patchy = _step((0.42 - pressing) / 0.05), min(0.12 * spray * spray, 0.9)
            sound[own] = (1.0 - weak) * (1.0 - patchy) * (1.0 - min(car[row.misfire + own], 1.0))
            strength[own] = plant.specific * math.sqrt(pressing)
        # the manifold pressure at which the work meets what is used
        air = (open_ + leaks) * _pace(plant, START * plant.outside)
        work = air * _late(plant, car, row, plant.idle_speed) * plant.specific * _charge_work(plant.usual)
        bottom, top = LOW_END * plant.outside, HIGH_END * plant.outside
        manifold = min(max(_balanced(plant, car, row, air, work), bottom), top)
        below, above = LOW_UNTRIED * bottom, HIGH_UNTRIED * top
        last, last_missing, speed, system = 0.0, 0.0, 0.0, 0.0
        for trial in range(ROUNDS + 1):
            pace = _pace(plant, manifold)
            plate = open_ * pace
            air = plate + leaks * pace
            speed = min(max(air / (plant.drawn * manifold), SLOWEST), FASTEST)
            vacuum = plant.outside - manifold
            set_to = _set_to(car, row, bimetal, vacuum * (1.0 - car[row.hoses_crossed]))
            before = system
            if trial == 0:
                usual = air / (plant.air_fuel * plant.evaporated * plant.usual * plant.fuel_density)
                before = max(_regulated(car, row, pump, feed, set_to, usual), LEAST)
            held, _ = _control(feed, before, set_to)
            drop = held * plant.plunger_over_plate * force
            area = plate / (AIR_DISCHARGE * math.sqrt(2.0 * plant.air_density * drop))
            x = math.log(area / plant.idle_area) / math.log(plant.full_area / plant.idle_area)
            part, full = _step((x - PART_FROM) / PART_WIDTH), _step((x - FULL_FROM) / FULL_WIDTH)
            height = plant.before + area * math.exp(low + part * (half - low) + full * (high - half))
            plunger = _lesser(height, plant.lift_max, 1e-4) / plant.ratio + rest
            left, steep, _ = _left(car, row, pump, feed, set_to, before)
            for own in range(count):
                edge, width = car[row.slit_edge + own], car[row.slit_width + own]
                wanted[own] = _metered(plunger, edge, width, jet[own], plant.viscosity)
                flows[own], _ = _poured(car, row, own, wanted[own], passes[own], before, False)
                left -= flows[own]
            system = before + left / steep
            if min(before, system) < car[row.system_setting]:
                system = _system(car, row, pump, feed, set_to, wanted, passes, False, before)
                for own in range(count):
                    flows[own], _ = _poured(car, row, own, wanted[own], passes[own], system, False)
            moved = abs(system - before) / before
            work = 0.0
            for own in range(count):
                given = flows[own] * plant.fuel_density + extra + dripping * math.sqrt(system)
                beside = RUNNER_SHARE * (car[row.runner_leak + own] - runners / count)
                charge = air / count + beside * pace
                mixture = charge / (plant.air_fuel * plant.evaporated * given)
                mixture = MIXTURE_ENDS - _positive(MIXTURE_ENDS - mixture, ENDS_CORNER)
                lean = 1.0 + math.exp((mixture - lean_end[own]) / LEAN_WIDTH)
                rich = 1.0 + math.exp((RICH_END - mixture) / RICH_WIDTH)
                work += strength[own] * charge * _charge_work(mixture) * sound[own] / (lean * rich)
                mixtures[number, own] = mixture
            work *= _late(plant, car, row, speed)
            rub = FRICTION_AT_REST + (1.0 - FRICTION_AT_REST) * speed / plant.idle_speed
            used = 2.0 * math.pi * plant.friction_torque * rub * car[row.friction] * speed
            back = car[row.back_pressure] * (air / plant.full_air) ** 2
            used += 0.5 * plant.displacement * speed * (vacuum + back)
            missing = used - work
            if (abs(missing) <= TOLERATED * used and moved <= STILL) or trial == ROUNDS:
                break
            following = _balanced(plant, car, row, air, work)
            change = manifold - last
            if trial > 0 and abs(change) > 1e-7 * manifold and (missing - last_missing) / change < 0.0:
                following = manifold - missing * change / (missing - last_missing)
            unsure = MADE_UP * moved * used
            below = manifold if missing > unsure else below
            above = manifold if missing < -unsure else above
            farthest = FARTHEST * plant.outside
            following = min(max(following, manifold - farthest), manifold + farthest)
            following = min(max(following, bottom), top)
            if not below < following < above:
                following = min(max(0.5 * (below + above), bottom), top)
            if following == manifold:
                break
            last, last_missing, manifold = manifold, missing, following
        speeds[number], manifolds[number] = speed, manifold
