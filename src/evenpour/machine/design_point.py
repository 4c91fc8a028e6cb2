"""What the engine was built for: geometry, loads and mixture of the kind, worked out from its sheet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from evenpour.machine.line_map import LineMap, line_map_of
from evenpour.machine.sheet import Sheet
from evenpour.measure.mixture import UNMIXED
from evenpour.physics.blend import blend, blend_density
from evenpour.physics.combustion import dry_shares
from evenpour.physics.orifice import choked_flow, slit_discharge

# Where a sheet is silent. Common practice, no source, unless said otherwise.
FALLBACK: Mapping[str, float] = {
    "plate_diameter": 0.080,
    "plunger_diameter": 0.010,
    "lever_ratio": 16.0,
    "funnel_angle": 22.0 / 360.0,
    "plate_lift_max": 0.062,
    "slit_width": 0.2e-3,
    "slit_pressure_drop": 1.0e4,
    "screw_start": 0.5,
    "screw_lift_per_turn": 0.07e-3,
    "idle_speed_nominal": 15.0,
    "fuel_reference_density": 745.0,
    "accumulator_volume": 20e-6,
    "pump_current": 7.0,
}
AIR_DISCHARGE = 0.7  # annulus round the plate; from memory, not verified
# Edges of a real slit are not ideally sharp: with this its coefficient is 0.667, which gives the flat six its
# 2.3 ml/s at 55 mm (worked out from the other values of the sheet).
SLIT_ROUNDING = 1.095
VISCOSITY = 0.6e-6  # m²/s, petrol at 20 degC; from memory, not verified
FILLING = 0.85  # charge drawn over charge at manifold conditions; common practice, no source
MANIFOLD_WARMER = 25.0  # K over the outside air; common practice, no source
IDLE_MANIFOLD = 0.36  # manifold pressure at warm idle over the outside; common practice, no source
# Where and on what a sheet's values are read: 200 m up, 20 degC, petrol with the usual share of ethanol.
REFERENCE_PRESSURE_ABS, REFERENCE_TEMPERATURE, REFERENCE_ETHANOL = 98945.0, 293.15, 0.05
GAS_CONSTANT = 287.05287  # J/(kg K), dry air
WIDE_OPEN = 0.97  # manifold over outside, throttle wide; common practice, no source
ROAD_SPEED = 46.7  # 1/s, 2,800 rpm: a steady road speed; common practice, no source
FAST_IDLE_SPEED = 41.7  # 1/s, 2,500 rpm
CRANK_SPEED = 3.3  # 1/s, 200 rpm


@dataclass(frozen=True, slots=True)
class DesignPoint:
    """One kind of engine. SI; lambda and shares as numbers.

    Attributes:
        start: Mixture screw back from the bare-line onset, turns; positive.
        openings: Plate lift over the bare-line onset of the named openings.
        idle_air, full_air: Air through the plate at warm idle and with the plate at its full opening, [kg/s].
        rest_below_edge: A right plate at rest under the funnel's narrowest edge;
            ``lever_play``: a right lever's.
        petrol_density: Of the petrol in the fuel, at 15 degC, [kg/m³]; ``fuel_density``: of the fuel at 20
            degC.
        line_map: Which cylinder each port of the fuel distributor feeds.
        mixture: Lambda the funnel was shaped for at idle, at half flow (in logarithm) and at full load.
    """

    cylinders: int
    line_map: LineMap
    displacement: float
    plate_diameter: float
    plunger_area: float
    lever_ratio: float
    funnel_tangent: float
    lift_max: float
    slit_width: float
    slit_drop: float
    start: float
    screw_pitch: float
    openings: Mapping[str, float]
    warm_pressure: float
    idle_speed: float
    idle_air: float
    full_air: float
    mixture: tuple[float, float, float]
    petrol_density: float
    fuel_density: float
    oxygen_control: bool
    rest_below_edge: float
    lever_play: float

    @property
    def plate_area(self) -> float:
        """Area of the sensor plate, [m²]."""
        return 0.25 * math.pi * self.plate_diameter**2

    @property
    def idle_area(self) -> float:
        """What is open past the throttle at a right warm idle, effective, [m²]; the flow is choked."""
        return self.idle_air / float(choked_flow(1.0, REFERENCE_PRESSURE_ABS, REFERENCE_TEMPERATURE))

    @property
    def rated_speed(self) -> float:
        """Speed at which full load asks for the plate's full opening, [1/s]."""
        density = (
            WIDE_OPEN * REFERENCE_PRESSURE_ABS / (GAS_CONSTANT * (REFERENCE_TEMPERATURE + MANIFOLD_WARMER))
        )
        return self.full_air / (0.5 * self.displacement * FILLING * density)


def middle(sheet: Sheet, check: str, fallback: float, *, among: Mapping[str, str] | None = None) -> float:
    """The middle of a sheet's limit of *check*, or *fallback*; *among*: choices its ``when`` must allow."""
    for limit in sheet.limits_for(check):
        if limit.low is None or limit.high is None:
            continue
        if among is None or all(
            name in limit.when and word in limit.when[name].choices for name, word in among.items()
        ):
            return 0.5 * (limit.low + limit.high)
    return fallback


def design_point(sheet: Sheet) -> DesignPoint:
    """The kind of engine that *sheet* describes; what it leaves out is taken from common practice."""

    def of(name: str) -> float:
        found = sheet.number(name)
        return FALLBACK[name] if found is None else found

    ratio, width, drop = of("lever_ratio"), of("slit_width"), of("slit_pressure_drop")
    start, pitch, displacement = of("screw_start"), of("screw_lift_per_turn"), of("displacement")
    openings = {name: of(f"opening_{name}") for name in ("idle", "part", "full")}
    speed = middle(sheet, "idle_speed", of("idle_speed_nominal"), among={"state": "idle_warm"})
    petrol = of("fuel_reference_density")
    fuel = blend(REFERENCE_ETHANOL, petrol)
    density = float(blend_density(fuel, REFERENCE_TEMPERATURE))
    mixture = (
        _mixture(sheet, "idle_warm", 0.96),
        middle(sheet, "exhaust_lambda", 1.0, among={"state": "fast_idle"}),
        _mixture(sheet, "full_load", 0.89),
    )
    jet = math.sqrt(2.0 * drop / density)
    sharp = float(slit_discharge(jet * 2.0 * width / VISCOSITY))
    full_flow = sheet.cylinders * SLIT_ROUNDING * sharp * width * (openings["full"] / ratio) * jet * density
    return DesignPoint(
        cylinders=sheet.cylinders,
        line_map=line_map_of(sheet),
        displacement=displacement,
        plate_diameter=of("plate_diameter"),
        plunger_area=0.25 * math.pi * of("plunger_diameter") ** 2,
        lever_ratio=ratio,
        funnel_tangent=math.tan(2.0 * math.pi * of("funnel_angle")),
        lift_max=of("plate_lift_max"),
        slit_width=width,
        slit_drop=drop,
        start=start,
        screw_pitch=pitch,
        openings=openings,
        warm_pressure=warm_pressure(sheet),
        idle_speed=speed,
        idle_air=0.5
        * FILLING
        * displacement
        * speed
        * IDLE_MANIFOLD
        * REFERENCE_PRESSURE_ABS
        / (GAS_CONSTANT * (REFERENCE_TEMPERATURE + MANIFOLD_WARMER)),
        full_air=full_flow * fuel.stoichiometric_afr * mixture[2],
        mixture=mixture,
        petrol_density=petrol,
        fuel_density=density,
        oxygen_control="oxygen_control" in sheet.devices,
        rest_below_edge=middle(sheet, "plate_rest_height", 0.5e-3),
        lever_play=middle(sheet, "lever_play", 1.5e-3),
    )


def _mixture(sheet: Sheet, state: str, fallback: float) -> float:
    """Lambda in the middle of what a sheet allows in a state: by its limit, else the monoxide's."""
    stated = middle(sheet, "exhaust_lambda", 0.0, among={"state": state})
    if stated:
        return stated
    wanted = middle(sheet, "exhaust_co", 0.0, among={"state": state})
    if not wanted:
        return fallback
    fuel = blend(REFERENCE_ETHANOL)
    lean, rich = 1.3, 0.6
    for _ in range(40):  # carbon monoxide falls with lambda throughout
        tried = 0.5 * (lean + rich)
        shown = dry_shares(tried, fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon, unmixed=UNMIXED)
        lean, rich = (lean, tried) if shown.co > wanted else (tried, rich)
    return 0.5 * (lean + rich)


def warm_pressure(sheet: Sheet) -> float:
    """Control pressure warm, with the vacuum of idle where there is a load diaphragm, [Pa]."""
    among = {"vacuum": "applied"} if "load_diaphragm" in sheet.devices else None
    return middle(sheet, "control_pressure_warm", 3.6e5, among=among)
