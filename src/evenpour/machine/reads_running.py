"""What the checks of the running engine read, from the model. SI; margins of choices in judgement widths."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from evenpour.machine.cold_start import primed
from evenpour.machine.holding import held
from evenpour.machine.readout import Query, Readout
from evenpour.machine.running import Running
from evenpour.physics.air import R_AIR
from evenpour.physics.heat import soak_temperature
from evenpour.physics.orifice import gas_flow
from evenpour.physics.vapour import true_vapour_pressure_abs

SPEED_SEEN = 12.0 / 60.0  # 1/s, a change of idle speed one hears or sees; common practice, no source
TEST_PRESSURE = 2.0e3  # Pa, smoke machine; common practice, no source
SMOKE_SEEN = 1.2e-6  # m², effective opening whose smoke is seen; common practice, no source
PORT_HEAT = 330.0  # K, an exhaust port at idle over the outside; common practice, no source
NUDGE = 0.2e-3  # m of plate lift that one feels before the engine answers; common practice, no source
REID = {"winter": 85e3, "between": 70e3, "summer": 58e3}  # Pa; from memory, not verified
BUBBLE = 0.25e5  # Pa, one judgement width of margin against boiling
FLOOD = 3e-6  # m³ of fuel in the intake that makes a hot start long; common practice, no source


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
    """[1/s]."""
    return seen.running(query.situation).speed


def manifold_vacuum(seen: Readout, query: Query) -> Any:
    """Below the outside."""
    state = seen.running(query.situation)
    return state.outside - state.manifold


def lambda_duty(seen: Readout, query: Query) -> Any:
    """Mean share of the frequency valve's time."""
    return seen.running(query.situation).duty


def lambda_loop(seen: Readout, query: Query) -> Any:
    """Whether the duty does what the sensor's lead is told to mean; order: does not, does."""
    situation = query.situation
    held_duty = seen.cars["held_duty"]
    silent = 8.0 * seen.cars["drive_silent"]
    if situation.sensor == "off":
        return 3.0 - silent
    if situation.sensor == "connected":
        duty = seen.running(situation).duty
        inside = np.minimum(duty - 0.08, 0.92 - duty) / 0.03
        return np.clip(inside, -3.0, 3.0) - 6.0 * seen.cars["sensor_dead"] - silent
    duty = seen.running(situation).duty
    moved = (duty - held_duty) * (1.0 if situation.sensor == "earthed" else -1.0)
    return 8.0 * (moved - 0.2) / 0.25 * 0.5 - silent


def cylinder_drop(seen: Readout, query: Query) -> Any:
    """Fall of idle speed with this cylinder's spark earthed, [1/s]."""
    return seen.running(query.situation).drop[(query.cylinder or 1) - 1]


def exhaust_port_temperature(seen: Readout, query: Query) -> Any:
    """[K]: burnt charge heats the port, a rich one less, a missed one not."""
    state = seen.running(query.situation)
    own = (query.cylinder or 1) - 1
    away = (state.mixture[own] - 1.0) / 0.45
    burnt = (1.0 - state.missed[own]) / (1.0 + away * away)
    late = 1.0 - 1.2 * seen.cars["timing"] * 360.0 / 100.0
    warmth = seen.of("port_warmth", query)
    return query.situation.ambient_temperature + PORT_HEAT * warmth * late * (0.25 + 0.75 * burnt)


def plug_look(seen: Readout, query: Query) -> Any:
    """Order: wet, sooty, good, white or dry. By the mixture it burnt, what it missed and what leaked on it."""
    state = seen.running(query.situation)
    own = (query.cylinder or 1) - 1
    mixture = 14.0 * (state.mixture[own] - 0.90)
    wet = 5.0 * np.minimum(state.missed[own], 0.6) * (state.mixture[own] < 1.25)
    leaked = 1.2 * np.log1p(seen.of("injector_leak", query) / (20.0 * seen.kind.centre["injector_leak"]))
    return (
        np.clip(mixture, -3.0, 4.0)
        - wet
        - leaked
        - 1.5 * np.maximum(seen.of("injector_spray", query) - 0.1, 0.0)
    )


def plate_lift_response(seen: Readout, query: Query) -> Any:
    """Order: worse, no change, better. By the speed the idle would take with the plate nudged richer."""
    state = seen.running(query.situation)
    design = seen.kind.design
    more = NUDGE / design.lever_ratio / np.maximum(state.plunger, 2e-5)
    torque = seen.kind.torque
    mean = state.mixture.mean(axis=0)
    change = _work(mean / (1.0 + more)) - _work(mean)
    steep = torque.friction_slope(state.speed, seen.cars["friction"]) + torque.pumping(1.0) * state.outside
    return change * torque.specific * state.air * 0.7 / steep / SPEED_SEEN


def _work(mixture: Any) -> Any:
    from evenpour.machine.torque import charge_work, missed  # noqa: PLC0415

    return charge_work(mixture) * (1.0 - missed(mixture, 0.0, 0.03, 1.0, 0.0))


def filler_cap_response(seen: Readout, query: Query) -> Any:
    """Order: no change, stumbles. The cap lets in air past the plate; an engine that has a leak feels it less."""
    state = seen.running(query.situation)
    usual = 0.25 * seen.kind.design.idle_air
    share = usual / (usual + 3.0 * state.leak_air)
    return 5.0 * (share - 0.55)


def auxiliary_air_pinch(seen: Readout, query: Query) -> Any:
    """Order: no change, drops. By the speed the pinched hose costs."""
    situation = query.situation
    cars = seen.cars.copy()
    cars.values[seen.cars.rows["auxiliary_opening"]] = 0.0
    pinched = Readout(seen.kind, cars, seen.screws).running(situation).speed
    fall = seen.running(situation).speed - pinched
    return 2.0 * (fall / (4.0 * SPEED_SEEN) - 1.0)


def idle_adjustable(seen: Readout, query: Query) -> Any:
    """Order: too low, reaches, too high. By what the air screw would have to leave open for the right speed."""
    state = seen.running(query.situation)
    ratio = state.speed / seen.kind.design.idle_speed
    return 9.0 * np.log(np.maximum(ratio, 0.05)) - 0.0


def intake_leak_flow(seen: Readout, query: Query) -> Any:
    """Air lost under a stated test pressure, [m³/s] at outside density."""
    leaks = _leaks(seen, query)
    outside = query.situation.outside
    pressure = query.number("test_pressure", TEST_PRESSURE)
    flow = gas_flow(leaks, outside + abs(pressure), outside, query.situation.ambient_temperature)
    return flow * R_AIR * query.situation.ambient_temperature / outside


def intake_smoke(seen: Readout, query: Query) -> Any:
    """Order: leaks, tight. By the largest single opening against what shows."""
    common = seen.cars["common_leak"]
    runner = (
        seen.cars["runner_leak"].max(axis=0) if query.word("seats", "fitted") != "plugged" else 0.0 * common
    )
    return -1.8 * np.log((np.maximum(common, runner) + 1e-9) / SMOKE_SEEN)


def _leaks(seen: Readout, query: Query) -> Any:
    runners = seen.cars["runner_leak"].sum(axis=0) if query.word("seats", "fitted") != "plugged" else 0.0
    return seen.cars["common_leak"] + runners


def start_outcome(seen: Readout, query: Query) -> Any:
    """Order: no fire, fires and dies, runs rough, hunts, runs. By spark, fuel, mixture and what keeps it turning."""
    cold = query.situation.engine != "idle_warm"
    state = seen.running(query.situation)
    cars = seen.cars
    fires = (1.0 - state.missed).mean(axis=0)
    primed_by = primed(cars, query.situation.ambient_temperature) if cold else 1.0
    volatile = 1.0 - 0.8 * cars["staleness"] - 0.7 * cars["fuel_water"]
    supplied = state.system / seen.kind.centre["system_setting"]
    catches = 6.0 * (fires - 0.75) + 1.6 * np.log(np.maximum(primed_by * volatile, 0.02)) * cold
    catches = catches + 6.0 * np.minimum(supplied - 0.8, 0.0) / 0.4
    keeps = 5.0 * np.log(np.maximum(state.speed / seen.kind.design.idle_speed, 0.02))
    uneven = 12.0 * (state.missed.max(axis=0) - 0.05)
    return 2.6 + np.minimum(catches - 1.0, 0.0) + np.minimum(keeps + 1.2, 0.0) - np.clip(uneven, 0.0, 2.2)


def hot_restart(seen: Readout, query: Query) -> Any:
    """Order: no start, long crank, starts. By the held pressure against boiling, and by fuel that leaked in."""
    soak = query.number("soak", 1200.0)
    ambient = query.situation.ambient_temperature
    left = held(seen.cars, soak, query.word("blocked", "none"))
    season = REID[query.word("fuel_grade", "between")] * seen.cars["volatility"]
    hot = np.minimum(soak_temperature(soak, ambient), 358.0)
    margin = (left + query.situation.outside - _boils(season, hot)) / BUBBLE
    leaks = seen.cars["injector_leak"].sum(axis=0) + seen.cars["cold_start_leak"] / np.sqrt(2e5)
    flooded = leaks * 2.0e5 * np.minimum(soak, 600.0) / FLOOD
    return 2.2 + np.minimum(margin - 1.0, 0.0) * 0.6 - np.clip(1.5 * np.log1p(flooded) - 1.2, 0.0, 4.0)


def _boils(reid: Any, temperature: Any) -> Any:
    return true_vapour_pressure_abs(np.clip(reid, 20e3, 100e3), temperature)


def warm_idle(query: Query) -> Query:
    """The same query on a warm idle."""
    return replace(query, situation=replace(query.situation, engine="idle_warm"))


def mean_mixture(state: Running) -> Any:
    """Mean lambda of the cylinders."""
    return state.mixture.mean(axis=0)
