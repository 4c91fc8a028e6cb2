"""A drive or a run at idle, logged with lambda, as it is answered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import FieldProblem
from evenpour.job.entries import Draft
from evenpour.job.trace.answers import (
    LawShare,
    Prediction,
    TraceFigure,
    TraceFit,
)
from evenpour.job.trace.bench import p_within, reading_draft, typed
from evenpour.job.trace.figures import figure
from evenpour.job.trace.found import Asking, FoundIn
from evenpour.job.trace.healthy import Healthy, drawn_air, healthy_over_flow
from evenpour.job.trace.running_plot import running_plot
from evenpour.measure.limits import Limit
from evenpour.measure.showing import range_shown, shown
from evenpour.measure.units import in_unit
from evenpour.physics.air import dry_air_density, standard_temperature
from evenpour.tune.laws import Told
from evenpour.tune.running_trace import RunningFit, Shape, curve_flows, enough_for_shapes, running_fit
from evenpour.tune.steady import SENSOR_REACHES, Stretches, steady_stretches

Array = NDArray[np.float64]

CHECK = "exhaust_lambda"
WARM = 333.15  # K, of oil or coolant: an engine that is warmer is warm (common practice, no source)
NEAR_IDLE = 0.2  # share of the sheet's idle speed within which it idles
OPEN = 0.92  # manifold pressure over air pressure, from which the throttle is as good as open
BEYOND = 1.3  # times the ends of what the sheet's engine draws
OXYGEN_CONTROL = "oxygen_control"
LEAVES_OUT = 0.05  # share of the samples beyond the sensor's reach that is worth a word
FROM_HEALTHY = (
    "Richer and leaner are counted from a healthy engine of this kind as the model has it, its idle set "
    "right; nine in ten healthy ones lie as near to it as the last column says."
)
LAW = "screw, control pressure and leak, each in its own way"
NO_SHAPE = TraceFit(
    law="none",
    law_words="Too few steady stretches, or all of them at one air flow: no shape to be told. Hold idle, a "
    "fast idle and some loads for ten seconds each, and it could be.",
    laws=[],
    parameters=[],
    notes=[],
)


@dataclass(frozen=True, slots=True)
class _Drive:
    """Steady stretches with what was logged of each."""

    stretches: Stretches
    air_flow: Array  # [kg/s]
    measured: bool  # or else told from speed, manifold pressure and the engine's size
    speed: Array | None  # [1/s]
    vacuum: Array | None  # manifold pressure over air pressure
    temperature: Array | None  # [K]


def found_in_running(asking: Asking) -> FoundIn:
    """Find the steady stretches, and what bends lambda over them.

    Raises:
        FieldProblem: no air flow, and nothing to tell it from.
        OutOfRange: too few steady stretches.
    """
    bench = asking.bench
    drive = _drive(asking)
    sensor_u = bench.gauge_u(CHECK, 1.0)
    healthy = healthy_over_flow(bench)
    shapes = healthy.shapes(drive.air_flow, drive.vacuum)
    expected = healthy.expected(drive.air_flow)
    fit = None
    if enough_for_shapes(drive.air_flow, len(shapes)):
        whole = healthy.expected(curve_flows(drive.air_flow))
        fit = running_fit(drive.stretches, drive.air_flow, shapes, expected, sensor_u, whole)
    states = _states(asking, drive)
    found = {state: _reading(drive.stretches, here) for state, here in states.items()}
    return FoundIn(
        fit=NO_SHAPE if fit is None else _told_fit(fit, drive, _usual(healthy, drive, shapes)),
        predictions=[*_of_states(asking, found, sensor_u), *(_of_curve(fit) if fit else ())],
        drafts=list(_drafts(asking, found, sensor_u, drive, states)),
        plot=running_plot(drive.stretches, drive.air_flow, drive.measured, fit, healthy),
        notes=list(_notes(asking, drive, states, healthy)),
        step="road_steady",
    )


def _drive(asking: Asking) -> _Drive:
    recorded, bench = asking.recorded, asking.bench
    values = recorded.values
    flow, speed, load = (values.get(name) for name in ("air_flow", "speed", "load"))
    if flow is None and (speed is None or load is None):
        raise FieldProblem(
            "air_flow", None, "is missing, and cannot be told from speed and manifold pressure",
            allowed="a column in g/s or kg/h, or one in rpm and one of manifold pressure",
            remedy="Say which columns they are: --column air_flow=N, --column speed=N, --column load=N",
        )  # fmt: skip
    signals = [one for one in (flow, speed, load) if one is not None]
    stretches = steady_stretches(recorded.time, values["lambda"], signals)
    steady = dict(
        zip([n for n in ("air_flow", "speed", "load") if n in values], stretches.signals, strict=True)
    )
    if flow is not None:
        air = steady["air_flow"] * _density(asking)
    else:
        air = drawn_air(bench, steady["speed"], steady["load"])
    temperature = values.get("temperature")
    return _Drive(
        stretches=stretches,
        air_flow=air,
        measured=flow is not None,
        speed=steady.get("speed"),
        vacuum=steady["load"] / bench.air_pressure if "load" in steady else None,
        temperature=None if temperature is None else _over(recorded.time, temperature, stretches),
    )


def _density(asking: Asking) -> float:
    """What turns a logged flow into kg/s: 1, or the air's density where it was logged by volume."""
    column = next(one for one in asking.recorded.columns if one.role == "air_flow")
    if column.dimension == "mass_flow":
        return 1.0
    altitude = asking.bench.value("altitude") or 0.0
    return float(dry_air_density(asking.bench.air_pressure, float(standard_temperature(altitude))))


def _over(time: Array, values: Array, stretches: Stretches) -> Array:
    """Means over the stretches of something that need not be steady."""
    first, last = np.searchsorted(time, stretches.start), np.searchsorted(time, stretches.end)
    return np.array([float(np.nanmean(values[a:b])) for a, b in zip(first, last, strict=True)])


def _states(asking: Asking, drive: _Drive) -> dict[str, NDArray[np.bool_]]:
    """Which stretches tell of which state of the engine."""
    every = np.ones(drive.stretches.value.size, dtype=bool)
    if asking.state is not None:
        return {asking.state: every}
    warm = every if asking.warm else np.zeros_like(every)
    if drive.temperature is not None:
        warm = warm | (drive.temperature > WARM)
    found = {}
    idle = asking.bench.sheet.number("idle_speed_nominal")
    if idle is not None and drive.speed is not None:
        near = np.abs(drive.speed / idle - 1.0) < NEAR_IDLE
        least = drive.air_flow < 1.5 * float(np.min(drive.air_flow))
        found["idle_warm"] = near & least & warm
    if drive.vacuum is not None:
        found["full_load"] = (drive.vacuum > OPEN) & warm
    return {state: here for state, here in found.items() if np.any(here)}


def _reading(stretches: Stretches, here: NDArray[np.bool_]) -> Told:
    """Mean lambda over the stretches of one state; the sensor's own doubt not counted."""
    values = stretches.value[here]
    scatter = float(np.std(values, ddof=1)) / float(np.sqrt(values.size)) if values.size > 1 else 0.0
    return _about(float(np.mean(values)), max(scatter, float(np.mean(stretches.u[here]))))


def _about(middle: float, u: float) -> Told:
    return Told(middle, middle - 1.96 * u, middle + 1.96 * u)


def _usual(healthy: Healthy, drive: _Drive, shapes: Sequence[Shape]) -> dict[str, str]:
    """How far healthy engines lie apart in what can be told of them; they have no leak."""
    some = [shape for shape in shapes if shape.name != "leak"]
    wide = healthy.spread(drive.air_flow, some)
    found = {
        shape.name: shown(float(share), "share", unit="%") for shape, share in zip(some, wide, strict=True)
    }
    return {name: f"± {share}" for name, share in found.items()} | {"leak": "none"}


def _told_fit(fit: RunningFit, drive: _Drive, usual: Mapping[str, str]) -> TraceFit:
    at = f"at {shown(float(np.min(drive.air_flow)), 'mass_flow')}"
    titles = {
        "everywhere": "control pressure or thin air: richer everywhere by",
        "screw": f"screw or plate rest: richer {at} by",
        "leak": f"leak past the plate: leaner {at} by",
    }
    parameters = [
        figure(
            effect.shape.name,
            titles[effect.shape.name],
            effect.share,
            "share",
            "%",
            note=usual[effect.shape.name],
        )
        for effect in fit.effects
    ]
    names = {"everywhere": "control pressure or thin air", "screw": "screw or plate rest", "leak": "leak"}
    together = [
        _together(group, told, names, at, usual)
        for group, told in zip(fit.undivided, fit.together, strict=True)
    ]
    scatter = figure("scatter", "single stretches lie off the curve by", fit.scatter, "share", "%")
    notes = [
        FROM_HEALTHY,
        *(_not_told(group, names, drive) for group in fit.undivided),
    ]
    return TraceFit(
        law="shapes",
        law_words=f"Lambda over air flow is bent by {LAW}.",
        laws=[LawShare(law="shapes", title=LAW, probability=1.0)],
        parameters=[*together, *parameters, scatter],
        undivided=[list(group) for group in fit.undivided],
        notes=notes,
    )


def _together(
    group: tuple[str, ...], told: Told, names: Mapping[str, str], at: str, usual: Mapping[str, str]
) -> TraceFigure:
    title = f"{' and '.join(names[one] for one in group)}, together: richer {at} by"
    beside = usual["screw"] if set(group) == {"screw", "leak"} else ""  # of healthy ones, which have no leak
    return figure("+".join(group), title, told, "share", "%", note=beside)


def _not_told(group: tuple[str, ...], names: Mapping[str, str], drive: _Drive) -> str:
    apart = " and ".join(names[one] for one in group)
    return f"This drive cannot tell apart: {apart}. {_how_to_tell(group, drive)}"


def _how_to_tell(group: tuple[str, ...], drive: _Drive) -> str:
    if {"screw", "leak"} <= set(group):
        if drive.vacuum is None:
            return "With the manifold's pressure in the log, at high load and low speed too, it could."
        return "Hold high load at low speed too: there a leak fades and the screw does not."
    return "Hold idle as well as a good deal of air flow, for ten seconds each."


def _of_states(asking: Asking, found: Mapping[str, Told], sensor_u: float) -> Iterator[Prediction]:
    for state, own in found.items():
        told = _about(own.value, float(np.hypot(own.u, sensor_u)))
        limit = _limit(asking, state)
        base = figure("lambda", f"lambda, {state.replace('_', ' ')}", told, "lambda", "lambda")
        yield Prediction(
            **base.model_dump(),
            limit=range_shown(limit.low, limit.high, "lambda") if limit else None,
            p=p_within(told, limit.low, limit.high) if limit else None,
        )


def _of_curve(fit: RunningFit) -> Iterator[Prediction]:
    for name, place in (("lambda_least", 0), ("lambda_most", -1)):
        told = Told(float(fit.curve[place]), float(fit.curve_low[place]), float(fit.curve_high[place]))
        title = (
            "lambda of the curve at the smallest air flow"
            if place == 0
            else "lambda of the curve at the largest"
        )
        yield Prediction(**figure(name, title, told, "lambda", "lambda").model_dump())


def _limit(asking: Asking, state: str) -> Limit | None:
    for limit in asking.bench.sheet.limits_for(CHECK):
        match = limit.when.get("state")
        if match is not None and state in match.choices:
            return limit
    return None


def _drafts(
    asking: Asking,
    found: Mapping[str, Told],
    sensor_u: float,
    drive: _Drive,
    states: Mapping[str, NDArray[np.bool_]],
) -> Iterator[Draft]:
    for state, told in found.items():
        conditions = {"state": state}
        if drive.speed is not None:
            rpm = in_unit(float(np.mean(drive.speed[states[state]])), "rpm")
            conditions["speed"] = f"{rpm:.0f} rpm"
        yield reading_draft(
            asking.bench, CHECK, typed(told, sensor_u, "lambda", "lambda"), conditions,
            asking.source, at=asking.at, sure=asking.sure,
        )  # fmt: skip


def _notes(
    asking: Asking, drive: _Drive, states: Mapping[str, NDArray[np.bool_]], healthy: Healthy
) -> Iterator[str]:
    stretches = drive.stretches
    seconds = float(np.sum(stretches.end - stretches.start))
    in_all = f"{stretches.value.size} steady stretches, {shown(seconds, 'time')} in all"
    yield f"{in_all}; the rest is not looked at."
    if stretches.left_out > LEAVES_OUT:
        low, high = SENSOR_REACHES
        yield (
            f"{100.0 * stretches.left_out:.0f} % of the samples lie beyond lambda {low:g} to {high:g}, where "
            "a wideband sensor shows its end (overrun, cold sensor): left out."
        )
    if not drive.measured:
        yield "Air flow is told from speed, manifold pressure and the size of the sheet's engine, roughly."
    least, most = float(np.min(drive.air_flow)), float(np.max(drive.air_flow))
    if least < healthy.air_flow[0] / BEYOND or most > healthy.air_flow[-1] * BEYOND:
        ends = " to ".join(shown(one, "mass_flow") for one in (healthy.air_flow[0], healthy.air_flow[-1]))
        yield f"The sheet's engine draws {ends}, this log goes beyond: is it the right sheet, the right unit?"
    sensor = asking.bench.condition("sensor")
    if OXYGEN_CONTROL in asking.bench.sheet.devices and (sensor is None or sensor.choice == "connected"):
        yield (
            "With its oxygen sensor connected this engine holds lambda at 1 itself, and the shape says "
            "nothing of screw, pressure or leak: unplug it for such a drive, and say sensor=off."
        )
    if not states:
        yield (
            "No reading is made of it: the log does not show idle or full load of a warm engine. If it was "
            "warm throughout, say --warm; if it ran in one state throughout, --state road_steady."
        )
