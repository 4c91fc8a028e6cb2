"""Invented cars' traces with known answers: leaks, warm-ups and drives, read by sensors that stray in waves
and gauges that show steps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.job.engine_model import kind_of_sheet
from evenpour.job.sheet.found import find_sheet
from evenpour.machine.design_point import GAS_CONSTANT, MANIFOLD_WARMER
from evenpour.machine.mixture_curve import driven_manifold, mixture_curve, most_air
from evenpour.machine.set_up import manifold_volume_flow, set_up
from evenpour.machine.situation import Situation
from evenpour.physics.leakage import pressure_after, time_to_reach
from evenpour.physics.orifice import gas_flow
from evenpour.tune.holding_trace import holding_fit
from evenpour.tune.running_trace import plain_shapes, running_fit
from evenpour.tune.steady import steady_stretches
from evenpour.tune.warm_up_trace import rise_fit

Array = NDArray[np.float64]
Random = np.random.Generator

BAR = 1e5
STEPS = (0.0, 0.0, 100.0, 1000.0, 2500.0, 5000.0)  # Pa, of the gauge
WAVES = (0.0, 0.0, 2.0, 10.0)  # s, over which noise hangs together
JUMPY = (0.0, 0.3, 0.7)  # share of its variance that does not


@dataclass(frozen=True)
class Trace:
    """What was logged, and what is true."""

    time: Array
    value: Array
    truth: dict[str, float]
    law: str


def sensed(time: Array, true: Array, random: Random, waves: tuple[float, ...] = WAVES) -> Array:
    """Read by an invented sensor: noise of 0.002 to 0.04 bar, in waves or not, shown in steps or not."""
    sd = 10.0 ** random.uniform(2.3, 3.6)
    wave, jumpy = float(random.choice(waves)), float(random.choice(JUMPY))
    noise = random.standard_normal(time.size)
    if wave:
        kept = np.exp(-np.diff(time) / wave)
        slow = np.empty(time.size)
        slow[0] = random.standard_normal()
        fresh = random.standard_normal(time.size - 1) * np.sqrt(1.0 - kept**2)
        for one in range(time.size - 1):
            slow[one + 1] = kept[one] * slow[one] + fresh[one]
        noise = np.sqrt(jumpy) * noise + np.sqrt(1.0 - jumpy) * slow
    step = float(random.choice(STEPS))
    read = true + sd * noise
    return np.round(read / step) * step if step else read


def holding(random: Random) -> Trace:
    """Through a hole, a gap, or both; ten to thirty minutes, read five times a second or twice a minute."""
    lasts, spacing = random.choice([600.0, 1200.0, 1800.0]), random.choice([0.2, 1.0, 5.0, 30.0])
    time = np.arange(0.0, lasts + 1e-9, spacing)
    start, fall = random.uniform(2.0, 2.9) * BAR, random.uniform(0.1, 1.6) * BAR
    law = str(random.choice(["orifice", "laminar", "both"]))
    share = {"orifice": 1.0, "laminar": 0.0, "both": random.uniform()}[law]
    rate = fall / lasts * random.uniform(0.8, 1.4)  # at 2 bar
    hole, gap = share * rate / np.sqrt(2.0 * BAR), (1.0 - share) * rate / (2.0 * BAR)
    true = pressure_after(start, time, 1.0, hole, gap)
    truth = {"hole": hole, "gap": gap, "to_limit": float(time_to_reach(start, 1.6 * BAR, 1.0, hole, gap))}
    return Trace(time, sensed(time, true, random, (*WAVES, 40.0)), truth, law)


def warm_up(random: Random) -> Trace:
    """One time constant, two, or a climb cut off; four to ten minutes; half of them with the heater switched
    on late. All go on until nine tenths are done, and until the knee.
    """
    while True:
        lasts, spacing = random.choice([240.0, 360.0, 600.0]), random.choice([0.1, 1.0, 5.0, 10.0])
        time = np.arange(0.0, lasts + 1e-9, spacing)
        start, plateau = random.uniform(0.5, 2.2) * BAR, random.uniform(3.2, 3.9) * BAR
        on = float(random.choice([0.0, random.uniform(0.08, 0.2) * lasts]))
        way = float(np.exp(random.uniform(np.log(20.0), np.log(120.0))))  # 63 % are done
        law = str(random.choice(["one", "two", "cut_off"]))
        done = _done(law, np.maximum(time - on, 0.0), way, random)
        if done[-1] > (0.999 if law == "cut_off" else 0.9):
            break
    true = start + (plateau - start) * done
    truth = {"start": start, "plateau": plateau, "time_constant": way, "on": on}
    return Trace(time, sensed(time, true, random), truth, law)


def _done(law: str, after: Array, way: float, random: Random) -> Array:
    left = np.exp(-1.0)
    if law == "one":
        return 1.0 - np.exp(-after / way)
    if law == "cut_off":
        reach = random.uniform(0.05, 0.98)
        constant = -way / np.log1p(-(1.0 - left) * reach)
        return np.minimum((1.0 - np.exp(-after / constant)) / reach, 1.0)
    share, apart = random.uniform(0.1, 0.9), np.exp(random.uniform(np.log(2.0), np.log(12.0)))
    over = np.linspace(1.0, apart, 20_001)
    still = (1.0 - share) * np.exp(-over) + share * np.exp(-over / apart)
    quick = way / over[int(np.argmin(np.abs(still - left)))]
    return 1.0 - (1.0 - share) * np.exp(-after / quick) - share * np.exp(-after / (quick * apart))


def known(figure: Any, truth: float) -> bool:
    """Whether a figure's 95 % holds the truth."""
    slack = 1e-9 * max(1.0, abs(truth))
    return bool(figure.low - slack <= truth <= figure.high + slack)


@dataclass(frozen=True)
class Drive:
    """A drive as logged, and what was wrong with the car."""

    time: Array
    lambda_: Array
    air_flow: Array
    vacuum: Array
    truth: dict[str, float]
    least: float  # air flow, without noise


def drive(random: Random) -> Drive:
    """Ten to twenty minutes, ten times a second: idle, and held speeds and loads with pulls in between."""
    lasts = float(random.uniform(600.0, 1200.0))
    time = np.arange(0.0, lasts, 0.1)
    speed, vacuum = np.full(time.size, 900.0), np.full(time.size, 0.33)
    at = float(random.uniform(30.0, 90.0))
    while at < lasts - 60.0:
        holds = float(random.uniform(4.0, 25.0))
        here = (time >= at) & (time < at + holds)
        speed[here], vacuum[here] = random.uniform(1200.0, 4000.0), random.uniform(0.3, 0.97)
        at += holds
    speed, vacuum = _eased(speed), _eased(vacuum)
    air = 1.2e-5 * speed * vacuum / 0.33 * 0.29  # kg/s; about 3.1 g/s at idle
    effects = {name: float(random.normal(0.0, size)) for name, size in SIZES.items()}
    effects["leak"] = abs(effects["leak"])
    least = float(np.min(air))
    through = np.asarray(gas_flow(1.0, 1.0, np.minimum(vacuum, 1.0), 1.0) / gas_flow(1.0, 1.0, 0.0, 1.0))
    richer = effects["everywhere"] + least / air * (effects["screw"] - effects["leak"] * through)
    uneven = (
        random.uniform(0.0, 0.01) * np.repeat(random.standard_normal(time.size // 80 + 1), 80)[: time.size]
    )
    noise = random.uniform(0.002, 0.015) * random.standard_normal(time.size)
    read = np.round((1.0 / (1.0 + richer) + uneven + noise) / 0.001) * 0.001
    return Drive(time, read, air * (1.0 + 0.003 * random.standard_normal(time.size)), vacuum, effects, least)


SIZES = {"everywhere": 0.06, "screw": 0.1, "leak": 0.05}


def _eased(values: Array) -> Array:
    """Changes over a second or so, as a car's do."""
    return np.convolve(np.pad(values, (14, 0), "edge"), np.full(15, 1.0 / 15.0), "valid")


@dataclass(frozen=True)
class Outcome:
    """Which stated 95 % hold the truth, and how the law came out."""

    held: dict[str, bool]
    stated: float | None
    right: bool
    stepped: bool


KINDS = ("holding", "warm_up", "running")


def tried(kind: str, random: Random) -> Outcome:
    """Draw one car, log it, fit it, and look."""
    return {"holding": _holding_tried, "warm_up": _warm_up_tried, "running": _running_tried}[kind](random)


def _holding_tried(random: Random) -> Outcome:
    trace = holding(random)
    fit = holding_fit(trace.time, trace.value)
    hole = trace.truth["hole"] * np.sqrt(fit.reference)
    rate = hole + trace.truth["gap"] * fit.reference
    held = {
        "rate": known(fit.rate, rate),
        "orifice share": known(fit.orifice_share, hole / rate),
        "time to limit": known(fit.time_to(1.6 * BAR), trace.truth["to_limit"]),
    }
    return Outcome(held, fit.probabilities[fit.law], fit.law == trace.law, fit.points.stepped)


def _warm_up_tried(random: Random) -> Outcome:
    trace = warm_up(random)
    rise = rise_fit(trace.time, trace.value)
    held = {
        "start": known(rise.start, trace.truth["start"]),
        "plateau": known(rise.plateau, trace.truth["plateau"]),
        "time constant": known(rise.time_constant, trace.truth["time_constant"]),
    }
    return Outcome(held, rise.probabilities[rise.law], rise.law == trace.law, rise.points.stepped)


def _running_tried(random: Random) -> Outcome:
    car = drive(random)
    stretches = steady_stretches(car.time, car.lambda_, [car.air_flow, car.vacuum])
    air, vacuum = stretches.signals
    fit = running_fit(stretches, air, plain_shapes(air, vacuum))
    # Screw and leak are told at the smallest air flow met in a stretch, not at the smallest of all.
    scale = {"everywhere": 1.0, "screw": car.least / np.min(air), "leak": car.least / np.min(air)}
    held = {
        one.shape.name: known(one.share, scale[one.shape.name] * car.truth[one.shape.name])
        for one in fit.effects
    }
    return Outcome(held, None, False, False)


def engine_log(sheet: str = "flat-six", *, noise: float = 0.004, **off: float) -> str:
    """A log of held flows, as the model of a sheet's engine pours and breathes: speed, air, lambda, manifold.

    Args:
        noise: Of one reading of lambda, as a share.
        off: By parameter of a car, what is added to it: ``mixture_screw=0.125`` is an eighth of a turn rich.
    """
    kind, home = kind_of_sheet(find_sheet(sheet)), Situation()
    car = kind.blueprint.cars(np.zeros((1, len(kind.blueprint.free))))
    screws = set_up(kind.design, kind.torque, kind.funnel, car, home)  # healthy; what is off comes afterwards
    for name, more in off.items():
        car.values[car.rows[name]] += more
    holds = np.array([1.0, 1.0, 1.6, 2.5, 4.0, 6.0, 9.0, 13.0, 17.0, 21.0, 3.0, 1.0]) * kind.design.idle_air
    flow = np.minimum(holds, 0.98 * most_air(kind, home))
    lambda_ = mixture_curve(kind, car, screws, home, flow)[0]
    manifold = driven_manifold(kind, flow, home.outside)
    charge = manifold / (GAS_CONSTANT * (home.ambient_temperature + MANIFOLD_WARMER))
    speed = flow / charge / float(manifold_volume_flow(kind.design, 1.0))
    random = np.random.default_rng(1)
    rows = ["t [s];U/min;Luft [g/s];Lambda;Saugrohr [kPa];Öl [°C]"]
    for held, (air, mixture, pressure, turns) in enumerate(zip(flow, lambda_, manifold, speed, strict=True)):
        for one in range(100):
            cells = (
                f"{0.2 * (100 * held + one):.1f}",
                f"{60.0 * turns + 6.0 * random.standard_normal():.0f}",
                f"{1e3 * air * (1.0 + 0.003 * random.standard_normal()):.2f}",
                f"{mixture * (1.0 + noise * random.standard_normal()):.3f}",
                f"{pressure / 1e3 + 0.1 * random.standard_normal():.1f}",
                "82",
            )
            rows.append(";".join(cells).replace(".", ","))
    return "\n".join(rows) + "\n"
