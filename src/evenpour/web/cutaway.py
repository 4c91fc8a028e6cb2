"""The drawing of the opened machine: where each moving piece stands, and what is written beside it.

The drawing itself stands in the templates, in a field some 360 wide; what moves in it carries an id, and
gets its place from here, by the model's numbers alone. Page and script take the same places and words.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from markupsafe import Markup, escape

from evenpour.job.whatif.answers import InsideTold
from evenpour.job.whatif.bench import Bench
from evenpour.job.whatif.figures import Figure
from evenpour.job.whatif.parts import bench_data

# ---- the air meter ----
UNSEEN = 0.004  # share of a lift or a flow, below which a piece counts as standing where it stood
THROAT = 236.0  # height of the funnel's narrowest edge
LIFTED = 84.0  # how far the plate is drawn lifted at the sheet's full opening
FUNNEL_TOP = 100.0  # over the throat, where the drawn funnel ends
BELOW = 12.0  # the lever under its plate
PLATE_X, PIVOT_X, PLUNGER_X = 102.0, 330.0, 268.0
FOOT = 213.0  # the plunger's foot, its edge at the slit's beginning
# ---- the slit, enlarged: in the meter's figure and in the row of slits ----
LENS_FOOT, LENS_ROOM, LENS_MARK = 72.0, 66.0, 10.0  # slit's beginning; room above it; height of a mark
ROW_FOOT, ROW_ROOM, ROW_MARK = 100.0, 84.0, 14.0
MARKS = 3  # about so many reach to the healthy car's edge
TICKS = (0, 2, 4, 6)
FINEST = 0.02  # mm, the least a mark stands for
# ---- cylinders in a row ----
ROW_LEFT, ROW_RIGHT = 52.0, 357.0
COLUMN = 38.0  # as wide as a cylinder is drawn
LINES = (329.0, 348.0, 367.0)  # the figures at the foot
CROWDED = 6  # cylinders, above which their figures stand higher and lower in turn
LINE, GAP = 17.0, 4.0  # then a line is so high, and so far from the next figure's
TRAVEL = 13.0  # a pressure valve's whole travel
DROP = 11.0  # how wide a drop is drawn, half of it, at the healthy car's full load
# ---- supply and control ----
RETURN_GAP = 9.0  # the primary regulator's opening, all of the healthy car's flow going back
CONTROL_GAP = 6.0  # the control-pressure regulator's, cold
SEAT, CHAMBER, STRIP, SPRING = (
    51.0,
    60.0,
    100.0,
    20.0,
)  # heights: of seat, chamber, strip at 20 degrees; spring
VALVE_X, CLAMP_X = 112, 186
BEND_PER_DEGREE, LEAST_BEND, MOST_BEND = 0.09, -4.0, 15.0
ACCUMULATOR_FOOT, FULL_ACCUMULATOR = 276.0, 38.0


@dataclass(slots=True)
class Drawing:
    """What moves and what is written, by the id of its element."""

    moves: dict[str, dict[str, str]] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)

    def at(self, name: str) -> Markup:
        """The attributes of an element, its id among them, for the template."""
        pairs = [("id", name), *self.moves.get(name, {}).items()]
        return Markup(" ").join(Markup('{}="{}"').format(key, value) for key, value in pairs)

    def word(self, name: str) -> Markup:
        """What is written in an element."""
        return escape(self.words[name])

    def move(self, name: str, **attributes: object) -> None:
        """Place an element; ``data_lift`` is the attribute ``data-lift``."""
        told = {key.replace("_", "-"): _said(value) for key, value in attributes.items()}
        self.moves.setdefault(name, {}).update(told)

    def mark(self, name: str, now: float, healthy: float) -> None:
        """Whether a piece stands otherwise than on the healthy car: then it is drawn in the accent."""
        moved = abs(now - healthy) > UNSEEN * max(abs(now), abs(healthy))
        self.move(name, **{"class": "moved" if moved else "unmoved"})

    def write(self, name: str, figure: Figure, *, unit: bool = True) -> None:
        """Write a figure; where it differs from the healthy car's, what that was stands below."""
        self.words[name] = _short(figure.text) if unit else figure.number
        self.words[f"{name}-was"] = f"was {figure.healthy}" if figure.changed else ""
        self.moves[name] = {"class": "value changed" if figure.changed else "value"}


def _said(value: object) -> str:
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def _short(text: str) -> str:
    """In the drawing an ounce is an ounce: which one stands in the list beside it."""
    return text.replace("US fl oz", "oz").replace("imp fl oz", "oz")


@dataclass(frozen=True, slots=True)
class Column:
    """One cylinder in the row: its middle, and the transform that draws it there.

    ``between``: half way to the next; ``to_slit``, ``to_valve``, ``to_line``, ``to_injector``: where the
    parts' numbers point at. ``rows``: how low its figures stand.
    """

    number: int
    x: float
    place: str
    between: float
    to_slit: str
    to_valve: str
    to_line: str
    to_injector: str
    rows: tuple[float, ...]


def drawing(bench: Bench) -> Drawing:
    """The drawing of a bench."""
    found = Drawing()
    _meter(found, bench)
    _metering(found, bench)
    _supply(found, bench)
    _parts(found, bench)
    for figure in bench_data().figures:
        found.move(f"figure-{figure}", aria_label=". ".join(_alt(bench, figure)))
    return found


def columns(cylinders: int) -> tuple[Column, ...]:
    """Where the cylinders stand in their row; more than eight are drawn narrower."""
    width = (ROW_RIGHT - ROW_LEFT) / cylinders
    in_turn = cylinders > CROWDED
    return tuple(
        _column(one, round(ROW_LEFT + (one + 0.5) * width, 2), width, in_turn) for one in range(cylinders)
    )


def _column(place: int, x: float, width: float, in_turn: bool) -> Column:
    narrow = min(1.0, width / COLUMN)
    drawn = f"translate({x:g} 0)" + ("" if narrow == 1.0 else f" scale({narrow:.3f} 1)")
    valve, line, injector = (f"{x - away * narrow:.1f}" for away in (15.0, 3.0, 7.0))
    lower = LINE * (place % 2) if in_turn else 0.0
    rows = tuple(one + row * (LINE + GAP) * in_turn + lower for row, one in enumerate(LINES))
    return Column(
        number=place + 1, x=x, place=drawn, between=x + 0.5 * width, to_slit=f"{x + 5.0 * narrow:.1f} 56",
        to_valve=f"{valve} 150", to_line=f"{line} 219", to_injector=f"{injector} 250", rows=rows,
    )  # fmt: skip


def _meter(found: Drawing, bench: Bench) -> None:
    now, healthy, figures = bench.drawn, bench.state.healthy, bench.figures
    for name, inside in (("", now), ("-was", healthy)):
        y = plate_height(bench, inside)
        found.move(
            f"plate{name}", transform=f"translate(0 {_said(y - THROAT)})", data_lift=inside.plate_lift_mm
        )
        found.move(f"lever{name}", x1=PLATE_X, y1=y + BELOW, x2=PIVOT_X, y2=THROAT + BELOW)
    for name in ("plate", "lever"):
        found.mark(name, now.plate_lift_mm, healthy.plate_lift_mm)
    risen = plunger_rise(bench, now)
    found.move("plunger", transform=f"translate(0 {_said(-risen)})", data_lift=now.plunger_lift_mm)
    foot, lever = FOOT - risen, THROAT + BELOW - _lever_share() * (THROAT - plate_height(bench, now))
    found.move("screw-link", y=foot, height=max(lever - foot, 1.0))
    found.mark("key", now.screw_turn, healthy.screw_turn)
    found.move("key", transform=f"rotate({_said(360.0 * now.screw_turn)})", data_turns=now.screw_turn)
    found.move("key-way", d=_arc(now.screw_turn))
    mark = mark_of(bench)
    for name, inside in (("", now), ("-was", healthy)):
        y = _edge(inside.plunger_lift_mm, mark, LENS_FOOT, LENS_ROOM, LENS_MARK)
        found.move(f"lens-edge{name}", transform=f"translate(0 {_said(y)})", data_lift=inside.plunger_lift_mm)
    y = _edge(now.plunger_lift_mm, mark, LENS_FOOT, LENS_ROOM, LENS_MARK)
    found.move("lens-line", transform=f"translate(0 {_said(y)})")
    found.mark("lens-line", now.plunger_lift_mm, healthy.plunger_lift_mm)
    found.move("lens-fuel", y=min(y, LENS_FOOT), height=max(LENS_FOOT - y, 0.0))
    found.words["lens-mark"] = f"{mark * bench.fine[1]:.3g} {bench.fine[0]}"
    for name, key in (
        ("w-air", "plate_air"), ("w-lift", "plate_lift"),
        ("w-control", "control_pressure"), ("w-system", "system_pressure"), ("w-open", "plunger_lift"),
        ("w-leak", "leak_air"), ("w-screw", "screw"), ("w-lambda", "lambda"),
    ):  # fmt: skip
        found.write(name, figures[key])
    found.write("w-fuel", figures["fuel"], unit=False)
    found.words["w-fuel-unit"] = _short(figures["fuel"].unit)


def plate_height(bench: Bench, inside: InsideTold) -> float:
    """Where the plate is drawn: by its lift, the sheet's full opening being LIFTED high."""
    drawn = inside.plate_lift_mm * LIFTED / bench.full.plate_lift_mm
    return THROAT - min(drawn, FUNNEL_TOP)


def plunger_rise(bench: Bench, inside: InsideTold) -> float:
    """How far the plunger is drawn over the slit's beginning: in step with the lever it stands on."""
    stroke = bench.full.plunger_lift_mm - bench.still.plunger_lift_mm
    return inside.plunger_lift_mm * _lever_share() * LIFTED / stroke


def _lever_share() -> float:
    return (PIVOT_X - PLUNGER_X) / (PIVOT_X - PLATE_X)


def _arc(turns: float, radius: float = 15.0) -> str:
    """The way the key has gone, from straight up; a whole turn and more is a full ring."""
    part = max(-0.999, min(0.999, turns))
    if abs(part) < 1e-3:
        return ""
    angle = 2.0 * math.pi * part
    x, y = radius * math.sin(angle), -radius * math.cos(angle)
    return f"M0 {-radius:g}A{radius:g} {radius:g} 0 {int(abs(part) > 0.5)} {int(part > 0.0)} {x:.2f} {y:.2f}"


def mark_of(bench: Bench) -> float:
    """What a mark of the enlarged slits stands for, [mm]: 1, 2 or 5 of the user's unit, or tens of them.

    It goes with the state alone, so that the healthy edge takes a few: the scale stays as it is while one
    turns something.
    """
    _, per_mm = bench.fine
    wanted = max(abs(bench.state.healthy.plunger_lift_mm) / MARKS, FINEST) * per_mm
    size = 10.0 ** math.floor(math.log10(wanted))
    return next(step * size for step in (1.0, 2.0, 5.0, 10.0) if wanted <= 1.5 * step * size) / per_mm


def _edge(lift: float, mark: float, foot: float, room: float, height: float) -> float:
    """Where the plunger's edge is drawn; out of the field it stays at its rim."""
    return foot - max(-0.6 * height, min(lift / mark * height, room))


def ticks() -> tuple[float, ...]:
    """Where the marks of the scale beside the slits stand; every second one is written."""
    return tuple(ROW_FOOT - one * ROW_MARK for one in TICKS)


def _metering(found: Drawing, bench: Bench) -> None:
    now, healthy, figures = bench.drawn, bench.state.healthy, bench.figures
    mark = mark_of(bench)
    edge = _edge(now.plunger_lift_mm, mark, ROW_FOOT, ROW_ROOM, ROW_MARK)
    was = _edge(healthy.plunger_lift_mm, mark, ROW_FOOT, ROW_ROOM, ROW_MARK)
    for place, one in enumerate(TICKS, start=1):
        found.words[f"tick-{place}"] = f"{one * mark * bench.fine[1]:.3g}"
    found.move("row-edge", transform=f"translate(0 {_said(edge)})", data_lift=now.plunger_lift_mm)
    found.move("row-line", transform=f"translate(0 {_said(edge)})")
    found.move("row-edge-was", transform=f"translate(0 {_said(was)})")
    found.mark("row-line", now.plunger_lift_mm, healthy.plunger_lift_mm)
    for port, before in zip(now.ports, healthy.ports, strict=True):
        number = port.cylinder
        found.mark(f"valve-{number}", port.valve_open, before.valve_open)
        found.mark(f"drop-{number}", port.fuel_ml_per_min, before.fuel_ml_per_min)
        opened = min(port.slit_open_mm / mark * ROW_MARK, ROW_ROOM)
        found.move(f"slit-{number}", y=edge, height=opened, data_open=port.slit_open_mm)
        gap = TRAVEL * port.valve_open
        found.move(f"valve-{number}", transform=f"translate(0 {_said(gap)})", data_open=port.valve_open)
        size = drop_size(bench, port.fuel_ml_per_min)
        found.move(f"drop-{number}", transform=f"scale({_said(size)})", data_flow=port.fuel_ml_per_min)
        size = drop_size(bench, before.fuel_ml_per_min)
        found.move(f"drop-{number}-was", transform=f"scale({_said(size)})")
        for name, key in (("w-port", "port_fuel"), ("w-before", "before_injector"), ("w-mix", "lambda")):
            found.write(f"{name}-{number}", figures[f"{key}.{number}"], unit=False)
    found.words["w-port-unit"] = _short(figures["port_fuel.1"].unit)
    found.words["w-before-unit"] = figures["before_injector.1"].unit
    found.write("w-drop-over", figures["slit_drop.1"])
    found.write("w-under", figures["system_pressure"])
    found.write("w-duty", figures["duty"])


def drop_size(bench: Bench, flow: float) -> float:
    """How many times its unit size a drop is drawn: as wide as the root of the flow, full load being DROP."""
    full = max(port.fuel_ml_per_min for port in bench.most.ports)
    return DROP * math.sqrt(max(flow, 0.0) / full)


def _supply(found: Drawing, bench: Bench) -> None:
    now, healthy, figures = bench.drawn, bench.state.healthy, bench.figures
    returned = RETURN_GAP * now.return_ml_per_min / bench.still.return_ml_per_min
    found.move("primary", transform=f"translate({_said(-returned)} 0)", data_flow=now.return_ml_per_min)
    gap = CONTROL_GAP * now.control_ml_per_min / bench.still.control_ml_per_min
    gap = min(gap, 2.0 * CONTROL_GAP)
    found.move("regulator", transform=f"translate(0 {_said(SEAT + gap)})", data_flow=now.control_ml_per_min)
    found.mark("primary", now.return_ml_per_min, healthy.return_ml_per_min)
    found.mark("regulator", now.control_ml_per_min, healthy.control_ml_per_min)
    found.mark("bimetal", now.regulator_temperature_degc, healthy.regulator_temperature_degc)
    found.mark("accumulator-edge", now.system_pressure_bar, healthy.system_pressure_bar)
    found.move("chamber", height=max(SEAT + gap - CHAMBER, 0.0))
    spring = (STRIP - _bend(now) - SEAT - gap) / SPRING
    found.move(
        "control-spring", transform=f"translate({VALVE_X} {_said(SEAT + gap)}) scale(1 {_said(spring)})"
    )
    found.move("bimetal", d=_bent(now), data_temperature=now.regulator_temperature_degc)
    found.move("bimetal-was", d=_bent(healthy))
    share = max(0.0, min(1.0, now.system_pressure_bar / bench.still.system_pressure_bar))
    height = FULL_ACCUMULATOR * share
    found.move("accumulator", y=ACCUMULATOR_FOOT - height, height=height)
    found.move("accumulator-edge", transform=f"translate(0 {_said(ACCUMULATOR_FOOT - height)})")
    for name, key in (
        ("w-volts", "pump_voltage"), ("w-brings", "pump_flow"), ("w-before-filter", "pump_pressure"),
        ("w-system-2", "system_pressure"), ("w-returned", "return_flow"), ("w-control-2", "control_pressure"),
        ("w-control-flow", "control_flow"), ("w-warm", "regulator_temperature"), ("w-injected", "fuel"),
    ):  # fmt: skip
        found.write(name, figures[key])


def _bend(inside: InsideTold) -> float:
    """How far the strip's free end stands above where it lies at 20 degrees."""
    bend = BEND_PER_DEGREE * (inside.regulator_temperature_degc - 20.0)
    return max(LEAST_BEND, min(bend, MOST_BEND))


def _bent(inside: InsideTold) -> str:
    """The bimetal strip, from its clamp to its free end under the spring."""
    y = STRIP - _bend(inside)
    return f"M{CLAMP_X} 100Q{0.5 * (CLAMP_X + VALVE_X):g} 100 {VALVE_X} {_said(y)}"


def _parts(found: Drawing, bench: Bench) -> None:
    """What stands beside each part's name in the list."""
    for part in bench.parts:
        for place, (_, key) in enumerate(part.reads, start=1):
            name, figure = f"part-{part.id}-{place}", bench.figures[key]
            found.write(name, figure)
            found.words[name] = figure.text
            found.words[f"{name}-was"] = f"(healthy {figure.was})" if figure.changed else ""


def _alt(bench: Bench, figure: str) -> Iterator[str]:
    """A figure in words: its title, the state, and what its parts read."""
    yield bench_data().figures[figure]
    yield f"{bench.state.title[:1].upper()}{bench.state.title[1:]}"
    for part in bench.parts:
        if part.figure == figure and part.reads:
            yield f"{part.title}: " + ", ".join(
                f"{label} {bench.figures[key].text}" for label, key in part.reads
            )
