"""In which circumstances a car stands when something is read on it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

from evenpour.physics.air import standard_pressure
from evenpour.physics.blend import Blend, blend, blend_density

Engine = Literal["off", "cranking", "idle_cold", "idle_warm", "fast_idle", "road_steady", "full_load"]

WARM_BAY = 8.0  # K, intake air of a warm engine over the outside; common practice, no source
COLD_IDLE_TIME = (
    20.0  # s after the start at which a cold idle is read, where nobody says; common practice, no source
)


@dataclass(frozen=True)
class Situation:
    """Circumstances of one reading. SI; gauge pressures; plain numbers, so that it can be looked up by.

    Attributes:
        fuel: Share of ethanol by volume.
        pump_voltage: At the pump's terminals; ``None``: what wiring and battery leave there.
        regulator_temperature: Of the control-pressure regulator's body; ``None``: the air around.
        heater_time: How long the regulator's heater has had current, [s]; 0 where it is unplugged.
        heater_voltage, heater_fed: At the feed of its plug, [V], or, fed past its own lead, at the heater.
        vacuum: On the regulator's load diaphragm, below the outside; ``None``: what the state gives.
        screw: Turns of the mixture screw since it was last where the car's parameters say, clockwise
            positive.
        ran: Time since a cold start, [s], at a cold idle.
        speed: Of the engine in states in which somebody else decides on it, [1/s]; ``None``: the usual one.
        opening: How far the plate is held up over the bare-line onset, engine off; ``None``: at rest.
        at_stop: Whether that is against the plate's stop, so that nobody has to hold or to measure it.
        lines: Whether the lines end open; else they end in their injectors.
        line_at, injector_at: Whose line and whose injector serve cylinder 1, 2, ..., counted from 0; empty:
            each its own.
        sensor: What the oxygen sensor is connected to: ``connected``, ``off``, ``earthed`` or ``fed``.
        breather: Whether the crankcase breather is connected.
        hose: Whether the ignition's vacuum hose is.
        air_pump: Whether an air pump of the exhaust, where one is fitted, can blow.
        intake_temperature: Of the air at the plate, [K]; ``None``: by the air outside and the state.
    """

    engine: Engine = "off"
    ambient_temperature: Any = 293.15
    altitude: Any = 200.0
    fuel: float = 0.05
    fuel_density: float = 745.0  # kg/m³ at 15 degC, of the petrol in it
    pump_voltage: Any = None
    regulator_temperature: Any = None
    heater_time: Any = 0.0
    heater_voltage: Any = 12.0
    heater_fed: bool = False
    vacuum: Any = None
    screw: Any = 0.0
    ran: Any = COLD_IDLE_TIME
    speed: Any = None
    opening: Any = None
    at_stop: bool = False
    lines: bool = False
    line_at: tuple[int, ...] = ()
    injector_at: tuple[int, ...] = ()
    sensor: str = "connected"
    breather: bool = True
    hose: bool = True
    air_pump: bool = True
    intake_temperature: Any = None

    @cached_property
    def outside(self) -> Any:
        """Pressure of the air outside, absolute, [Pa]."""
        return standard_pressure(self.altitude)

    @cached_property
    def blend(self) -> Blend:
        """The fuel."""
        return blend(self.fuel, self.fuel_density)

    @cached_property
    def density(self) -> Any:
        """Density of the fuel, [kg/m³]."""
        return blend_density(self.blend, self.ambient_temperature)

    @property
    def running(self) -> bool:
        """Whether the engine turns by itself."""
        return self.engine not in ("off", "cranking")

    @property
    def warm(self) -> bool:
        """Whether engine and regulator are at working temperature."""
        return self.running and self.engine != "idle_cold"

    @cached_property
    def intake(self) -> Any:
        """Temperature of the air at the plate, [K]."""
        if self.intake_temperature is not None:
            return self.intake_temperature
        return self.ambient_temperature + (WARM_BAY if self.warm else 0.0)
