"""What one would see inside the machine in a state: lifts, openings, pressures and flows, by cylinder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.air_meter import annulus, plate_drop, with_drag
from evenpour.machine.control import bimetal_temperature
from evenpour.machine.engine_off import Poured
from evenpour.machine.metering import VALVE_PASSES, metered
from evenpour.machine.oxygen_control import drop_factor
from evenpour.machine.parameters import Cars
from evenpour.machine.readout import Readout
from evenpour.machine.running import Running
from evenpour.machine.situation import Situation
from evenpour.machine.supply import free_flow, pump_runs, pump_voltage, supplied
from evenpour.physics.air import dry_air_density

NO_FLOW = 1e-12  # m³/s, below which nothing is said to flow
LEFT = 1.0  # Pa, the least that a valve is said to hold back


@dataclass(frozen=True, slots=True)
class Inside:
    """A machine opened while it works. Shapes (cars,), or (cylinders, cars) where each has its own; SI.

    Attributes:
        plate_lift: Over its rest; ``plunger_lift``: over the height at which a right slit begins, [m].
        plate_gap: Open area round the plate, [m²]; ``plate_drop``: what the air loses there, [Pa].
        screw: Turns of the mixture screw from where this car's idle is right, clockwise positive.
        pump_volts: At the pump; ``pump_flow``: behind the filter, [m³/s]; ``pump_pressure``: before it, [Pa].
        control_flow: Into the control circuit; ``returned``: by the primary regulator, [m³/s].
        slit_open: Height of each slit that is free, [m]; ``slit_drop``: the pressure over it, [Pa].
        valve_open: How far each differential-pressure valve is open, as a share of its travel.
        before_injector: Pressure at each injector's inlet, or at the end of a bare line, [Pa].
        fuel: Through each line or injector, [m³/s].
        regulator: Temperature of the control-pressure regulator's bimetal, [K].
        plate_air: Past the plate; ``leak_air``: past it by leaks, [kg/s]; 0 with the engine off.
        manifold: Absolute, [Pa]; ``speed``: [1/s]; ``duty``: of the frequency valve; ``mixture``: lambda by
            cylinder; ``missed``: share of charges that do not burn. All ``None`` with the engine off.
    """

    plate_lift: Any
    plunger_lift: Any
    plate_gap: Any
    plate_drop: Any
    system: Any
    control: Any
    regulator: Any
    screw: Any
    pump_volts: Any
    pump_flow: Any
    pump_pressure: Any
    control_flow: Any
    returned: Any
    slit_open: Any
    slit_drop: Any
    valve_open: Any
    before_injector: Any
    fuel: Any
    plate_air: Any
    leak_air: Any
    air: Any
    manifold: Any = None
    speed: Any = None
    duty: Any = None
    mixture: Any = None
    whole: Any = None
    missed: Any = None


def inside(seen: Readout, situation: Situation) -> Inside:
    """The machine in *situation*: running, or with the pump alone and the plate at rest or held up."""
    return _running(seen, situation) if situation.running else _poured(seen, situation)


def _running(seen: Readout, situation: Situation) -> Inside:
    kind, cars, state = seen.kind, seen.cars, seen.running(situation)
    factor = drop_factor(cars, state.duty) if kind.oxygen_control else 1.0
    drop = plate_drop(kind.design, state.control) * with_drag(cars, situation.engine)
    density = dry_air_density(situation.outside, situation.intake)
    every = np.zeros(len(cars))
    return Inside(
        plate_lift=state.lift - cars["plate_height"] - cars["rest_stop"],
        plunger_lift=state.plunger,
        plate_gap=annulus(state.plate_air, density, drop),
        plate_drop=drop,
        system=state.system,
        control=state.control,
        regulator=bimetal_temperature(cars, situation) + every,
        **_supply(seen, situation, state),
        **_ports(seen, situation, state, factor, bare=False),
        plate_air=state.plate_air,
        leak_air=state.leak_air,
        air=state.air,
        manifold=state.manifold,
        speed=state.speed + every,
        duty=state.duty + every,
        mixture=state.mixture,
        whole=state.whole,
        missed=state.missed,
    )


def _poured(seen: Readout, situation: Situation) -> Inside:
    kind, cars, state = seen.kind, seen.cars, seen.pour(situation)
    turned = cars["screw_pitch"] * (cars["mixture_screw"] + situation.screw)
    lifted = kind.design.lever_ratio * (state.plunger - seen.screws.screw - turned) - cars["rest_stop"]
    none = np.zeros(len(cars))
    return Inside(
        plate_lift=none if situation.opening is None else lifted,
        plunger_lift=state.plunger,
        plate_gap=none,
        plate_drop=none,
        system=state.system,
        control=state.control,
        regulator=bimetal_temperature(cars, situation) + none,
        **_supply(seen, situation, state),
        **_ports(seen, situation, state, 1.0, bare=situation.lines),
        plate_air=none,
        leak_air=none,
        air=none,
    )


def _supply(seen: Readout, situation: Situation, state: Running | Poured) -> dict[str, Any]:
    """The way of the fuel to the distributor, and what goes back to the tank without being burnt."""
    cars = seen.cars
    flow = np.maximum(supplied(cars, free_flow(cars, situation), state.system)[0], 0.0)
    control = cars["feed_orifice"] * np.sqrt(np.maximum(state.system - state.control, 0.0))
    control = np.minimum(control, flow)
    return {
        "screw": cars["mixture_screw"] + situation.screw,
        "pump_volts": pump_voltage(cars, situation) * pump_runs(cars, situation),
        "pump_flow": flow,
        "pump_pressure": state.system + flow * cars["filter_resistance"],
        "control_flow": control,
        "returned": np.maximum(flow - control - state.fuel.sum(axis=0), 0.0),
    }


def _ports(
    seen: Readout, situation: Situation, state: Running | Poured, factor: Any, *, bare: bool
) -> dict[str, Any]:
    """The slits, the pressures over them and behind their lines."""
    cars, flow = seen.cars, state.fuel
    wanted = metered(cars, state.plunger, situation, factor) + cars["port_leak"]
    # a slit's flow goes with the root of its drop: what its valve cannot pass is drop it does not hold
    share = np.minimum(flow / np.maximum(wanted, NO_FLOW), 1.0)
    held = np.where(wanted > NO_FLOW, share * share, 1.0)
    behind = 0.0 if bare else cars["injector_opening"]
    ahead = 0.0 * flow if bare else np.minimum(behind + _lost(cars, "injector", flow), state.system)
    # What slit, line and injector would leave for the valve, passing all that the slit meters: its gap goes
    # with the flow over that root. Nothing left, and it stands wide open without holding its drop.
    losses = _lost(cars, "line", wanted) + (0.0 if bare else _lost(cars, "injector", wanted))
    left = state.system - cars["pressure_drop"] * factor - behind - losses
    opened = wanted / (VALVE_PASSES * np.sqrt(np.maximum(left, LEFT)))
    return {
        "slit_open": np.maximum(state.plunger - cars["slit_edge"], 0.0),
        "slit_drop": cars["pressure_drop"] * factor * held,
        "valve_open": np.minimum(opened, 1.0),
        "before_injector": ahead,
        "fuel": flow,
    }


def _lost(cars: Cars, part: str, flow: Any) -> Any:
    """Pressure that a line or an open injector takes at *flow* [m³/s], [Pa]."""
    return (flow / cars[f"{part}_restriction"]) ** 2
