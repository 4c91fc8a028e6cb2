"""The chart of a trace: one definition for page, record and file.

Drawn for paper: what was read in grey points, the fit a full line in its band of doubt, the sheet's limits
dashed; a grey print loses nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from evenpour.errors import FieldProblem
from evenpour.job.trace.answers import TracePlot
from evenpour.job.writing_files import write_whole
from evenpour.record.charts import CONFIG, Chart, Sketch
from evenpour.record.panels import GREY, INK, PAPER, PAPER_GREY

WIDTH, HEIGHT = 520, 260  # px
NARROW = 310  # px
NARROW_LETTERS = {"labelFontSize": 13, "titleFontSize": 13}  # px: a phone shows them a little smaller
ROOM = 0.06  # of the height, above and below


def trace_chart(plot: TracePlot, name: str = "t", *, narrow: bool = False) -> Chart:
    """What was read and what was fitted.

    Args:
        name: Makes the drawing's ids its own, so that several can stand in one page.
        narrow: For a phone: its words stay readable there, and what its lines mean is left to the caption.
    """
    return trace_sketch(plot, name, narrow=narrow).chart()


def trace_sketch(plot: TracePlot, name: str = "t", *, narrow: bool = False) -> Sketch:
    """The same before it is drawn."""
    return Sketch(trace_spec(plot, narrow=narrow), name, alt(plot), caption(plot))


def narrow_trace_chart(plot: TracePlot, name: str) -> Chart:
    """The same for a phone."""
    return trace_chart(plot, name, narrow=True)


def trace_spec(plot: TracePlot, *, narrow: bool = False) -> dict[str, Any]:
    """The chart as a Vega-Lite specification."""
    seen = [y for one in plot.points for y in (one.y - one.half, one.y + one.half)]
    seen += [side for one in plot.line for side in (one.low, one.high)]
    seen += [y for mark in plot.marks for y in mark.y]
    low, high = min(seen), max(seen)
    room = ROOM * (high - low) or 0.1
    xs = [one.x for one in plot.points] + [one.x for one in plot.line]
    scale = {"domain": [min(xs), max(xs)], "nice": False} | ({"type": "log"} if plot.log_x else {})
    x = {"field": "x", "type": "quantitative", "scale": scale, "axis": {"title": plot.x_title, "grid": False}}
    y = {
        "field": "y",
        "type": "quantitative",
        "scale": {"domain": [low - room, high + room], "nice": False, "zero": False},
        "axis": {"title": plot.y_title, "grid": False, "tickCount": 6},
    }
    stretches = any(one.half for one in plot.points)
    layers = [_band(plot, x, y), *_marks(plot, x, y), *_points(plot, x, y, stretches), _line(plot, x, y)]
    return {
        "width": NARROW if narrow else WIDTH,
        "height": HEIGHT,
        "title": {"text": plot.title, **({} if narrow else {"subtitle": [_legend(plot, stretches)]})},
        "layer": layers,
        "config": _narrow_config() if narrow else CONFIG,
        "background": None,
    }


def _narrow_config() -> dict[str, Any]:
    return CONFIG | {"axis": CONFIG["axis"] | NARROW_LETTERS, "title": CONFIG["title"] | {"fontSize": 14}}


def alt(plot: TracePlot) -> str:
    """The chart in words."""
    first, last = plot.line[0], plot.line[-1]
    return (
        f"{plot.title}. {plot.y_title} over {plot.x_title}: from {first.y:.3g} at {first.x:.3g} to "
        f"{last.y:.3g} at {last.x:.3g}; 95 per cent of what is likely there lies between {last.low:.3g} "
        f"and {last.high:.3g}."
    )


def caption(plot: TracePlot) -> str:
    """What its lines mean."""
    return f"{plot.title}: {_legend(plot, any(one.half for one in plot.points))}."


def write_trace_chart(plot: TracePlot, target: Path) -> None:
    """The chart into a file.

    Raises:
        FieldProblem: the file's name does not end in .svg, or it cannot be written.
    """
    if target.suffix.lower() != ".svg":
        raise FieldProblem("chart", str(target), "is no form a chart is written in", allowed="FILE.svg")
    write_whole(target, trace_chart(plot).svg.encode())


def _legend(plot: TracePlot, stretches: bool) -> str:
    read = "points: steady stretches, with their own doubt" if stretches else "points: what was read"
    limits = "".join(f"; dashed: {label}" for label in dict.fromkeys(mark.label for mark in plot.marks))
    return f"{read}; line: the fit; grey: there it lies 19 times in 20{limits}"


def _band(plot: TracePlot, x: Mapping[str, Any], y: Mapping[str, Any]) -> dict[str, Any]:
    rows = [{"x": one.x, "y": one.low, "high": one.high} for one in plot.line]
    return {
        "data": {"values": rows},
        "mark": {"type": "area", "color": PAPER_GREY, "opacity": 1, "clip": True},
        "encoding": {"x": x, "y": y, "y2": {"field": "high"}},
    }


def _marks(plot: TracePlot, x: Mapping[str, Any], y: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [
        {
            "data": {"values": [{"x": a, "y": b} for a, b in zip(mark.x, mark.y, strict=True)]},
            "mark": {"type": "line", "color": INK, "strokeWidth": 1.2, "strokeDash": [5, 4], "clip": True},
            "encoding": {"x": x, "y": y},
        }
        for mark in plot.marks
    ]


def _points(
    plot: TracePlot, x: Mapping[str, Any], y: Mapping[str, Any], stretches: bool
) -> list[dict[str, Any]]:
    rows = [
        {"x": one.x, "y": one.y, "low": one.y - one.half, "high": one.y + one.half} for one in plot.points
    ]
    look = {"type": "point", "filled": not stretches, "size": 26 if stretches else 7, "opacity": 1}
    dots = {
        "data": {"values": rows},
        "mark": look
        | {"color": INK if stretches else GREY, "strokeWidth": 1.1}
        | ({"fill": PAPER} if stretches else {}),
        "encoding": {"x": x, "y": y},
    }
    if not stretches:
        return [dots]
    bars = {
        "data": {"values": rows},
        "mark": {"type": "rule", "color": GREY, "strokeWidth": 0.9},
        "encoding": {"x": x, "y": {**y, "field": "low"}, "y2": {"field": "high"}},
    }
    return [bars, dots]


def _line(plot: TracePlot, x: Mapping[str, Any], y: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "data": {"values": [{"x": one.x, "y": one.y} for one in plot.line]},
        "mark": {"type": "line", "color": INK, "strokeWidth": 2, "clip": True},
        "encoding": {"x": x, "y": y},
    }
