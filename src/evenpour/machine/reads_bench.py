"""What the bench checks read: injectors, cold-start parts, plate, plunger, ports.

SI; margins in judgement widths.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.auxiliary_air import heated, opening
from evenpour.machine.cold_start import closed_time, switch_margin
from evenpour.machine.engine_off import SEEN_BARE, onset, rest_lift
from evenpour.machine.ohmmeter import shown_ohms
from evenpour.machine.readout import Query, Readout
from evenpour.machine.smooth import positive
from evenpour.physics.electric import COPPER_COEFFICIENT, HEATER_COEFFICIENT, warmed_resistance

DRIP = 0.05e-6 / 15.0  # m³/s, one drop in a quarter of a minute
BELOW = 0.4e5  # Pa below the opening pressure at which an injector is watched for drips
SPRAY_SEEN = 1.5  # s of spray while cranking that one sees for what it is; common practice, no source
CLEAN_OIL = 4.5  # margin of oil that nobody smells fuel in, but by a slip
SMELT = 0.1  # of the idle fuel from the oil, that half of all noses smell; common practice, no source
PUMPED = 5.5e5  # Pa, to which an injector is pumped by hand, above what it gets; from memory, not verified
PLAY_CORNER = 0.1e-3  # m, what is left between parts that touch


def injector_opening_pressure(seen: Readout, query: Query) -> Any:
    """On the hand pump."""
    return seen.of("injector_opening", query)


def injector_drip(seen: Readout, query: Query) -> Any:
    """Order: drips, dry. By the leak just below the opening pressure against what makes a drop."""
    flow = seen.of("injector_leak", query) * np.maximum(seen.of("injector_opening", query) - BELOW, 1e4)
    return -1.6 * np.log(flow / DRIP)


def injector_spray(seen: Readout, query: Query) -> Any:
    """Order: none, jet or strings, streaky, even. What opens above what is pumped for it gives nothing."""
    shut = np.maximum(seen.of("injector_opening", query) / PUMPED - 1.0, 0.0)
    passes = seen.of("injector_restriction", query) / seen.kind.centre["injector_restriction"]
    dirt = 1.4 * np.maximum(-np.log(passes) - 0.7, 0.0)
    return 3.3 - 6.0 * seen.of("injector_spray", query) - 30.0 * shut - dirt


def cold_start_valve_resistance(seen: Readout, query: Query) -> Any:
    """A copper winding."""
    there = warmed_resistance(
        seen.cars["cold_start_coil"], query.number("temperature", 293.15), COPPER_COEFFICIENT
    )
    return shown_ohms(there)


def cold_start_valve_drip(seen: Readout, query: Query) -> Any:
    """Order: drips, dry."""
    flow = seen.cars["cold_start_leak"] * np.sqrt(4.5e5)
    return 4.2 - 2.24 * np.log1p(flow / (0.25 * DRIP))


def cold_start_valve_spray(seen: Readout, query: Query) -> Any:
    """Order: none, sprays. Fed directly, or by its switch where the engine is cranked."""
    sprays = seen.cars["cold_start_flow"]
    if query.situation.engine == "cranking":
        air = query.number("temperature", query.situation.ambient_temperature)
        sprays = sprays * np.tanh(closed_time(seen.cars, air) / SPRAY_SEEN)
    return 5.6 * np.tanh(2.0 * (sprays - 0.45))


def thermo_time_switch(seen: Readout, query: Query) -> Any:
    """Order: open, closed."""
    return switch_margin(seen.cars, query.number("temperature", query.situation.ambient_temperature))


def auxiliary_air(seen: Readout, query: Query) -> Any:
    """How far open it is seen to be; order: shut, half, open."""
    ambient = query.number("temperature", query.situation.ambient_temperature)
    plugged = (
        query.word("heater", "plugged" if query.number("after", 0.0) >= 60.0 else "unplugged") == "plugged"
    )
    time = query.number("after", 0.0) if plugged else 0.0
    warm = heated(seen.cars, ambient, query.number("voltage", 12.0), time)
    return 10.0 * opening(seen.cars, warm)


def auxiliary_air_resistance(seen: Readout, query: Query) -> Any:
    """Resistance wire."""
    there = warmed_resistance(
        seen.cars["auxiliary_heater"], query.number("temperature", 293.15), HEATER_COEFFICIENT
    )
    return shown_ohms(there)


def plate_rest_height(seen: Readout, query: Query) -> Any:
    """Below the funnel's narrowest edge; a plate set too high on its lever stands nearer to it."""
    return seen.kind.design.rest_below_edge - seen.cars["plate_height"] - seen.cars["rest_stop"]


def plate_travel(seen: Readout, query: Query) -> Any:
    """Order: binds, free."""
    return 4.5 - 12.6 * seen.cars["plate_off_centre"]


def plate_drag(seen: Readout, query: Query) -> Any:
    """Order: stiff, even. Which way is not told apart here: a stiff plunger shows lifting only."""
    return (
        3.0
        - 45.0 * (seen.cars["plunger_drag"] + seen.cars["plunger_felt"])
        - 16.0 * seen.cars["lever_drag"]
        - 3.0 * seen.cars["plate_off_centre"]
    )


def plunger_return(seen: Readout, query: Query) -> Any:
    """Order: sticks, hesitates, falls."""
    return 3.0 - 40.0 * (seen.cars["plunger_drag"] + seen.cars["plunger_felt"])


def lever_play(seen: Readout, query: Query) -> Any:
    """At the plate's edge, before the plunger is met: what the screw's lift leaves of it."""
    design = seen.kind.design
    usual = design.start * design.screw_pitch
    higher = rest_lift(seen.kind, seen.cars, seen.screws, query.situation) + usual
    return positive(design.lever_play - design.lever_ratio * higher, PLAY_CORNER)


def rest_delivery(seen: Readout, query: Query) -> Any:
    """Order: drips, dry. Plate at rest, pressure on."""
    flow = seen.pour(query.situation).fuel[(query.cylinder or 1) - 1]
    return -1.6 * np.log((flow + 1e-12) / SEEN_BARE)


def fuel_wet_meter(seen: Readout, query: Query) -> Any:
    """Order: wet, dry."""
    return 4.2 - 11.2 * seen.cars["barrel_leak"] / seen.kind.centre["plunger_slip"]


def screw_onset(seen: Readout, query: Query) -> Any:
    """Turns from the present position, clockwise."""
    return onset(seen.kind, seen.cars, seen.screws, query.situation)


def catch(seen: Readout, query: Query) -> Any:
    """Fuel caught at one port, [m³], in the time stated; a minute if none is."""
    feeds = seen.kind.design.line_map.cylinder(query.cylinder or 1)
    return seen.pour(query.situation).fuel[feeds - 1] * query.number("duration", 60.0)


def line_crossed(seen: Readout, query: Query) -> Any:
    """Order: crossed, right."""
    return 4.5 - 9.0 * seen.cars["crossed"]


def oil_smell(seen: Readout, query: Query) -> Any:
    """Order: fuel, clean."""
    return CLEAN_OIL * (1.0 - seen.cars["crankcase_fuel"] / SMELT - seen.cars["oil_fuel"])


def frequency_valve_resistance(seen: Readout, query: Query) -> Any:
    """A copper winding."""
    there = warmed_resistance(
        seen.cars["frequency_coil"], query.number("temperature", 293.15), COPPER_COEFFICIENT
    )
    return shown_ohms(there)


def frequency_valve_hum(seen: Readout, query: Query) -> Any:
    """Order: silent, hums."""
    return 3.2 - 6.4 * seen.cars["drive_silent"]
