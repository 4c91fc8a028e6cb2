"""What the checks of the running engine read, from the model. SI; margins of choices in judgement widths."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenpour.machine.readout import Query, Readout
from evenpour.machine.running import DROP_CORNER
from evenpour.machine.smooth import lesser, positive, step
from evenpour.machine.torque import charge_work, missed

# Common practice, no source, unless said otherwise.
SPEED_SEEN = 12.0 / 60.0  # 1/s, a change of idle speed one hears or sees
# K, an exhaust port over the outside, all right, by what the engine does.
PORT_HEAT = {
    "idle_cold": 280.0,
    "idle_warm": 330.0,
    "fast_idle": 400.0,
    "road_steady": 480.0,
    "full_load": 600.0,
}
PORT_WIDTH = 0.45  # of lambda, about 1, at which a port takes half the heat; from memory, not verified
UNBURNT_HEAT = 0.25  # of a port's heat that comes from its neighbours
LATE_HEATS = 1.2 * 3.6  # 1/turn: 1.2 % for each degree late; from memory, not verified
NUDGE = 0.2e-3  # m of plate lift, from which a person feels the engine answer
# Judgement widths of a plug: for each unit of lambda, about the mixture at which it looks half sooty, half
# good; how much cleaner a plug is cut at load; for each share of charges missed; for a leak of ten times the
# usual; strings.
SOOT, SOOTY_MIXTURE, CUT_CLEANER, WET, DRIPS, STRINGS = 14.0, 0.90, 3.0, 5.0, 1.2, 1.5
# The same of a plug after cranking without a spark that lit anything: dry; what a right start's fuel takes of
# that; lambda from which on it is wet, half of what such an engine gets, and a width of it. Common practice,
# no source.
DRY, SOAKED, WETS_FROM, WETS_WIDTH = 2.2, 7.0, 0.8, 0.12
TOO_LEAN_TO_WET, LEAN_WIDTH = 1.12, 0.03  # lambda beyond which missed charges leave a plug dry


def exhaust_lambda(seen: Readout, query: Query) -> Any:
    """As a wideband sensor shows it: all oxygen against all fuel."""
    return seen.gas(query.situation).mixture


def exhaust_co(seen: Readout, query: Query) -> Any:
    """Dry share."""
    return seen.gas(query.situation).co


def exhaust_co2(seen: Readout, query: Query) -> Any:
    """Dry share."""
    return seen.gas(query.situation).co2


def exhaust_o2(seen: Readout, query: Query) -> Any:
    """Dry share."""
    return seen.gas(query.situation).o2


def exhaust_hc(seen: Readout, query: Query) -> Any:
    """Dry share, as hexane."""
    return seen.gas(query.situation).hc


def idle_speed(seen: Readout, query: Query) -> Any:
    """[1/s]; an engine that finds no balance stalls."""
    state = seen.running(query.situation)
    return np.where(state.converged, state.speed, 0.0)


def manifold_vacuum(seen: Readout, query: Query) -> Any:
    """Below the outside."""
    state = seen.running(query.situation)
    return state.outside - state.manifold


def lambda_duty(seen: Readout, query: Query) -> Any:
    """Mean share of the frequency valve's time; a control unit that gives no drive shows none."""
    return seen.running(query.situation).duty * (1.0 - seen.cars["drive_missing"])


def lambda_loop(seen: Readout, query: Query) -> Any:
    """Whether the duty does what the sensor's lead is told to mean; order: does not, does."""
    situation, cars = query.situation, seen.cars
    silent = 8.0 * cars["drive_silent"]
    if situation.sensor == "off":
        return 3.0 - silent
    duty = seen.running(situation).duty
    if situation.sensor == "connected":
        inside = lesser(duty - 0.08, 0.92 - duty, 0.02) / 0.03
        stuck = np.maximum(cars["full_load_switch"], 0.0)
        return 3.0 * np.tanh(inside / 3.0) - 6.0 * (cars["sensor_dead"] + stuck) - silent
    moved = (duty - cars["held_duty"]) * (1.0 if situation.sensor == "earthed" else -1.0)
    return 16.0 * (moved - 0.2) - silent


def cylinder_drop(seen: Readout, query: Query) -> Any:
    """Fall of idle speed with this cylinder's spark earthed, [1/s]: no further than to standing still."""
    state = seen.running(query.situation)
    return lesser(seen.cars["drop_scale"] * state.drop[_own(query)], state.speed, DROP_CORNER)


def exhaust_port_temperature(seen: Readout, query: Query) -> Any:
    """[K]: burnt charge heats the port, a rich or lean one less, a missed one not; late timing more."""
    state, own = seen.running(query.situation), _own(query)
    away = (state.mixture[own] - 1.0) / PORT_WIDTH
    burnt = (1.0 - state.missed[own]) / (1.0 + away * away)
    late = 1.0 - LATE_HEATS * seen.cars["timing"]
    heat = PORT_HEAT[query.situation.engine] * seen.of("port_warmth", query) * late
    return query.situation.ambient_temperature + heat * (UNBURNT_HEAT + (1.0 - UNBURNT_HEAT) * burnt)


def plug_look(seen: Readout, query: Query) -> Any:
    """Order: wet, sooty, good, white. By the mixture it burnt, what it missed and what leaked on it.

    One that has only idled looks sooty whatever the mixture; one cut at load is burnt clean, of what a shut
    injector drips on it as well, if it fires at all. After cranking in vain it tells whether fuel came.
    """
    if query.situation.engine == "cranking":
        return _plug_after_cranking(seen, query)
    state, own = seen.running(query.situation), _own(query)
    mixture = state.mixture[own]
    pulled = query.situation.engine == "full_load"
    colour = SOOT * (mixture - SOOTY_MIXTURE) + CUT_CLEANER * pulled * (1.0 - state.missed[own])
    wet = WET * lesser(state.missed[own], 0.6, 0.02) * step((TOO_LEAN_TO_WET - mixture) / LEAN_WIDTH)
    usual = seen.kind.centre["injector_leak"]
    dripped = 0.0 if pulled else DRIPS * np.log1p(seen.of("injector_leak", query) / (20.0 * usual))
    strings = STRINGS * positive(seen.of("injector_spray", query) - 0.1, 0.02)
    return 4.0 - positive(4.0 - colour, 0.1) - wet - dripped - strings


def _plug_after_cranking(seen: Readout, query: Query) -> Any:
    """The same of an engine that did not fire, whatever kept it from that: what came lies on the plug."""
    state, own = seen.running(query.situation), _own(query)
    whole = state.mixture[own] * (1.0 - state.wet)  # all air over all fuel, whether it evaporated or not
    return DRY - SOAKED * step((WETS_FROM - whole) / WETS_WIDTH)


def plate_lift_response(seen: Readout, query: Query) -> Any:
    """Order: worse, no change, better. By the speed the idle would take with the plate nudged richer."""
    state, torque = seen.running(query.situation), seen.kind.torque
    more = NUDGE / seen.kind.design.lever_ratio / positive(state.plunger, 2e-5)
    change = (_worth(state.mixture / (1.0 + more)) - _worth(state.mixture)).mean(axis=0)
    late = torque.timing_share(state.timing)
    steep = torque.friction_slope(state.speed, seen.cars["friction"]) + torque.pumping(1.0) * state.outside
    return change * torque.specific * state.air * late / steep / SPEED_SEEN


def _worth(mixture: Any) -> Any:
    return charge_work(mixture) * (1.0 - missed(mixture, 0.0, 0.0, 1.0, 0.0))


def _own(query: Query) -> int:
    return (query.cylinder or 1) - 1
