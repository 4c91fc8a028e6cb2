"""The car in the middle of its kind: every parameter's centre, from the sheet's limits and geometry.

Where the sheet is silent, values are common practice without source, or from memory and not verified, as said
beside each. SI throughout.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from evenpour.machine.auxiliary_air import HALF_OPEN
from evenpour.machine.cold_start import OPENS
from evenpour.machine.design_point import REFERENCE_ETHANOL, DesignPoint, middle, warm_pressure
from evenpour.machine.holding import MEET, gap_share
from evenpour.machine.sheet import Sheet
from evenpour.machine.supply import REGULATOR_STIFFNESS
from evenpour.measure.limit_types import Limit
from evenpour.physics.blend import blend
from evenpour.physics.leakage import time_to_reach

BAR = 1.0e5
MINUTE = 60.0
HALF_MINUTE, TEN_MINUTES = 30.0, 600.0  # s, of a pump's delivery and of the holding pressure
PUMP_VOLTS = 12.0  # V, at which a pump's flow is stated
PUMP_MARGIN = 1.25  # delivery of a good pump over the least the sheet allows; common practice, no source
# V, of a good battery that is not charged, what the starter pulls it down by, and what a generator holds at
# idle; common practice, no source.
RESTED, STARTER_TAKES, VOLTS_WARM = 12.65, 1.6, 14.1
WIRING_DROP = 0.42  # V, between battery and pump; common practice, no source
CONTROL_FLOW_COLD = 200e-6 / MINUTE  # m³/s, 200 ml/min; common practice, no source
#: Shares of the leak after the stop, all parts good; common practice, no source.
LEAK_SHARES = {"non_return_leak": 0.40, "regulator_leak": 0.30, "control_leak": 0.18, "injector_leak": 0.12}
SLIP = 2.5  # past the plunger to one port, over all good leaks together; from memory, not verified
SHUT_LEAK = 0.13  # of the feed orifice, what a wholly shut regulator still passes; from memory, not verified
# A regulator that stood at 20 degC is warm within 3 min at 11.5 V, with something in hand; common practice,
# no source.
HEATER_MARGIN, RISEN = 1.30, 0.62  # the second: share of the rise after 3 min, see control.py
# Of what is left for line and injector behind the slit at full flow, the share that a good one of either
# takes; from memory, not verified.
PATH_TAKES = 0.16
AUXILIARY_RISE = (
    51.0  # K, of the auxiliary air valve's bimetal at 12 V in the end; common practice, no source
)
# Of the slits' pressure, what the springs hold with the frequency valve shut, its duty's range carried on to
# nothing: lean by a tenth to two thirds, as engines without drive are. From memory, not verified.
SHUT_DROP = 0.6
CREVICES = 0.006  # share of the fuel that never burns in a good engine; from memory, not verified
SPRING_END = 0.9 * BAR  # of the accumulator; from memory, not verified
# Of what passes the valves' seats, what goes as through gaps over what goes as through holes: 40 to 60. Clean
# seats are nearer to gaps, scratched and dirty ones to holes; from memory, not verified.
GAP_ODDS = 2.0 / 3.0
#: Leaks that hardly are there while all is good, as shares of the whole; from memory, not verified.
TRACE, BARREL = 0.01, 0.002
BARE_CAPACITY = 8e-6 / BAR  # m³/Pa, hoses, filter and regulator without an accumulator; from memory


def centre(sheet: Sheet, design: DesignPoint) -> dict[str, float]:
    """The middle of every parameter, by id."""
    return {
        **_supply(sheet),
        **_holding(sheet, design),
        **_control(sheet),
        **_meter(design),
        **_injection(sheet, design),
        **_air_and_engine(sheet, design),
        **_rest(sheet),
    }


def _supply(sheet: Sheet) -> dict[str, float]:
    system = middle(sheet, "system_pressure", 4.95 * BAR)
    least = _least(sheet, "pump_delivery", 850e-6, {"duration": HALF_MINUTE, "voltage": PUMP_VOLTS})
    delivered = PUMP_MARGIN * least / HALF_MINUTE
    returned = delivered - CONTROL_FLOW_COLD  # what the primary regulator passes on with the plate at rest
    stiffness = REGULATOR_STIFFNESS + 0.05 * BAR / delivered
    dead, current = _least(sheet, "pump_deadhead", 6.0 * BAR), _pump_current(sheet)
    return {
        "pump_flow": delivered * 1.18,
        "pump_slip": 0.18 * delivered / system,
        "pump_relief": dead + 1.6 * BAR,
        "pump_current": current,
        "pump_wiring": WIRING_DROP / current,
        "pump_off": 0.0,
        "pump_lets_go": 0.0,
        "cutoff_bypassed": 0.0,
        "supply_voltage": RESTED,
        "starter_drop": STARTER_TAKES,
        "charging_voltage": VOLTS_WARM,
        "feed_capacity": 2.2 * delivered,
        "filter_resistance": 0.12 * BAR / delivered,
        "system_setting": system - stiffness * returned,
        "return_resistance": 0.05 * BAR / delivered,
    }


def _holding(sheet: Sheet, design: DesignPoint) -> dict[str, float]:
    low, high = _holding_band(sheet)
    shut, later = low + 0.70 * (high - low), low + 0.44 * (high - low)
    fitted = sheet.number("accumulator_volume") if "accumulator" in sheet.devices else None
    capacity = BARE_CAPACITY if fitted is None else fitted / (1.4 * BAR)
    total = _leak_in_all(shut, later, capacity, design.cylinders)
    return {
        "shut_pressure": shut,
        "capacity": capacity,
        "spring_end": SPRING_END,
        "gap_odds": GAP_ODDS,
        "non_return_leak": LEAK_SHARES["non_return_leak"] * total,
        "regulator_leak": LEAK_SHARES["regulator_leak"] * total,
        "control_leak": LEAK_SHARES["control_leak"] * total,
        "accumulator_leak": TRACE * total,
        # laminar, in series with the injectors: a plunger's fit lets more past than all good seats together
        "plunger_slip": SLIP * total / math.sqrt(shut),
        "injector_leak": LEAK_SHARES["injector_leak"] * total / (math.sqrt(shut) * design.cylinders),
        "barrel_leak": BARREL * SLIP * total / math.sqrt(shut),
        "cold_start_leak": TRACE * total,
    }


def _leak_in_all(shut: float, later: float, capacity: float, cylinders: int) -> float:
    """The leak that `LEAK_SHARES` divides, as a hole's, [m³/(s sqrt(Pa))].

    With it the pressure falls from *shut* to *later* [Pa] in ten minutes.
    """
    seats = LEAK_SHARES["injector_leak"]
    valves = sum(LEAK_SHARES.values()) - seats + 2.0 * TRACE
    gap = float(gap_share(GAP_ODDS))
    in_series = seats / (1.0 + seats / (SLIP * cylinders))  # the injectors, each behind its plunger's slip
    laminar = gap * valves / math.sqrt(MEET) + (in_series + BARREL * SLIP) / math.sqrt(shut)
    return float(time_to_reach(shut, later, capacity, (1.0 - gap) * valves, laminar)) / TEN_MINUTES


def _control(sheet: Sheet) -> dict[str, float]:
    offset, slope = _cold_line(sheet)
    warm = warm_pressure(sheet)
    system = middle(sheet, "system_pressure", 4.95 * BAR)
    cold, heater = offset + slope * 20.0, middle(sheet, "regulator_heater_resistance", 22.0)
    flow = middle(sheet, "control_flow", CONTROL_FLOW_COLD)
    step = 0.0
    if "load_diaphragm" in sheet.devices:
        step = warm - middle(sheet, "control_pressure_warm", warm - 0.6 * BAR, among={"vacuum": "none"})
    return {
        "control_offset": offset,
        "control_slope": slope,
        "warm_setting": warm,
        "load_step": step,
        "load_leak": 0.0,
        "heater_resistance": heater,
        "heater_lead": 0.3,
        "heater_rise": HEATER_MARGIN * max((warm - offset) / slope - 20.0, 10.0) / (11.5**2 / heater * RISEN),
        "body_warmth": 0.0,
        "engine_warmth": 20.0,
        "feed_orifice": flow / math.sqrt(system - cold),
        "shut_leak": SHUT_LEAK * flow / math.sqrt(system - cold),
        "inlet_resistance": 0.005 * BAR / flow**2,
        "control_return_resistance": 0.02 * BAR / flow**2,
    }


def _meter(design: DesignPoint) -> dict[str, float]:
    return {
        "plate_height": 0.0,
        "rest_stop": 0.0,
        "plate_off_centre": 0.0,
        "lever_drag": 0.005,
        "plunger_drag": 0.005,
        "plunger_felt": 0.0,
        "funnel_idle": 1.0,
        "funnel_middle": 1.0,
        "funnel_top": 1.0,
        "mixture_screw": 0.0,
        "screw_pitch": design.screw_pitch,
        "slit_width": design.slit_width,
        "slit_edge": 0.0,
        "pressure_drop": design.slit_drop,
        "port_leak": 0.0,
    }


def _injection(sheet: Sheet, design: DesignPoint) -> dict[str, float]:
    opening = middle(sheet, "injector_opening_pressure", 3.3 * BAR)
    left = middle(sheet, "system_pressure", 4.95 * BAR) - opening - design.slit_drop
    full = design.full_air / (blend(REFERENCE_ETHANOL).stoichiometric_afr * design.mixture[2])
    each = full / (design.fuel_density * design.cylinders)  # [m³/s]
    passed = each / math.sqrt(PATH_TAKES * max(left, 0.5 * BAR))
    return {
        "line_restriction": passed,
        "injector_restriction": passed,
        "injector_opening": opening,
        "injector_spray": 0.03,
    }


def _air_and_engine(sheet: Sheet, design: DesignPoint) -> dict[str, float]:
    idle_area = design.idle_area
    auxiliary = "auxiliary_air_valve" in sheet.devices
    auxiliary_heater = middle(sheet, "auxiliary_air_resistance", 45.0)
    return {
        "idle_air": 1.0,
        "throttle_gap": 0.002 * idle_area,
        "common_leak": 0.003 * idle_area,
        "runner_leak": 0.0003 * idle_area,
        "auxiliary_opening": (2.2 if auxiliary else 0.0) * idle_area,
        "auxiliary_shift": _half_open(sheet) - HALF_OPEN,
        "auxiliary_heater": auxiliary_heater,
        "auxiliary_lead": 0.3,
        "auxiliary_rise": AUXILIARY_RISE / (12.0**2 / auxiliary_heater),
        "auxiliary_stuck": 0.0,
        "auxiliary_stuck_at": 0.0,
        "crankcase_fuel": 0.0,
        "oil_fuel": 0.0,
        "purge_fuel": 0.0,
        "exhaust_leak": 0.003,
        "injected_air": 0.0,
        "back_pressure": 0.0,
        "crevice_fuel": CREVICES,
        "tail_leak": 0.0,
        "set_since": 0.0,
        "friction": 1.0,
        "compression": middle(sheet, "compression", 10.5 * BAR),
        "valve_clearance": 1.0,
        "exhaust_clearance": 1.0,
        "timing": 0.0,
        "advance_reach": 1.0,
        "advance_stuck": 0.0,
        "advance_leak": 0.0,
        "hoses_crossed": 0.0,
        "dwell": middle(sheet, "dwell", 50.0 / 360.0),
        "misfire": 0.002,
        "lead_resistance": middle(sheet, "spark_lead_resistance", 5000.0),
        "port_warmth": 1.0,
        "drop_scale": 1.0,
    }


def _rest(sheet: Sheet) -> dict[str, float]:
    return {
        "cold_start_flow": 1.0,
        "cold_start_fed": 0.0,
        "cold_start_coil": middle(sheet, "cold_start_valve_resistance", 4.0),
        "switch_shift": _changes_over(sheet, "thermo_time_switch", "closed", "open", OPENS) - OPENS,
        "switch_open": 0.0,
        "switch_shorted": 0.0,
        "volatility": 1.0,
        "staleness": 0.0,
        "ethanol": 0.0,
        "fuel_water": 0.0,
        "fuel_dirt": 0.0,
        "sensor_dead": 0.0,
        "drive_silent": 0.0,
        "drive_missing": 0.0,
        "shut_drop": SHUT_DROP,
        "full_load_switch": 0.0,
        "duty_shift": 0.0,
        "held_duty": middle(sheet, "lambda_duty", 0.5, among={"sensor": "off"}),
        "frequency_coil": middle(sheet, "frequency_valve_resistance", 2.5),
        "crossed": 0.0,
        "gauge_offset": 0.0,
    }


def _pump_current(sheet: Sheet) -> float:
    stated = sheet.number("pump_current")
    return middle(sheet, "pump_current", 7.0) if stated is None else stated


def _changes_over(sheet: Sheet, check: str, cold: str, hot: str, fallback: float) -> float:
    """The temperature half way from where a choice must still be *cold* to where it must be *hot*, [K]."""
    below, above = [], []
    for limit in sheet.limits_for(check):
        span = limit.when.get("temperature")
        if span is not None and cold in limit.allowed and span.high is not None:
            below.append(span.high)
        if span is not None and hot in limit.allowed and span.low is not None:
            above.append(span.low)
    return 0.5 * (below[0] + above[0]) if below and above else fallback


def _half_open(sheet: Sheet) -> float:
    """The temperature at which the auxiliary air valve is half open, [K]."""
    for limit in sheet.limits_for("auxiliary_air"):
        span = limit.when.get("temperature")
        if "half" in limit.allowed and span is not None and span.low is not None and span.high is not None:
            return 0.5 * (span.low + span.high)
    return HALF_OPEN


def _least(sheet: Sheet, check: str, fallback: float, stated: Mapping[str, float] | None = None) -> float:
    """The low side of a sheet's limit of *check* under the conditions *stated*, SI; or *fallback*."""
    for limit in sheet.limits_for(check):
        if limit.low is not None:
            low = limit.low
            for depends in limit.depends:
                low = depends.moved(low, (stated or {}).get(depends.on, depends.at))
            return low
    return fallback


def _holding_band(sheet: Sheet) -> tuple[float, float]:
    """The least after ten minutes, and the most just after the stop, [Pa]."""
    limits = sheet.limits_for("holding_pressure")
    high = [limit.high for limit in limits if limit.high is not None]
    least = _least(sheet, "holding_pressure", 1.8 * BAR, {"after": TEN_MINUTES})
    return least, high[0] if high and high[0] > least else least + 0.9 * BAR


def _cold_line(sheet: Sheet) -> tuple[float, float]:
    """Control pressure of a cold regulator at 0 degC, [Pa], and its slope, [Pa/K]."""
    for limit in sheet.limits_for("control_pressure_cold"):
        line = _line(limit)
        if line is not None:
            return line
    return 0.5 * BAR, 0.05 * BAR


def _line(limit: Limit) -> tuple[float, float] | None:
    if limit.low is None or limit.high is None:
        return None
    for depends in limit.depends:
        if depends.on == "regulator_temperature" and depends.kind == "slope":
            return 0.5 * (limit.low + limit.high) + depends.rate * (273.15 - depends.at), depends.rate
    return None
