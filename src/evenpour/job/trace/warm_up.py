"""A recording of the control pressure in warm-up, as it is answered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import FieldProblem, OutOfRange
from evenpour.job.entries import Draft
from evenpour.job.trace.answers import (
    LawShare,
    PlotLine,
    PlotMark,
    Prediction,
    TraceFigure,
    TraceFit,
    TracePlot,
)
from evenpour.job.trace.bench import Bench, p_within, reading_draft, typed
from evenpour.job.trace.figures import figure
from evenpour.job.trace.found import Asking, FoundIn
from evenpour.job.trace.plot import thinned
from evenpour.measure.limits import Limit
from evenpour.measure.showing import range_shown, shown
from evenpour.measure.units import in_unit, label
from evenpour.tune.bimetal import slope_fit
from evenpour.tune.laws import Told
from evenpour.tune.warm_up_trace import Rise, pumped_up, rise_fit

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

WARM, COLD = "control_pressure_warm", "control_pressure_cold"
TITLES = {
    "one": "one time constant",
    "two": "two time constants: the bimetal, and the body it sits on",
    "cut_off": "a climb that is cut off by a knee, where the bimetal has let go",
}
READ_AT = 300.0  # s after switching on; the sheets' "within 5 min" (common practice, no source)
EARLIEST = 180.0  # s; before that a warm reading says little (common practice, no source)
STILL = 5e3  # Pa in a minute: less is standing still (common practice, no source)
SUPPLY = (9.0, 16.0)  # V: what feeds a heater; other voltages are something else
IN_WAVES = 0.8
SURELY = 0.95


def found_in_warm_up(asking: Asking) -> FoundIn:
    """Fit the climb, and say what follows.

    Raises:
        OutOfRange: too little of the trace is left.
        FieldProblem: it falls.
    """
    recorded, bench = asking.recorded, asking.bench
    pressure = recorded.values["pressure"]
    there = np.isfinite(pressure)
    time, pressure = recorded.time[there], pressure[there]
    if asking.started is not None:
        kept = time >= asking.started
    else:
        kept = np.arange(time.size) >= pumped_up(time, pressure)
    time, pressure = time[kept], pressure[kept]
    rise = rise_fit(time, pressure, bench.step_of_gauge(WARM))
    unit = asking.unit("pressure")
    if rise.plateau.high < rise.start.low:
        raise _falls(rise, unit)
    notes = list(_about_the_climb(asking, rise, unit))
    voltage, about = _voltage(asking, rise)
    parameters, more = _bimetal(asking, rise, time, pressure, there, kept, unit)
    stands = _stands(rise)
    cold, about_cold = _cold(asking, rise, time, there, kept, follows=bool(parameters))
    drafts = list(_drafts(asking, rise, voltage, cold, stands))
    return FoundIn(
        fit=_told_fit(rise, unit, parameters),
        predictions=list(_predictions(rise, bench, unit)),
        drafts=drafts,
        plot=_plot(rise, time, pressure, bench, unit, bool(drafts)),
        notes=[*notes, *about, *more, *about_cold, *_about_the_end(rise, stands, unit)],
        step="read_control_warm",
    )


def _told_fit(rise: Rise, unit: str, more: list[TraceFigure]) -> TraceFit:
    if not _climbs(rise):
        return TraceFit(
            law=rise.law,
            law_words="No climb shows, so there is no law to tell and no time constant.",
            laws=[],
            parameters=[figure("plateau", "plateau", rise.plateau, "pressure", unit), *more],
            notes=[],
        )
    laws = [
        LawShare(law=name, title=TITLES[name], probability=p)
        for name, p in sorted(rise.probabilities.items(), key=lambda item: -item[1])
    ]
    sure = laws[0].probability >= SURELY
    parameters = [
        figure("start", "cold starting point", rise.start, "pressure", unit),
        figure("plateau", "plateau", rise.plateau, "pressure", unit),
        figure(
            "time_constant", "time constant: until 63 % of the climb is done", rise.time_constant, "time", "s"
        ),
    ]
    if rise.law == "two" and rise.slow_constant is not None:
        parameters += [
            figure("quick_constant", "quicker time constant, of the bimetal", rise.law_constant, "time", "s"),
            figure("slow_constant", "slower time constant, of the body", rise.slow_constant, "time", "s"),
        ]
    if rise.knee is not None:
        parameters.append(figure("knee", "knee, after switching on", rise.knee, "time", "s"))
    return TraceFit(
        law=rise.law,
        law_words=f"It follows {TITLES[rise.law]}."
        if sure
        else "The trace does not choose between the laws; what is said is averaged over them.",
        laws=laws,
        parameters=[*parameters, *more],
        notes=[],
    )


def _predictions(rise: Rise, bench: Bench, unit: str) -> Iterator[Prediction]:
    gauge_u = bench.gauge_u(WARM, rise.plateau.value)
    wide = Told(
        rise.plateau.value,
        rise.plateau.value - float(np.hypot(rise.plateau.value - rise.plateau.low, 1.96 * gauge_u)),
        rise.plateau.value + float(np.hypot(rise.plateau.high - rise.plateau.value, 1.96 * gauge_u)),
    )
    limit = _limit(bench)
    for name, title, told, beyond in (
        ("plateau", "plateau, with the gauge's doubt", wide, not _stands(rise)),
        ("pressure", f"pressure {shown(READ_AT, 'time')} after switching on", rise.value(READ_AT, gauge_u),
         rise.lasted < READ_AT),
    ):  # fmt: skip
        base = figure(name, title, told, "pressure", unit)
        yield Prediction(
            **base.model_dump(),
            limit=range_shown(limit.low, limit.high, "pressure", unit=unit) if limit else None,
            p=p_within(told, limit.low, limit.high) if limit else None,
            beyond=beyond,
        )
    if limit is not None and limit.low is not None and _climbs(rise):
        told = rise.time_to(limit.low)
        low = shown(limit.low, "pressure", unit=unit)
        base = figure("time_to", f"time to {low} after switching on", told, "time", "s")
        yield Prediction(**base.model_dump(), beyond=told.value > rise.lasted)


def _drafts(
    asking: Asking, rise: Rise, voltage: str | None, cold: Mapping[str, str] | None, stands: bool
) -> Iterator[Draft]:
    """Warm at five minutes, or at the end where it stood still before; cold where the trace shows it."""
    bench, unit = asking.bench, asking.recorded.unit
    moment = min(READ_AT, rise.lasted)
    said: Mapping[str, str] = {"heater": "plugged", **({"voltage": voltage} if voltage else {})}
    if moment >= EARLIEST or (stands and moment >= 0.5 * EARLIEST):
        warm = rise.value(moment)
        yield reading_draft(
            bench, WARM, typed(warm, bench.gauge_u(WARM, warm.value), unit),
            {**said, "after": asking.after(moment, seen=rise.on_seen)},
            asking.source, at=asking.at, sure=asking.sure,
        )  # fmt: skip
    if cold is not None:
        yield reading_draft(
            bench, COLD, typed(rise.start, bench.gauge_u(COLD, rise.start.value), unit),
            {"heater": "unplugged", **cold},
            asking.source, at=asking.at, sure=asking.sure,
        )  # fmt: skip


def _cold(
    asking: Asking, rise: Rise, time: Array, there: Mask, kept: Mask, *, follows: bool
) -> tuple[Mapping[str, str] | None, list[str]]:
    """The regulator's temperature while the heater was still off, as a condition of the cold reading: typed,
    or logged beside where the pressure *follows* it. ``None`` where the trace shows no cold start point.
    """
    if not _climbs(rise):
        return None, []
    if "regulator_temperature" in asking.bench.stated:
        return {}, []  # the typed one counts
    if not follows or not rise.on_seen:
        return None, [
            "With the regulator's temperature the cold starting point could be judged too: say it like "
            "regulator_temperature=18C."
        ]
    before = asking.recorded.values["temperature"][there][kept][time <= rise.on]
    middle = float(np.nanmean(before))
    said = shown(middle, "temperature", unit="degC")
    return {"regulator_temperature": f"{middle - 273.15:.1f} degC"}, [
        f"The cold starting point is read at the {said} that were logged before the climb."
    ]


def _voltage(asking: Asking, rise: Rise) -> tuple[str | None, list[str]]:
    """The voltage while the heater was on, as a reading's condition, and what is to be said of it."""
    if "voltage" in asking.bench.stated:
        return None, []  # the typed one counts
    values = asking.recorded.values.get("voltage")
    if values is None:
        return None, [
            "No voltage is known: say it like voltage=12.1V, for the heater's power goes with its square."
        ]
    on = values[(asking.recorded.time >= rise.on) & np.isfinite(values)]
    if not on.size or not SUPPLY[0] <= float(np.median(on)) <= SUPPLY[1]:
        return None, ["The voltage column does not look like a heater's supply and is not used."]
    middle = float(np.mean(on))
    spread = float(np.std(on))
    swings = f", swinging by {shown(2.0 * spread, 'voltage')}" if spread > 0.3 else ""
    return f"{middle:.2f} V", [f"Time constants are those at {shown(middle, 'voltage')}{swings}."]


def _bimetal(
    asking: Asking, rise: Rise, time: Array, pressure: Array, there: Mask, kept: Mask, unit: str
) -> tuple[list[TraceFigure], list[str]]:
    """What a temperature that was logged beside says, if the pressure follows it."""
    values = asking.recorded.values.get("temperature")
    if values is None:
        return [], []
    beside = values[there][kept]
    slope = slope_fit(beside, pressure)
    if slope is None:
        return [], [
            "The pressure does not follow the temperature column: it is not the bimetal's, and not used."
        ]
    found = [figure("slope", "pressure for each kelvin of the bimetal", slope, "pressure", unit, per="/K")]
    try:
        warm = rise_fit(time, beside)
    except OutOfRange as few:
        return found, [f"The bimetal's temperature is not fitted: {few}"]
    degrees = asking.unit("temperature")
    found += [
        figure("bimetal_end", "bimetal's temperature in the end", warm.plateau, "temperature", degrees),
        figure(
            "bimetal_constant", "bimetal: until 63 % of its warming is done", warm.time_constant, "time", "s"
        ),
    ]
    if warm.slow_constant is not None:
        found += [
            figure("bimetal_quick", "bimetal, quicker time constant", warm.law_constant, "time", "s"),
            figure("bimetal_slow", "bimetal, slower time constant", warm.slow_constant, "time", "s"),
        ]
    return found, []


def _about_the_climb(asking: Asking, rise: Rise, unit: str) -> Iterator[str]:
    if asking.started is not None:
        on = shown(asking.started, "time")
        yield f"The heater is taken to be on from {on} after the first row, as said."
    elif not _climbs(rise):
        yield (
            "No climb shows: the recording begins with a warm regulator, or its heater is not fed. For cold "
            "start point and time constant begin it cold, before the plug goes on."
        )
    elif rise.on_seen:
        yield f"The climb begins {shown(rise.on, 'time')} after the first row; times count from there."
    else:
        yield "The climb begins with the trace: its first row is taken for the heater's switching on."
    if rise.points.stepped:
        step = shown(rise.points.step, "pressure", unit=unit)
        yield f"The gauge shows steps of {step}: each reading is taken as anywhere within its step."
    if rise.waves > IN_WAVES:
        yield "It strays from every law in long waves; the doubt is widened for it."


def _about_the_end(rise: Rise, stands: bool, unit: str) -> Iterator[str]:
    if not stands:
        last = shown(rise.lasted, "time")
        still = shown(STILL, "pressure", unit=unit)
        yield (
            f"It still moves at its end, {last} after switching on: the plateau is foretold, not read. "
            f"Log until it moves less than {still} in a minute."
        )


def _falls(rise: Rise, unit: str) -> FieldProblem:
    first, last = (
        shown(one, "pressure", unit=unit) for one in (rise.start.value, rise.value(rise.lasted).value)
    )
    return FieldProblem(
        "pressure", None, f"falls, from {first} to {last}: this is no warm-up",
        remedy="Is the heater fed, and the valve open? What falls after the pump's stop is --kind holding",
    )  # fmt: skip


def _climbs(rise: Rise) -> bool:
    """Whether the plateau surely lies above the start."""
    return rise.start.high < rise.plateau.low


def _stands(rise: Rise) -> bool:
    """Whether less than a twentieth of a bar happens in the last minute of the trace."""
    last = rise.lasted
    moved = rise.value(last).value - rise.value(max(0.0, last - 60.0)).value
    return last >= 60.0 and abs(moved) < STILL


def _limit(bench: Bench) -> Limit | None:
    return next(iter(bench.sheet.limits_for(WARM)), None)


def _plot(rise: Rise, time: Array, pressure: Array, bench: Bench, unit: str, read: bool) -> TracePlot:
    after = (time - rise.on) / 60.0
    moments = np.linspace(0.0, max(rise.lasted, READ_AT if read else 0.0), 81)
    lines = []
    for moment in moments:
        told = rise.value(float(moment))
        y, low, high = (round(in_unit(one, unit), 5) for one in (told.value, told.low, told.high))
        lines.append(PlotLine(x=round(float(moment) / 60.0, 4), y=y, low=low, high=high))
    limit, marks = _limit(bench), []
    for level in (limit.low, limit.high) if limit else ():
        if level is not None:
            ends = [EARLIEST / 60.0, max(float(moments[-1]), READ_AT) / 60.0]
            marks.append(PlotMark(label="the sheet's limit", x=ends, y=[in_unit(level, unit)] * 2))
    return TracePlot(
        title="Control pressure in warm-up",
        x_title="minutes after switching on",
        y_title=label(unit),
        points=thinned(after, pressure * in_unit(1.0, unit)),
        line=lines,
        marks=marks,
    )
