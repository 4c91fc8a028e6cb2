"""A recording of the pressure after the stop, as it is answered."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from evenpour.errors import FieldProblem
from evenpour.job.trace.answers import (
    LawShare,
    PlotLine,
    PlotMark,
    Prediction,
    TraceFigure,
    TraceFit,
    TracePlot,
)
from evenpour.job.trace.bench import reading_draft, typed
from evenpour.job.trace.figures import figure, rounded
from evenpour.job.trace.found import Asking, FoundIn
from evenpour.job.trace.plot import thinned
from evenpour.measure.limits import Limit
from evenpour.measure.showing import shown
from evenpour.measure.units import in_unit, label
from evenpour.physics.blend import ethanol_share
from evenpour.physics.vapour import typical_reid_pressure
from evenpour.tune.holding_trace import HoldingFit, held_part, holding_fit
from evenpour.tune.hot_restart import restart_margin
from evenpour.tune.laws import Told
from evenpour.tune.points import FEWEST_POINTS

CHECK = "holding_pressure"
TITLES = {
    "orifice": "a hole: the flow goes with the root of the pressure",
    "laminar": "a narrow gap, such as a worn seat: the flow goes with the pressure",
    "both": "a hole in one place and a narrow gap in another",
}
ALL = 0.99  # share of a leak, from which "all" is nearer to what is known than a figure
RESTARTS = (10 * 60.0, 20 * 60.0, 40 * 60.0)  # s after a hot stop; common practice, no source
ASSUMED_AMBIENT = 293.15  # K
ASSUMED_FUEL, ASSUMED_SEASON = "E5", "summer"
IN_WAVES = 0.8  # probability from which it is said that no law follows the trace to the end
NO_LEAK = 0.05  # of the pressure, in the time recorded: a fall that small may be none
SURELY = 0.95
RUNNING = 1.25  # times the pressure at the stop, from which the chart leaves it out


def found_in_holding(asking: Asking) -> FoundIn:
    """Fit the leak laws, and say what follows.

    Raises:
        OutOfRange: too little of the trace is left after the stop.
    """
    recorded, bench = asking.recorded, asking.bench
    pressure = recorded.values["pressure"]
    there = np.isfinite(pressure)
    time, pressure = recorded.time[there], pressure[there]
    held = held_part(time, pressure, asking.started)
    stop, first = held.stop, held.first
    unit = asking.unit("pressure")
    if time.size - first < FEWEST_POINTS and held.climbed:
        raise FieldProblem(
            "pressure", None,
            f"climbs by {shown(held.climbed, 'pressure', unit=unit)} and does not fall: no leak shows",
            remedy="Fuel that warms in the lines presses so. Record on until it falls; or is it another "
            "column, or a warm-up?",
        )  # fmt: skip
    if time.size - first < FEWEST_POINTS:
        after = (
            f"after the pump's stop, {shown(stop, 'time')} after the first row" if held.stop_seen else "in it"
        )
        raise FieldProblem(
            "pressure", None, f"was read {time.size - first} times {after}: too few to fit a fall",
            allowed=f"{FEWEST_POINTS} times and more",
            remedy="Is the stop taken wrongly? --started 0s takes the first row for it",
        )  # fmt: skip
    fit = holding_fit(time[first:] - stop, pressure[first:], bench.step_of_gauge(CHECK))
    gauge_u = bench.gauge_u(CHECK, fit.reference)
    limits = [limit for limit in bench.sheet.limits_for(CHECK) if _span(limit) is not None]
    moments = sorted({moment for limit in limits for moment in _span(limit) or ()} or {600.0, 1200.0})
    predictions = [
        *(_pressure_at(fit, moment, limits, unit, gauge_u) for moment in moments),
        *_times_to(fit, limits, unit, gauge_u),
        *_restarts(fit, asking, unit, gauge_u),
    ]
    drafts = [
        reading_draft(
            bench, CHECK, typed(fit.pressure(moment), gauge_u, recorded.unit),
            {"after": asking.after(moment, seen=held.stop_seen)},
            asking.source, at=asking.at, sure=asking.sure,
        )
        for moment in moments
        if moment <= fit.lasted * 1.01
    ]  # fmt: skip
    return FoundIn(
        fit=_told_fit(fit, unit, gauge_u),
        predictions=predictions,
        drafts=drafts,
        plot=_plot(fit, time - stop, pressure, limits, unit, gauge_u),
        notes=[
            *_about_the_stop(asking, held.stop_seen, stop, held.climbed, unit),
            *_about_the_fit(fit, unit),
            _about_the_restart(asking),
        ],
        step="read_holding",
    )


def _told_fit(fit: HoldingFit, unit: str, gauge_u: float) -> TraceFit:
    at = shown(fit.reference, "pressure", unit=unit)
    start = _with_gauge(fit.start, gauge_u)
    # A gauge that reads so much too high may do so in proportion: then it shows every fall so much too large.
    rate = _with_gauge(fit.rate, gauge_u * fit.rate.value / fit.reference)
    per_minute = Told(60.0 * rate.value, 60.0 * rate.low, 60.0 * rate.high)
    laws = [
        LawShare(law=name, title=TITLES[name], probability=p)
        for name, p in sorted(fit.probabilities.items(), key=lambda item: -item[1])
    ]
    sure = laws[0].probability >= SURELY
    return TraceFit(
        law=fit.law,
        law_words=f"It falls as through {TITLES[fit.law]}."
        if sure
        else "The trace does not choose between the laws; what is said is averaged over them.",
        laws=laws,
        parameters=[
            figure("start", "pressure at the stop, as far as leaks go", start, "pressure", unit),
            figure("rate", f"fall at {at}", per_minute, "pressure", unit, per="/min"),
            _share_of_a_hole(fit, at),
        ],
        notes=[
            "Capacity and leak show only together, as a fall of pressure: the flow in ml/min is not told."
        ],
    )


def _share_of_a_hole(fit: HoldingFit, at: str) -> TraceFigure:
    """How much of the leak passes as through a hole; next to all or nothing of it in words."""
    told = fit.orifice_share
    found = figure("orifice_share", f"of the leak at {at}, what passes as through a hole", told, "share", "%")
    if told.low > ALL:
        return found.model_copy(update={"shown": "all", "range_shown": f"over {shown(ALL, 'share')}"})
    if told.high < 1.0 - ALL:
        return found.model_copy(update={"shown": "none", "range_shown": f"under {shown(1.0 - ALL, 'share')}"})
    return found


def _with_gauge(one: Told, gauge_u: float) -> Told:
    """The same with the gauge's standard uncertainty, of which the trace knows nothing; none below 0."""
    more = 1.96 * gauge_u
    low = one.value - math.hypot(one.value - one.low, more)
    return Told(one.value, max(low, min(one.low, 0.0)), one.value + math.hypot(one.high - one.value, more))


def _pressure_at(
    fit: HoldingFit, moment: float, limits: list[Limit], unit: str, gauge_u: float
) -> Prediction:
    told = fit.pressure(moment, gauge_u)
    when = shown(moment, "time")
    beyond = moment > fit.lasted * 1.01
    base = figure("pressure", f"pressure {when} after the stop", told, "pressure", unit)
    low = max((_low_at(limit, moment) for limit in limits if _holds(limit, moment)), default=None)
    p = fit.p_above(moment, low, gauge_u) if low is not None else None
    return Prediction(
        **base.model_dump(),
        limit=None if low is None else f"at least {shown(low, 'pressure', unit=unit)}",
        p=p,
        beyond=beyond,
    )


def _times_to(fit: HoldingFit, limits: list[Limit], unit: str, gauge_u: float) -> Iterator[Prediction]:
    """How long until each level that the sheet asks for is met."""
    ends = {(_low_at(limit, moment), moment) for limit in limits for moment in _span(limit) or ()}
    for low, moment in sorted(ends, reverse=True):
        told = fit.time_to(low, gauge_u)
        base = figure("time_to", f"time to {shown(low, 'pressure', unit=unit)}", told, "time", "min")
        yield Prediction(
            **base.model_dump(),
            limit=f"at least {shown(moment, 'time')}",
            beyond=told.value > fit.lasted * 1.01,
        )


def _restarts(fit: HoldingFit, asking: Asking, unit: str, gauge_u: float) -> Iterator[Prediction]:
    ambient, _, reid = _weather(asking)
    for moment in RESTARTS:
        found = restart_margin(fit, moment, ambient, asking.bench.air_pressure, reid, gauge_u)
        base = figure(
            "restart_margin", f"hot restart after {shown(moment, 'time')}: over boiling by",
            found.margin, "pressure", unit,
        )  # fmt: skip
        yield Prediction(
            **base.model_dump()
            | {"note": f"fuel lines at {shown(found.rail, 'temperature', unit=asking.unit('temperature'))}"},
            limit="above 0",
            p=1.0 - found.p_boils,
            beyond=moment > fit.lasted * 1.01,
        )


def _weather(asking: Asking) -> tuple[float, str, float]:
    """Air outside, what of it all was assumed, and the fuel's Reid pressure."""
    bench, assumed = asking.bench, []
    ambient = bench.value("ambient_temperature")
    if ambient is None:
        ambient = ASSUMED_AMBIENT
        assumed.append(f"air outside {shown(ambient, 'temperature', unit=asking.unit('temperature'))}")
    fuel, season = bench.condition("fuel"), bench.condition("fuel_grade")
    if fuel is None:
        assumed.append(f"fuel {ASSUMED_FUEL}")
    if season is None:
        assumed.append(f"{ASSUMED_SEASON} fuel")
    if bench.value("altitude") is None:
        assumed.append("sea level")
    name = fuel.choice if fuel and fuel.choice else ASSUMED_FUEL
    kind = season.choice if season and season.choice else ASSUMED_SEASON
    return ambient, ", ".join(assumed), float(typical_reid_pressure(kind, ethanol_share(name)))


def _plot(
    fit: HoldingFit, time: np.ndarray, pressure: np.ndarray, limits: list[Limit], unit: str, gauge_u: float
) -> TracePlot:
    near = pressure < RUNNING * fit.start.value  # the running pump would press all else together
    end = max(float(time[-1]), *(moment for limit in limits for moment in _span(limit) or ()), 0.0)
    moments = np.linspace(0.0, end, 61)
    lines = []
    for moment in moments:
        told = fit.pressure(float(moment))
        y, low, high = (in_unit(one, unit) for one in (told.value, told.low, told.high))
        lines.append(
            PlotLine(x=round(float(moment) / 60.0, 4), y=round(y, 5), low=round(low, 5), high=round(high, 5))
        )
    marks = []
    for limit in limits:
        span = _span(limit) or ()
        levels = [in_unit(_low_at(limit, moment), unit) for moment in span]
        marks.append(PlotMark(label="the sheet's limit", x=[moment / 60.0 for moment in span], y=levels))
    return TracePlot(
        title="Pressure after the stop",
        x_title="minutes after the stop",
        y_title=label(unit),
        points=thinned(time[near] / 60.0, in_unit(1.0, unit) * pressure[near]),
        line=lines,
        marks=marks,
    )


def _about_the_stop(asking: Asking, seen: bool, stop: float, climbed: float, unit: str) -> Iterator[str]:
    at = f"{shown(stop, 'time')} after the first row"
    if asking.started is not None:
        yield f"The stop is taken to be {at}, as said."
    elif seen:
        yield f"The pump's stop shows {at}; times count from there."
    else:
        yield "The trace does not show the pump's stop: its first row is taken for it. If not, say --started."
    if climbed:
        by = shown(climbed, "pressure", unit=unit)
        yield f"It climbs by {by} at first, as fuel warms in the lines; the leak is told from where it falls."


def _about_the_fit(fit: HoldingFit, unit: str) -> Iterator[str]:
    if np.ptp(fit.points.value) == 0.0:
        yield (
            f"It stands at {shown(fit.reference, 'pressure', unit=unit)} throughout: either nothing leaks "
            "that this gauge could show, or its needle sticks. Knock on it, and see it fall when the "
            "pressure is let off."
        )
        return
    if fit.waves > IN_WAVES:
        yield (
            "It strays from every law in long waves: fuel that warms or cools, an accumulator that runs "
            "empty, or more than leaks. The doubt is widened for it; do not trust it far beyond the trace."
        )
    fallen = fit.rate.value * fit.lasted
    if fallen < NO_LEAK * fit.reference and fit.rate.low * fit.lasted < 0.2 * NO_LEAK * fit.reference:
        most = rounded(60.0 * fit.rate.high, 6.0 * fit.rate.high, "pressure", unit)
        yield f"It may hold altogether: the fall is at most {most} {label(unit)}/min."
    if fit.points.stepped:
        step = shown(fit.points.step, "pressure", unit=unit)
        yield f"The gauge shows steps of {step}: each reading is taken as anywhere within its step."


def _about_the_restart(asking: Asking) -> str:
    _, assumed, _ = _weather(asking)
    said = f" Assumed: {assumed}; say it like ambient_temperature=25C." if assumed else ""
    return f"For the hot restart the leaks are taken to be the same hot as in this trace.{said}"


def _span(limit: Limit) -> tuple[float, float] | None:
    """From when to when after the stop a lower limit holds."""
    match = limit.when.get("after")
    if match is None or limit.low is None or match.low is None or match.high is None:
        return None
    return match.low, match.high


def _holds(limit: Limit, moment: float) -> bool:
    low, high = _span(limit) or (0.0, -1.0)
    return low <= moment <= high


def _low_at(limit: Limit, moment: float) -> float:
    low = limit.low or 0.0
    for one in limit.depends:
        if one.on == "after":
            low = one.moved(low, moment)
    return low
