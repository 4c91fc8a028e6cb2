"""A car made up for the inference: bent like the real one, cheap, and known exactly.

Forty-five spread parameters, ninety-eight causes, six cylinders. Values that span decades are given as logs
with a floor, choices as margins. Nothing here claims to be right about engines.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.choice_line import ChoiceLine
from evenpour.causes.problem import (
    NONE,
    Array,
    Columns,
    Faults,
    Grid,
    Hypothesis,
    Indices,
    alone,
    graded,
    grid_of,
    ungraded,
)

CYLINDERS = 6
COMMON = (
    "system", "cold", "warm", "pump", "leak", "screw", "rest", "accumulator", "valve", "regulator",
    "auxiliary", "timing", "friction", "sampling", "advance",
)  # fmt: skip
EACH = ("port", "edge", "resistance", "opening", "drip", "runner", "miss", "compression", "spray")
SPREAD_EACH = 5  # the first kinds of EACH spread among sound cars; the others only fail
D = len(COMMON) + SPREAD_EACH * CYLINDERS
Q = len(COMMON) + len(EACH) * CYLINDERS

SOUND = {
    "system": (4.9, 0.12), "cold": (1.4, 0.12), "warm": (3.6, 0.12), "pump": (3.4, 0.08), "leak": (-1.9, 0.6),
    "screw": (0.0, 0.12), "rest": (0.0, 0.08), "accumulator": (0.0, 0.15), "valve": (-4.2, 0.7),
    "regulator": (-4.2, 0.7), "auxiliary": (0.5, 0.08), "timing": (5.0, 1.0), "friction": (0.0, 0.06),
    "sampling": (0.0, 0.03), "advance": (0.0, 1.0), "port": (0.0, 0.015), "edge": (0.0, 0.02),
    "resistance": (-1.2, 0.3), "opening": (3.3, 0.12), "drip": (-6.0, 0.8),
}  # fmt: skip
#: Cause: parameter that it moves, how far at severity 1, and the power of the severity.
CAUSES: Mapping[str, tuple[str, float, int]] = {
    "pump_weak": ("pump", -1.2, 1), "system_low": ("system", -1.0, 1), "system_high": ("system", 0.8, 1),
    "valve_leaks": ("valve", 5.0, 1), "accumulator_failed": ("accumulator", -2.0, 1),
    "regulator_leaks": ("regulator", 5.0, 1), "cold_low": ("cold", -0.8, 1), "cold_high": ("cold", 0.8, 1),
    "warm_low": ("warm", -0.9, 1), "warm_high": ("warm", 0.9, 1), "leak_common": ("leak", 5.0, 1),
    "rest_wrong": ("rest", 0.6, 1), "screw_rich": ("screw", 0.7, 1), "screw_lean": ("screw", -0.7, 1),
    "auxiliary_shut": ("auxiliary", -0.5, 1), "auxiliary_open": ("auxiliary", 0.5, 1),
    "timing_late": ("timing", -10.0, 1), "timing_early": ("timing", 10.0, 1),
    "exhaust_leak": ("sampling", 0.35, 1),
}  # fmt: skip
CAUSES_EACH: Mapping[str, tuple[str, float, int]] = {
    "port_restricted": ("port", -0.5, 1), "port_rich": ("port", 0.35, 1), "valve_off": ("edge", -0.4, 1),
    "edge_rich": ("edge", 0.4, 1), "injector_restricted": ("resistance", 3.0, 1),
    "injector_shut": ("resistance", 6.0, 1), "injector_leaks": ("drip", 6.0, 1),
    "opens_high": ("opening", 0.9, 1), "opens_low": ("opening", -1.3, 1), "runner_leaks": ("runner", 0.3, 1),
    "spark_missing": ("miss", 1.0, 1), "compression_low": ("compression", -0.6, 1),
    "sprays_poorly": ("spray", 1.5, 1),
}  # fmt: skip

NUMBERS = (
    "system_pressure", "cold_pressure", "warm_pressure", "delivery", "holding_10", "holding_20",
    "co", "o2", "hc", "speed", "cruise_lambda", "co_cold", "timing", "co_fast",
)  # fmt: skip
NUMBERS_EACH = ("lines_idle", "injectors_full", "injectors_idle", "opening_pressure", "compression", "drop")
CHOICES = ("smoke", "auxiliary", "start")
CHOICES_EACH = ("drip", "spray", "plug", "spark")
NOISE = {
    "system_pressure": 0.05, "cold_pressure": 0.05, "warm_pressure": 0.05, "delivery": 0.03, "holding_10":
    0.04, "holding_20": 0.04, "co": 0.12, "o2": 0.12, "hc": 0.2, "speed": 0.03, "cruise_lambda": 0.01,
    "co_cold": 0.12, "timing": 0.5, "co_fast": 0.12, "lines_idle": 0.02, "injectors_full": 0.015,
    "injectors_idle": 0.03, "opening_pressure": 0.05, "compression": 0.03, "drop": 0.06,
}  # fmt: skip
CUTS = {
    "smoke": (0.0,), "auxiliary": (-1.5, 1.5), "start": (-2.0, -0.5, 1.0), "drip": (0.0,),
    "spray": (-0.8, 0.8), "plug": (-1.2, 1.2), "spark": (0.0,),
}  # fmt: skip
MINUTES = {
    "delivery": 10.0, "lines_idle": 25.0, "injectors_full": 30.0, "injectors_idle": 30.0, "compression": 40.0,
    "opening_pressure": 60.0, "spray": 40.0, "drip": 30.0, "plug": 20.0, "smoke": 15.0,
}  # fmt: skip


def places() -> dict[str, Indices]:
    """Where each check's columns stand."""
    found, at = {}, 0
    for name in (*NUMBERS, *CHOICES):
        found[name] = np.array([at])
        at += 1
    for name in (*NUMBERS_EACH, *CHOICES_EACH):
        found[name] = np.arange(at, at + CYLINDERS)
        at += CYLINDERS
    return found


PLACES = places()
M = sum(len(at) for at in PLACES.values())


def _own(name: str) -> slice:
    if name in COMMON:
        return slice(COMMON.index(name), COMMON.index(name) + 1)
    start = len(COMMON) + EACH.index(name) * CYLINDERS
    return slice(start, start + CYLINDERS)


def _base() -> tuple[Array, Array]:
    middle, spread = np.zeros(Q), np.zeros(Q)
    for name, (at, width) in SOUND.items():
        middle[_own(name)], spread[_own(name)] = at, width
    return middle, spread[:D]


MIDDLE, SPREAD = _base()


def hypotheses(count: int = 8, nothing: float = 0.25) -> tuple[Hypothesis, ...]:
    """Nothing wrong, the common causes, and those of every cylinder."""
    one = np.log((1.0 - nothing) / (len(CAUSES) + 2.0 * len(CAUSES_EACH)))
    found = [ungraded("nothing_wrong", "none", float(np.log(nothing)))]
    found += [graded(name, name, float(one), count=count) for name in CAUSES]
    for name in CAUSES_EACH:
        each = float(one + np.log(2.0 / CYLINDERS))
        found += [graded(name, f"{name}[{k}]", each, count=count, cylinder=k) for k in range(CYLINDERS)]
    return tuple(found)


def _effects() -> Array:
    rows = [np.zeros(Q)]
    for parameter, size, _ in CAUSES.values():
        row = np.zeros(Q)
        row[_own(parameter)] = size
        rows.append(row)
    for parameter, size, _ in CAUSES_EACH.values():
        for k in range(CYLINDERS):
            row = np.zeros(Q)
            row[_own(parameter).start + k] = size
            rows.append(row)
    return np.array(rows)


EFFECTS = np.ascontiguousarray(_effects())


def soft(x: Array) -> Array:
    """Zero below, x above, bent over a tenth; no kink."""
    return 0.5 * (x + np.sqrt(x * x + 0.01))


def floored(x: Array, floor: float) -> Array:
    return np.log(x + floor)


def car(faults: Faults, z: Array, variant: float = 0.0) -> Array:
    """All columns of R cars, (R, M). ``variant`` bends the laws, for cars that the model gets wrong."""
    x = MIDDLE + EFFECTS[faults.which[:, 0]] * faults.severity[:, 0][:, None]
    x[:, :D] += z * SPREAD
    for which, severity in zip(faults.which.T[1:], faults.severity.T[1:], strict=True):
        more = which >= 0
        x[more] += EFFECTS[which[more]] * severity[more, None]
    p = {name: x[:, _own(name)] for name in (*COMMON, *EACH)}
    g = {name: p[name][:, 0] for name in COMMON}
    out = np.empty((len(z), M))

    def put(name: str, value: Array) -> None:
        out[:, PLACES[name]] = value if value.ndim == 2 else value[:, None]

    pump, leak = np.exp(g["pump"]), np.exp(g["leak"])
    system = g["system"] - 0.15 * soft(18.0 - pump)
    put("system_pressure", system)
    put("cold_pressure", g["cold"])
    put("warm_pressure", g["warm"])
    put("delivery", np.log(pump) - 0.05 * (system - 4.9))
    lowest = -np.log(np.exp(-8.0 * p["opening"]).sum(axis=1)) / 8.0 + 0.2
    drip = np.exp(p["drip"])
    seep = (0.12 * drip / (0.12 + drip)).sum(axis=1)
    rate = (np.exp(g["valve"]) + np.exp(g["regulator"]) + seep) * np.exp(-g["accumulator"])
    for name, minutes in (("holding_10", 1.0), ("holding_20", 2.0)):
        left = np.exp(-rate * minutes) if variant == 0.0 else 1.0 / (1.0 + (1.0 + variant) * rate * minutes)
        put(name, floored(lowest * left, 0.1))
    level = -0.5 * np.log(g["warm"] / 3.6)[:, None]
    put("lines_idle", p["port"] + np.log(soft(1.0 + p["edge"])) + level)
    full = np.exp(p["port"]) * soft(12.0 + p["edge"]) / 12.0
    restriction = np.exp(p["resistance"])
    starving = (
        1.0 + (0.25 * restriction * full / np.maximum(0.3, (system[:, None] - p["opening"]) / 1.6)) ** 2
    )
    opened = 1.0 / (1.0 + np.exp(-6.0 * (system[:, None] - p["opening"] - 0.2)))
    put("injectors_full", floored(full / np.sqrt(starving) * opened, 0.02) + level)
    small = np.exp(p["port"]) * soft(1.0 + p["edge"])
    bound = 12.0 / restriction
    idle_flow = (small**-4 + bound**-4) ** -0.25 * opened
    put("injectors_idle", floored(idle_flow, 0.02) + level)
    put("opening_pressure", p["opening"])
    screw = np.exp(0.35 * (g["screw"] + g["rest"]))[:, None]
    air = 1.0 + 0.1 * (g["auxiliary"] - 0.5)
    rich = (3.6 / g["warm"]) ** 0.5
    idle_lambda = (
        0.96 * (air + leak * 0.1)[:, None] * (1.0 + p["runner"]) / (idle_flow * screw * rich[:, None])
    )
    fast_lambda = 0.97 * (1.0 + 0.02 * leak[:, None]) / (small**0.9 * screw**0.3 * rich[:, None])
    cold_lambda = (
        0.9
        * (1.0 + 0.3 * (g["auxiliary"] - 0.5)[:, None])
        / (idle_flow * screw)
        * (np.maximum(g["cold"] / 1.4, 0.05) ** 0.5)[:, None]
    )
    diluted = 1.0 - np.clip(g["sampling"], -0.3, 0.9) * 0.5

    def monoxide(lam: Array) -> Array:
        return (soft(18.0 * (1.0 - lam)) * (1.0 - 0.9 * np.clip(p["miss"], 0, 1))).mean(axis=1) * diluted

    put("co", floored(monoxide(idle_lambda), 0.1))
    put("co_fast", floored(monoxide(fast_lambda), 0.1))
    put("co_cold", floored(monoxide(cold_lambda), 0.1))
    missing = soft(p["miss"] - 0.1) + soft(-2.0 * (p["compression"] + 0.25)) + 0.4 * soft(p["spray"] - 0.7)
    missing += soft(3.0 * (np.abs(idle_lambda - 0.95) - 0.35))
    missing = missing / (1.0 + missing)
    excess = soft(8.0 * (idle_lambda - 1.0))
    put("o2", floored((excess + 15.0 * missing).mean(axis=1) + 20.0 * soft(g["sampling"] - 0.05), 0.3))
    put("hc", floored((1.0 + 30.0 * missing + 2.0 * soft(p["spray"])).mean(axis=1) * diluted, 0.2))
    power = (1.0 - missing) * (1.0 - 1.6 * (idle_lambda - 0.95) ** 2) * np.exp(0.5 * p["compression"])
    torque = power.mean(axis=1) * (1.0 + 0.02 * (g["timing"] - 5.0 + 0.5 * g["advance"]))
    supply = air + 0.08 * leak + p["runner"].mean(axis=1)
    put("speed", 0.5 * np.log(soft(supply)) + 0.8 * np.log(soft(torque)) - g["friction"])
    put("drop", floored(0.3 * soft(power), 0.03))
    put("cruise_lambda", np.log(fast_lambda.mean(axis=1)))
    put("timing", g["timing"])
    put("compression", p["compression"])
    put("smoke", 1.2 * (np.log(leak + 20.0 * np.clip(p["runner"], 0.0, 1.0).mean(axis=1)) - 0.4))
    put("auxiliary", 8.0 * (g["auxiliary"] - 0.5))
    bad = missing.mean(axis=1) * 6.0
    put("start", 2.0 - bad - 6.0 * soft(np.abs(cold_lambda.mean(axis=1) - 0.9) - 0.15))
    put("drip", 1.5 * (p["drip"] + 3.5))
    put("spray", 1.5 * p["spray"] + 0.8 * (p["resistance"] + 1.2) - 1.5)
    put("plug", 14.0 * (0.95 - idle_lambda) - 3.0 * missing)
    put("spark", 6.0 * (p["miss"] - 0.5))
    return out


@dataclass(frozen=True, slots=True)
class Asked:
    """Checks as they were read on one car, ready to be made into columns."""

    names: tuple[str, ...]


USUAL = (
    "system_pressure", "cold_pressure", "warm_pressure", "delivery", "holding_10", "holding_20",
    "lines_idle", "injectors_full", "co", "o2", "speed", "cruise_lambda", "smoke", "plug",
)  # fmt: skip
DISCREPANCY = 0.7  # of the noise
LEVEL = 0.025  # free level of a catch


def line(name: str, observed: int | None = None) -> ChoiceLine:
    return ChoiceLine(cuts=CUTS[name], observed=observed)


def noise_of(names: Sequence[str], factor: float = 1.0) -> Array:
    """Covariance of one reading of each of these checks."""
    widths, run = [], []
    for number, name in enumerate(names):
        u = NOISE.get(name, 1.0)
        widths += [u * np.hypot(1.0, DISCREPANCY)] * len(PLACES[name])
        run += [number if name.startswith(("lines", "injectors")) else -1 - number] * len(PLACES[name])
    same = np.equal.outer(run, run) & (np.array(run) >= 0)[:, None]
    return np.diag(np.square(widths)) * factor**2 + same * LEVEL**2


def read(
    random: np.random.Generator, values: Array, names: Sequence[str] = USUAL, noise: float = 1.0
) -> Columns:
    """Readings of these checks on a car whose columns are *values* (M,), with noise as modelled."""
    at = np.concatenate([PLACES[name] for name in names])
    check = np.concatenate([np.full(len(PLACES[name]), index) for index, name in enumerate(names)])
    covariance = noise_of(names)
    y = values[at] + noise * np.linalg.cholesky(covariance) @ random.standard_normal(len(at))
    choices: list[ChoiceLine | None] = []
    for row, index in enumerate(check):
        name = names[index]
        if name not in CUTS:
            choices.append(None)
            continue
        edges = np.array(CUTS[name])
        seen = int(np.searchsorted(edges, values[at[row]] + noise * random.standard_normal()))
        if random.random() < 0.03:
            seen = int(random.integers(len(edges) + 1))
        choices.append(line(name, seen))
    wide = 60.0 * np.sqrt(np.diag(covariance))
    each = np.concatenate(
        [np.arange(len(PLACES[name])) if len(PLACES[name]) > 1 else [NONE] for name in names]
    )
    return Columns(at, check, check.copy(), y, covariance, tuple(choices), wide, each)


def drawn(
    random: np.random.Generator, grid: Grid, hypothesis: int, spread: float = 1.0
) -> tuple[Faults, Array]:
    """A car of one hypothesis, severity within its prior; its faults (one row) and its nuisance (1, d)."""
    nodes = np.flatnonzero(grid.owner == hypothesis)
    node = random.choice(nodes, p=np.exp(grid.log_weight[nodes]))
    severity = random.uniform(grid.low[node, 0], grid.high[node, 0])
    one = alone(np.array([hypothesis]), np.array([severity]))
    return one, spread * random.standard_normal((1, D))


def world(count: int = 8) -> Grid:
    return grid_of(hypotheses(count))
