"""What one would see inside the machine in a state: lifts, openings, pressures and flows, port by port."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.air_meter import annulus, plate_drop
from evenpour.machine.control import bimetal_temperature
from evenpour.machine.engine_off import Poured
from evenpour.machine.metering import metered
from evenpour.machine.oxygen_control import drop_factor
from evenpour.machine.readout import Readout
from evenpour.machine.running import Running
from evenpour.machine.situation import Situation
from evenpour.physics.air import dry_air_density

NO_FLOW = 1e-12  # m³/s, below which nothing is said to flow


@dataclass(frozen=True, slots=True)
class Inside:
    """A machine opened while it works. Shapes (cars,), or (cylinders, cars) where each has its own; SI.

    Attributes:
        plate_lift: Over its rest; ``plunger_lift``: over the height at which a right slit begins, [m].
        plate_gap: Open area round the plate, [m²]; ``plate_drop``: what the air loses there, [Pa].
        slit_open: Height of each slit that is free, [m]; ``slit_drop``: the pressure over it, [Pa].
        before_injector: Pressure at each injector's inlet, or at the end of a bare line, [Pa].
        fuel: Through each line or injector, by port, [m³/s].
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
    slit_open: Any
    slit_drop: Any
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
    drag = 1.0 - cars["lever_drag"] - cars["plunger_drag"] - 0.05 * cars["plate_off_centre"]
    drop = plate_drop(kind.design, state.control) * drag
    density = dry_air_density(situation.outside, situation.intake)
    every = np.zeros(len(cars))
    return Inside(
        plate_lift=state.lift,
        plunger_lift=state.plunger,
        plate_gap=annulus(state.plate_air, density, drop),
        plate_drop=drop,
        system=state.system,
        control=state.control,
        regulator=bimetal_temperature(cars, situation) + every,
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
    lifted = kind.design.lever_ratio * (state.plunger - seen.screws.screw - turned) - cars["plate_height"]
    none = np.zeros(len(cars))
    return Inside(
        plate_lift=none if situation.opening is None else lifted,
        plunger_lift=state.plunger,
        plate_gap=none,
        plate_drop=none,
        system=state.system,
        control=state.control,
        regulator=bimetal_temperature(cars, situation) + none,
        **_ports(seen, situation, state, 1.0, bare=situation.lines),
        plate_air=none,
        leak_air=none,
        air=none,
    )


def _ports(
    seen: Readout, situation: Situation, state: Running | Poured, factor: Any, *, bare: bool
) -> dict[str, Any]:
    """The slits, the pressures over them and behind their lines."""
    cars, flow = seen.cars, state.fuel
    through = np.maximum(flow - cars["port_leak"], 0.0)
    wanted = metered(cars, state.plunger, situation, factor)
    # a slit's flow goes with the root of its drop: what its valve cannot pass is drop it does not hold
    share = np.minimum(through / np.maximum(wanted, NO_FLOW), 1.0)
    held = np.where(wanted > NO_FLOW, share * share, 1.0)
    ahead = cars["injector_opening"] + (flow / cars["injector_restriction"]) ** 2
    return {
        "slit_open": np.maximum(state.plunger - cars["slit_edge"], 0.0),
        "slit_drop": cars["pressure_drop"] * factor * held,
        "before_injector": 0.0 * flow if bare else np.minimum(ahead, state.system),
        "fuel": flow,
    }
