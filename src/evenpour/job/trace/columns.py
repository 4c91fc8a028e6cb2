"""What each column of a log is, and which of them a fit needs; what is not clear is asked, never guessed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, Literal

from evenpour.errors import FieldProblem, Problems, unknown
from evenpour.job.trace.clock import H_MIN, MIN_S
from evenpour.job.trace.layout import DATE, Layout, is_clock, is_empty, is_figure
from evenpour.job.trace.units import NamedUnit, time_unit_at_the_end, unit_in
from evenpour.job.typed_words import whole
from evenpour.measure.unit_table import kind_words, units_named

Kind = Literal["figure", "clock", "date", "text", "empty"]
TraceKind = Literal["holding", "warm_up", "running"]

TWO_PARTS = "two parts"
FEWEST_ROWS = 4
MOSTLY = 0.9
"""Share of a time's steps that lead forward: with one that leads back it is still a time, and a fault."""


@dataclass(frozen=True, slots=True)
class Role:
    """What a fit wants a column for.

    Attributes:
        dimensions: What it may be.
        needed: Whether the fit cannot do without.
        bare: Units tried for a column that names none, with the range that such values lie in.
    """

    name: str
    says: str
    dimensions: tuple[str, ...]
    needed: bool
    bare: Mapping[str, tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Column:
    """A column as understood.

    Attributes:
        number: From 1.
        head: As it stands in the file.
        kind: Of its cells.
        unit: Named by its head, or told by its values; ``None`` where neither.
        why: How it was understood, for a person.
        role: What it is used for; "" for nothing.
        clock: How a time of day is meant: "h:min:s", "h:min", "min:s"; "two parts" while that is not clear.
    """

    number: int
    head: str
    kind: Kind
    unit: NamedUnit | None
    values: tuple[float, ...]
    why: str
    role: str = ""
    clock: str = ""

    @property
    def dimension(self) -> str | None:
        """The kind of quantity; ``None`` where it is not known."""
        return self.unit.unit.dimension if self.unit else None

    @property
    def named(self) -> str:
        """As a message names it: ``3 'P1 [bar]'``."""
        return f"{self.number} {self.head!r}" if self.head else str(self.number)


_TIME: Final = {
    "holding": {"ms": (6e4, 4e7), "s": (60.0, 4e4), "min": (2.0, 600.0), "h": (0.05, 10.0)},
    "warm_up": {"ms": (2e4, 7.2e6), "s": (20.0, 7200.0), "min": (0.5, 120.0)},
    "running": {"ms": (5e3, 1e9), "s": (5.0, 1e6), "min": (0.1, 2e4)},
}  # how long such a trace lasts, in each unit
_PRESSURE: Final = {"bar": (0.3, 7.0), "psi": (7.5, 100.0), "kPa": (120.0, 700.0)}  # largest value of a trace

ROLES: Final[Mapping[TraceKind, tuple[Role, ...]]] = {
    "holding": (
        Role("time", "the time", ("time",), True, _TIME["holding"]),
        Role("pressure", "the pressure after the stop", ("pressure",), True, _PRESSURE),
    ),
    "warm_up": (
        Role("time", "the time", ("time",), True, _TIME["warm_up"]),
        Role("pressure", "the control pressure", ("pressure",), True, _PRESSURE),
        Role("temperature", "the regulator's temperature", ("temperature",), False, {}),
        Role("voltage", "the voltage at the regulator's heater", ("voltage",), False, {}),
    ),
    "running": (
        Role("time", "the time", ("time",), True, _TIME["running"]),
        Role("lambda", "lambda", ("lambda", "afr"), True, {"lambda": (0.6, 3.0), "AFR": (8.0, 40.0)}),
        Role("air_flow", "the air flow", ("mass_flow", "volume_flow"), False, {}),
        Role("speed", "the engine's speed", ("speed",), False, {}),
        Role("load", "the load: manifold pressure", ("pressure",), False, {}),
        Role("temperature", "the engine's temperature", ("temperature",), False, {}),
    ),
}


def columns_of(layout: Layout) -> tuple[Column, ...]:
    """Every column with the unit that its head names and the kind of its cells."""
    found = []
    for place in range(layout.width):
        cells = [row[place] for row in layout.rows if not is_empty(row[place])]
        unit = unit_in(layout.names[place], layout.units[place])
        kind = _kind(cells, layout.decimal)
        why = f"its head names the unit {unit.text}" if unit else _no_unit(layout, place, kind)
        values = _values(cells, kind, layout)
        clock = _parts(cells) if kind == "clock" else ""
        found.append(Column(place + 1, layout.names[place], kind, unit, values, why, clock=clock))
    return tuple(found)


def assigned(
    columns: Sequence[Column], kind: TraceKind, stated: Mapping[str, str]
) -> tuple[tuple[Column, ...], tuple[str, ...]]:
    """The columns with what each is used for, and what is to be said of those that are not.

    Args:
        stated: What the person said: "pressure" to "3", "3:psi", or a head.
    Raises:
        Problems: what is not clear, or not there.
    """
    roles = {role.name: role for role in ROLES[kind]}
    taken: dict[int, Column] = {}
    problems: list[FieldProblem] = []
    notes: list[str] = []
    for name, text in stated.items():
        try:
            if name not in roles:
                raise unknown("column", name, roles, kind=f"column of a {kind.replace('_', '-')} trace")
            column = _stated(roles[name], text, columns)
            taken[column.number] = column
        except FieldProblem as problem:
            problems.append(problem)
    for role in roles.values():
        if role.name in stated:
            continue
        free = [column for column in columns if column.number not in taken]
        try:
            found = _found(role, free)
        except FieldProblem as problem:
            if role.needed:
                problems.append(problem)
            else:
                notes.append(f"{problem} Nothing is made of it now.")
            continue
        if found is not None:
            taken[found.number] = found
    if kind == "holding" and "pressure" not in stated:
        problems += _of_a_drive(columns, taken.values())
    if problems:
        raise Problems(problems)
    return tuple(taken.get(column.number, column) for column in columns), tuple(notes)


def _of_a_drive(columns: Iterable[Column], taken: Iterable[Column]) -> list[FieldProblem]:
    """A pressure logged beside a mixture is a manifold's, rather than what stays after the stop."""
    mixture = next((column for column in columns if column.dimension in ("lambda", "afr")), None)
    pressure = next((column for column in taken if column.role == "pressure"), None)
    if mixture is None or pressure is None:
        return []
    return [
        FieldProblem(
            "pressure", pressure.named,
            f"stands beside column {mixture.named}: is it a manifold's, in a drive?",
            remedy=f"A drive is --kind running. If it is the fuel's: --column pressure={pressure.number}",
        )
    ]  # fmt: skip


def _kind(cells: Sequence[str], decimal: str) -> Kind:
    if not cells:
        return "empty"
    tests = {
        "figure": lambda cell: is_figure(cell, decimal),
        "date": lambda cell: DATE.fullmatch(cell) is not None,
        "clock": is_clock,
    }
    for kind, holds in tests.items():
        if sum(map(holds, cells)) > MOSTLY * len(cells):
            return kind  # type: ignore[return-value]
    return "text"


def _no_unit(layout: Layout, place: int, kind: Kind) -> str:
    if kind == "figure":
        return "no unit stands in its head" if layout.names[place] else "it has no head"
    return {"clock": "times of day", "date": "dates", "empty": "it is empty"}.get(kind, "text")


def _values(cells: Sequence[str], kind: Kind, layout: Layout) -> tuple[float, ...]:
    if kind == "figure":
        plain = (cell.replace(",", ".") for cell in cells if is_figure(cell, layout.decimal))
        return tuple(float(cell) for cell in plain)
    if kind == "clock":
        parts = (re.findall(r"\d+(?:[.,]\d+)?", cell.split()[-1]) for cell in cells)
        return tuple(
            sum(float(part.replace(",", ".")) * 60.0 ** (2 - n) for n, part in enumerate(found))
            for found in parts
        )
    return ()


def _stated(role: Role, text: str, columns: Sequence[Column]) -> Column:
    """A column that the person named, by number or head, with its unit where that was said too."""
    wanted, _, unit = text.partition(":")
    by_head = {column.head: column for column in columns}
    number = whole(wanted) or 0
    if 1 <= number <= len(columns):
        column = columns[number - 1]
    elif text in by_head:
        column, unit = by_head[text], ""
    elif wanted in by_head:
        column = by_head[wanted]
    else:
        listed = ", ".join(column.named for column in columns[:12])
        raise FieldProblem(role.name, text, "is no column of this file", allowed=listed)
    if column.kind == "clock" and role.name == "time":
        return replace(column, role="time", clock=unit.strip(), why="said so")
    if column.kind != "figure":
        raise FieldProblem(role.name, text, f"holds no figures but {column.why}")
    named = _unit_said(role, unit.strip(), text) if unit.strip() else column.unit
    if named is None or named.unit.dimension not in role.dimensions:
        units = ", ".join(role.bare) or kind_words(role.dimensions)
        stands = f"is in {named.text}" if named else "names no unit"
        form = f"--column {role.name}={column.number}:UNIT"
        raise FieldProblem(role.name, column.named, stands, allowed=units, remedy=f"Say its unit too: {form}")
    return replace(column, role=role.name, unit=named, why="said so")


def _unit_said(role: Role, unit: str, text: str) -> NamedUnit:
    found = [one for one in units_named(unit) if one.dimension in role.dimensions]
    if not found:
        words = kind_words(role.dimensions)
        raise FieldProblem(role.name, text, f"has {unit!r}, which is no unit of {words}")
    return NamedUnit(unit, found[0], absolute=False)


def _found(role: Role, columns: Sequence[Column]) -> Column | None:
    if role.name == "time":
        return _time(role, columns)
    named = [column for column in columns if column.kind == "figure" and column.dimension in role.dimensions]
    if len(named) == 1:
        return replace(named[0], role=role.name)
    if len(named) > 1:
        raise _which(role, named)
    return _by_shape(role, [column for column in columns if column.unit is None and _moves(column)])


def _time(role: Role, columns: Sequence[Column]) -> Column:
    """A clock, or what climbs from row to row."""
    named = [column for column in columns if column.dimension == "time" and _runs_on(column.values)]
    clocks = [column for column in columns if column.kind == "clock"]
    for some in (named, clocks):
        if len(some) > 1:
            raise _which(role, some)
        if some:
            return _read_clock(role, some[0]) if some is clocks else replace(some[0], role="time")
    bare = [column for column in columns if column.unit is None and _runs_on(column.values)]
    ends = [(column, unit) for column in bare if (unit := time_unit_at_the_end(column.head))]
    if len(ends) == 1:
        column, unit = ends[0]
        return replace(column, role="time", unit=unit, why=f"it climbs, and its head ends in {unit.text}")
    if len(bare) > 1:
        bare = [column for column in bare if _even(column.values)] or bare
    many = max((len(column.values) for column in columns), default=0)
    if not bare and many < FEWEST_ROWS:
        raise FieldProblem(
            "file", None, f"holds {many} rows of figures: too few to tell a time, or a fit, from"
        )
    if not bare:
        raise FieldProblem(
            "time",
            None,
            "is missing: no column climbs from row to row",
            remedy="Is it there, in order, and not backwards? --column time=N says which",
        )
    units = _units_that_fit(role, bare[0])
    if len(bare) > 1:
        raise _which(role, bare)
    if len(units) != 1:
        raise _which_unit(role, bare[0], units)
    long = bare[0].values[-1] - bare[0].values[0]
    why = f"it climbs from row to row; {long:g} long, such a trace can only be in {units[0].text}"
    return replace(bare[0], role="time", unit=units[0], why=why)


def _read_clock(role: Role, column: Column) -> Column:
    """A time of three parts is clear; of two it is what leaves a trace of sensible length."""
    if column.clock != TWO_PARTS:
        return replace(column, role="time")
    low, high = role.bare["s"]
    long = column.values[-1] - column.values[0]
    fit = [clock for clock, size in ((H_MIN, long), (MIN_S, long / 60.0)) if low <= size <= high]
    if len(fit) != 1:
        raise FieldProblem(
            "time", column.named, "is not clear: hours and minutes, or minutes and seconds",
            remedy=f"Say --column time={column.number}:{H_MIN}, or --column time={column.number}:{MIN_S}",
        )  # fmt: skip
    return replace(
        column, role="time", clock=fit[0], why=f"times of day; only as {fit[0]} is it of sensible length"
    )


def _units_that_fit(role: Role, column: Column) -> list[NamedUnit]:
    long = column.values[-1] - column.values[0] if column.values else 0.0
    fit = [unit for unit, (low, high) in role.bare.items() if low <= long <= high]
    return [NamedUnit(unit, units_named(unit)[0], absolute=False) for unit in fit]


def _by_shape(role: Role, columns: Sequence[Column]) -> Column | None:
    """The one column without a unit whose values lie where only one unit puts them."""
    fitting = []
    for column in columns:
        top = max(column.values)
        units = [unit for unit, (low, high) in role.bare.items() if low <= top <= high]
        fitting += [(column, unit) for unit in units]
    if len(fitting) == 1:
        column, unit = fitting[0]
        found = next(one for one in units_named(unit) if one.dimension in role.dimensions)
        why = f"the only column without a unit that fits; up to {max(column.values):g} it can only be {unit}"
        return replace(column, role=role.name, unit=NamedUnit(unit, found, absolute=False), why=why)
    if fitting:
        raise _which(role, list(dict.fromkeys(column for column, _ in fitting)))
    if role.needed:
        there = ", ".join(column.named for column in columns) or "none"
        raise FieldProblem(
            role.name,
            None,
            f"is missing: no column names a unit of {kind_words(role.dimensions)}, and none without one fits",
            allowed=f"columns without a unit: {there}",
            remedy=f"Say which, and its unit: --column {role.name}=N:{next(iter(role.bare), 'UNIT')}",
        )
    return None


def _which(role: Role, columns: Iterable[Column]) -> FieldProblem:
    listed = list(columns)
    unit = (
        "" if all(column.unit or column.kind == "clock" for column in listed) else ":" + next(iter(role.bare))
    )
    first = listed[0].number
    return FieldProblem(
        role.name,
        None,
        f"is not clear: {role.says} could be column {' or '.join(column.named for column in listed)}",
        remedy=f"Say which: --column {role.name}={first}{unit}",
    )


def _which_unit(role: Role, column: Column, units: Sequence[NamedUnit]) -> FieldProblem:
    """The column is clear, its unit is not."""
    long = column.values[-1] - column.values[0]
    fit = [unit.text for unit in units] or list(role.bare)
    tried = f"by its length of {long:g} it could be in {' or '.join(fit)}"
    wrong = tried if units else f"{long:g} long, it is no such trace in {', '.join(fit)}"
    return FieldProblem(
        role.name,
        column.named,
        f"names no unit: {wrong}",
        remedy=f"Say which: --column {role.name}={column.number}:{fit[0]}",
    )


def _parts(cells: Sequence[str]) -> str:
    """How many parts the times of day have, and which those are where it shows."""
    last = [cell.split("+")[0] for cell in cells]
    if any(cell.count(":") > 1 for cell in last):
        return "h:min:s"
    return MIN_S if any("." in cell or "," in cell for cell in last) else TWO_PARTS


def _runs_on(values: Sequence[float]) -> bool:
    steps = [later - earlier for earlier, later in pairwise(values)]
    forward = sum(step >= 0.0 for step in steps)
    return len(steps) > 2 and values[-1] > values[0] and forward > MOSTLY * len(steps)


def _even(values: Sequence[float]) -> bool:
    """Whether most steps are alike, as a time's are and a climbing reading's are not."""
    steps = sorted(later - earlier for earlier, later in pairwise(values))
    middle = steps[len(steps) // 2]
    return middle > 0.0 and sum(abs(step - middle) <= 0.2 * middle for step in steps) > 0.6 * len(steps)


def _moves(column: Column) -> bool:
    return column.kind == "figure" and bool(column.values) and max(column.values) > min(column.values)
