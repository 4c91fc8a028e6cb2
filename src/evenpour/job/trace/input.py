"""From a log to arrays in SI, each for its use; whatever was left out or assumed on the way is said."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import FieldProblem, Place, Questioned
from evenpour.job.catalogue import catalogue
from evenpour.job.trace.clock import unwrapped
from evenpour.job.trace.columns import Column, TraceKind, assigned, columns_of
from evenpour.job.trace.file import Progress, Table, line_of, read_table
from evenpour.job.trace.layout import Layout, layout_of
from evenpour.measure.instruments import AFR_AT_LAMBDA_1
from evenpour.measure.units import range_shown, shown

Array = NDArray[np.float64]

READS: Mapping[TraceKind, str] = {
    "holding": "holding_pressure",
    "warm_up": "control_pressure_warm",
    "running": "exhaust_lambda",
}
"""The check whose reading a trace of that kind is made of."""
PRESSURE_OF_NOTHING = -1.1e5  # Pa gauge
STRAYS = 0.01  # share of values out of sense up to which they are single slips of a sensor
GAP = 10.0  # times the usual step between two rows
HAND_WRITTEN = 60  # rows; fewer, and steps of any length are on purpose


@dataclass(frozen=True, slots=True)
class Recorded:
    """What a log holds, as far as it is needed.

    Attributes:
        time: From its first row, [s]; rows without a time are gone.
        values: By use, SI; lambda for an AFR; a manifold pressure absolute; nan where nothing was read.
        columns: All columns as understood.
        notes: What was left out, missing or assumed.
        rows_words: Which lines of the file: "lines 5 to 2485".
        unit: In which the main reading was logged.
    """

    file: str
    time: Array
    values: Mapping[str, Array]
    columns: tuple[Column, ...]
    notes: tuple[str, ...]
    rows_words: str
    sha256: str
    unit: str


@dataclass(frozen=True, slots=True)
class Asked:
    """How a person wants a log read.

    Attributes:
        columns: Use to column: "pressure" to "3", "3:psi" or a head.
        lines: First and last line that count.
        missing: Further words that stand where nothing was read.
        scale: AFR that the display shows at lambda 1.
        air_pressure: Barometer, for pressures logged as absolute ones, [Pa].
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    lines: tuple[int, int] | None = None
    missing: Sequence[str] = ()
    scale: float | None = None
    air_pressure: float = 101_325.0


def recorded(path: Path, kind: TraceKind, asked: Asked, progress: Progress | None = None) -> Recorded:
    """Read a log for a fit.

    Raises:
        Problem: what cannot be understood, with file, line and column.
    """
    layout = layout_of(path)
    columns, notes = assigned(columns_of(layout), kind, asked.columns)
    used = {column.number: column for column in columns if column.role}
    kinds = {number: column.clock if column.kind == "clock" else "figure" for number, column in used.items()}
    table = read_table(path, layout, kinds, lines=asked.lines, missing=asked.missing, progress=progress)
    by_role = {column.role: column for column in used.values()}
    seconds, there = _seconds(path, layout, table, by_role["time"])
    values, said = {}, [*notes, *_skipped(table)]
    for role, column in by_role.items():
        if role == "time":
            continue
        inside, about = _in_sense(path, layout, table, column, kind, asked)
        if inside is not None:
            values[role] = inside if there is None else inside[there]
        said += about
    said += list(_gaps(seconds, values, by_role))
    main = "lambda" if kind == "running" else "pressure"
    unit = by_role[main].unit
    assert unit is not None
    return Recorded(
        file=path.name,
        time=seconds,
        values=values,
        columns=columns,
        notes=tuple(said),
        rows_words=f"lines {table.first_line} to {table.last_line}",
        sha256=table.sha256,
        unit=unit.unit.name,
    )


def _seconds(
    path: Path, layout: Layout, table: Table, column: Column
) -> tuple[Array, NDArray[np.bool_] | None]:
    """Times from the first on, and which rows have one where not all do."""
    raw = table.values[column.number]
    there = np.isfinite(raw)
    times = raw if np.all(there) else raw[there]
    if times.size < 2:
        raise FieldProblem("time", column.named, "holds no times between the lines asked for")
    times = (
        unwrapped(times)
        if column.kind == "clock"
        else times * (column.unit.unit.factor if column.unit else 1.0)
    )
    back = np.flatnonzero(np.diff(times) < 0.0)
    if back.size:
        row = int(np.flatnonzero(there)[back[0] + 1])
        line = line_of(path, layout, table.first_line, row)
        raise FieldProblem(
            layout.names[column.number - 1] or f"column {column.number}",
            f"{raw[row]:g}",
            f"runs backwards: the line before says {raw[np.flatnonzero(there)[back[0]]]:g}",
            remedy=f"Two recordings in one file? --rows {table.first_line}-{line - 1} takes the first",
            place=Place(layout.file, f"column {column.number}", line),
        )
    times = _spread(times - times[0])
    return times, None if np.all(there) else there


def _spread(times: Array) -> Array:
    """Rows that a coarse clock gave one and the same time, evenly over it."""
    if np.all(np.diff(times) > 0.0):
        return times
    first = np.flatnonzero(np.diff(times, prepend=-1.0) > 0.0)
    step = float(np.median(np.diff(times[first]))) if first.size > 1 else 1.0
    ends = np.append(first, times.size)
    spread = np.interp(np.arange(times.size), ends, np.append(times[first], times[first[-1]] + step))
    return np.asarray(spread, dtype=np.float64)


def _skipped(table: Table) -> Iterator[str]:
    if table.skipped:
        many, (line, text) = len(table.skipped), table.skipped[0]
        rest = f" and {many - 1} more" if many > 1 else ""
        yield f"line {line}{rest} left out, another number of columns: {text.strip()[:40]!r}"


def _in_sense(
    path: Path, layout: Layout, table: Table, column: Column, kind: TraceKind, asked: Asked
) -> tuple[Array | None, list[str]]:
    """A column in SI, with what cannot be taken out of it, and what is to be said."""
    assert column.unit is not None
    unit, role = column.unit.unit, column.role
    values = table.values[column.number] * unit.factor + unit.offset
    said: list[str] = []
    if role == "lambda" and unit.dimension == "afr":
        scale = asked.scale or AFR_AT_LAMBDA_1
        values = values / scale
        said.append(f"{column.head or column.number}: AFR taken as {scale:g} at lambda 1")
    if role == "load":
        return _absolute(values, column, asked)
    if unit.dimension == "pressure" and column.unit.absolute:
        values = values - asked.air_pressure
        air = shown(asked.air_pressure, "pressure", unit=unit.name)
        said.append(f"{column.head or column.number} is absolute: {air} of air taken off")
    if role not in ("pressure", "lambda"):
        return values, said
    low, high = catalogue().checks[READS[kind]].sense or (-np.inf, np.inf)
    low = PRESSURE_OF_NOTHING if role == "pressure" else low
    odd = np.flatnonzero((values < low) | (values > high))
    if role == "lambda" or not odd.size:  # beyond a wideband sensor's reach is no slip: see tune.steady
        return values, said
    line = line_of(path, layout, table.first_line, int(odd[0]))
    typed = f"{table.values[column.number][odd[0]]:g} {unit.label}"
    if odd.size > STRAYS * values.size:
        raise Questioned(
            column.head or f"column {column.number}",
            typed,
            "cannot be, and is no single slip",
            allowed=range_shown(low, high, "pressure", unit=unit.name),
            remedy=f"Is it another unit, or another column? --column {role}={column.number}:UNIT",
            place=Place(layout.file, f"column {column.number}", line),
        )
    what = f"{odd.size} values that cannot be are" if odd.size > 1 else "a value that cannot be is"
    said.append(f"{what} left out, {'the first ' if odd.size > 1 else ''}in line {line}: {typed}")
    values[odd] = np.nan
    return values, said


def _absolute(values: Array, column: Column, asked: Asked) -> tuple[Array | None, list[str]]:
    """A manifold pressure as an absolute one, if it shows which of the two it is."""
    assert column.unit is not None
    name = column.head or str(column.number)
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if column.unit.absolute or (low > 5e3 and 6e4 < high < 1.15e5):
        return values, [f"{name}: taken as absolute pressure"] if not column.unit.absolute else []
    if low < -2e3 and high < 2e4:
        return values + asked.air_pressure, [f"{name}: taken as gauge pressure, for it goes below zero"]
    return None, [f"{name} is not used: it does not show whether it is manifold pressure, gauge or absolute"]


def _gaps(time: Array, values: Mapping[str, Array], by_role: Mapping[str, Column]) -> Iterator[str]:
    """Where no rows stand, and where nothing was read."""
    step = np.diff(time)
    usual = float(np.median(step))
    wide = np.flatnonzero(step > GAP * usual)
    if time.size > HAND_WRITTEN and wide.size:
        worst = int(wide[np.argmax(step[wide])])
        more = f" ({wide.size} such gaps in all)" if wide.size > 1 else ""
        yield f"no rows {_span(time[worst], time[worst + 1])}{more}"
    for role, found in values.items():
        if np.isfinite(np.sum(found)):
            continue  # nothing is missing, as in most of millions of rows
        gone = np.flatnonzero(~np.isfinite(found))
        if gone.size:
            runs = np.split(gone, np.flatnonzero(np.diff(gone) > 1) + 1)
            longest = max(runs, key=len)
            name = by_role[role].head or f"column {by_role[role].number}"
            where = _span(time[longest[0]], time[min(int(longest[-1]) + 1, time.size - 1)])
            rows = f"{gone.size} rows, longest" if gone.size > 1 else "one row,"
            yield f"{name}: nothing was read in {rows} {where}"


def _span(start: float, end: float) -> str:
    return f"from {shown(float(start), 'time')} to {shown(float(end), 'time')} after the first row"
