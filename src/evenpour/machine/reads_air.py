"""What the checks of the intake's air read: leaks, caps and hoses, the idle air screw.

SI; margins in judgement widths.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from evenpour.machine.auxiliary_air import auxiliary_share
from evenpour.machine.design_point import GAS_CONSTANT, MANIFOLD_WARMER
from evenpour.machine.parameters import Cars
from evenpour.machine.readout import Altered, Query, Readout
from evenpour.machine.reads_running import SPEED_SEEN
from evenpour.machine.set_up import manifold_volume_flow
from evenpour.physics.air import R_AIR
from evenpour.physics.orifice import gas_flow

# Common practice, no source.
TEST_PRESSURE = 2.0e3  # Pa, smoke machine
SMOKE_SEEN = 0.4e-6  # m², effective opening whose smoke is seen: a hole of some 0.9 mm
SMOKE_STEP = 1.8  # judgement widths for e times the opening
BREATHER = 0.7  # of the idle air's opening, what the breather hose passes
IN_CRANKCASE = (
    0.5  # of the leaks into the common intake, those that come by the crankcase: cap, dipstick, seals
)
STUMBLE = 4.0 * SPEED_SEEN  # 1/s, a fall of speed that half of all people call one
MOST = 6.0  # judgement widths, beyond which nobody doubts
SCREW_STEP = 5.0  # judgement widths for the whole of the idle air screw's right opening


#: Where smoke comes out of one cylinder's own leak, and where out of what all cylinders breathe through.
RUNNER_PLACES = frozenset({"injector_seat", "runner_flange"})
COMMON_PLACES = frozenset(
    {
        "throttle_shaft", "throttle_flange", "boot", "cold_start_valve_flange", "auxiliary_air_hose",
        "servo_hose", "purge_hose", "breather_hose", "filler_cap", "dipstick", "key_hole",
    }
)  # fmt: skip
UNSEEN = 1e-3  # of an opening, what of it is taken for one at another place; common practice, no source


def intake_leak_flow(seen: Readout, query: Query) -> Any:
    """Air lost under a stated test pressure, [m³/s] at outside density."""
    situation = query.situation
    pressure = abs(query.number("test_pressure", TEST_PRESSURE))
    flow = gas_flow(
        _leaks(seen, query), situation.outside + pressure, situation.outside, situation.ambient_temperature
    )
    return flow * R_AIR * situation.ambient_temperature / situation.outside


def intake_smoke(seen: Readout, query: Query) -> Any:
    """Order: leaks, tight. By the largest single opening against what shows, of those at the place named."""
    common, runners = seen.cars["common_leak"], seen.cars["runner_leak"]
    where = query.word("where", "")
    if query.word("seats", "fitted") == "plugged" or where in COMMON_PLACES:
        runners = UNSEEN * runners
    elif where in RUNNER_PLACES:
        common = UNSEEN * common
    # the largest, its corner rounded
    largest = (common**8 + (runners**8).sum(axis=0)) ** 0.125
    return -SMOKE_STEP * np.log(largest / SMOKE_SEEN)


def _leaks(seen: Readout, query: Query) -> Any:
    runners = seen.cars["runner_leak"].sum(axis=0) if query.word("seats", "fitted") != "plugged" else 0.0
    return seen.cars["common_leak"] + runners


def filler_cap_response(seen: Readout, query: Query) -> Any:
    """Order: no change, stumbles. By the speed it costs that air comes in by the cap and the breather hose.

    Where the crankcase leaks already, the breather draws air all the time and the open cap adds less; where
    the mixture is rich, the air does it good.
    """
    return _fall(seen, query, _cap_off)


def auxiliary_air_pinch(seen: Readout, query: Query) -> Any:
    """Order: no change, drops. By the speed the pinched hose costs."""
    return _fall(seen, query, _pinched)


def _cap_off(seen: Readout) -> Cars:
    hose = BREATHER * seen.kind.design.idle_area
    leaking = IN_CRANKCASE * seen.cars["common_leak"]
    already = hose * leaking / np.hypot(hose, leaking)
    return _with(seen, "common_leak", seen.cars["common_leak"] + hose - already)


def _pinched(seen: Readout) -> Cars:
    return _with(seen, "auxiliary_opening", 0.0)


def _with(seen: Readout, parameter: str, value: Any) -> Cars:
    changed = seen.cars.copy()
    changed.values[changed.rows[parameter]] = value
    return changed


def _fall(seen: Readout, query: Query, altered: Altered) -> Any:
    """Margin by the fall of idle speed while something is altered."""
    after, before = seen.running(query.situation, altered), seen.running(query.situation)
    fall = before.speed - np.where(after.converged, after.speed, 0.0)
    return MOST * np.tanh(2.0 * (fall / STUMBLE - 1.0) / MOST)


def idle_adjustable(seen: Readout, query: Query) -> Any:
    """Order: too low, reaches, too high. By what the air screw would have to leave open for the right speed.

    As the engine burns now: from the work each mass of air does follows the air that holds the right speed,
    as in :func:`evenpour.machine.set_up.set_up`; what other ways let in is taken off.
    """
    situation = replace(query.situation, engine="idle_warm")
    state, cars, kind = seen.running(situation), seen.cars, seen.kind
    torque, speed, outside = kind.torque, kind.design.idle_speed, state.outside
    done = torque.friction(state.speed, cars["friction"]) + torque.pumping(state.speed) * (
        outside - state.manifold
    )
    per_air = np.where(state.converged, done / state.air, 0.0)
    gas = GAS_CONSTANT * (situation.ambient_temperature + MANIFOLD_WARMER)
    volume, pumped = manifold_volume_flow(kind.design, speed), torque.pumping(speed)
    manifold = torque.friction(speed, cars["friction"]) + pumped * outside
    manifold = np.minimum(manifold / (per_air * volume / gas + pumped), 0.97 * outside)
    leaks = cars["common_leak"] + cars["runner_leak"].sum(axis=0)
    needed = manifold * volume / gas / gas_flow(1.0, outside, manifold, situation.intake) - leaks
    screw = needed - cars["throttle_gap"] - cars["auxiliary_opening"] * auxiliary_share(cars, situation)
    return SCREW_STEP * (1.0 - screw / seen.screws.idle_area)
