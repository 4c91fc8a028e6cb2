"""The chart of lambda over air flow: one definition for page, record and file.

Drawn for paper: ink on white. The car as set is a full line with filled marks, the healthy one a dashed line
with hollow marks, healthy cars a grey band, the sheet's limits upright bars; a grey print loses nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from evenpour.errors import FieldProblem
from evenpour.job.whatif.answers import CurveMark, MixtureCurve
from evenpour.job.writing_files import write_whole
from evenpour.record.charts import CONFIG, Chart, Sketch
from evenpour.record.panels import GREY, INK, PAPER, PAPER_GREY

WIDTH, HEIGHT = 520, 260  # px
LEAST, MOST = 0.6, 1.6  # lambda, beyond which nothing is drawn
AIR_TICKS = (2, 3, 5, 7, 10, 15, 20, 30, 50, 70, 100, 150, 200, 300, 500)  # g/s
BESIDE = 12  # px, from a mark to its name


def mixture_chart(curve: MixtureCurve, *, changed: bool = True, name: str = "m") -> Chart:
    """Lambda over the air through the plate.

    Args:
        changed: Whether anything was set; else only the healthy car is drawn.
        name: Makes the drawing's ids its own, so that several can stand in one page.
    """
    return mixture_sketch(curve, changed=changed, name=name).chart()


def mixture_sketch(curve: MixtureCurve, *, changed: bool = True, name: str = "m") -> Sketch:
    """The same before it is drawn."""
    return Sketch(mixture_spec(curve, changed=changed), name, alt(curve, changed), caption(curve, changed))


def mixture_spec(curve: MixtureCurve, *, changed: bool = True) -> dict[str, Any]:
    """The chart as a Vega-Lite specification."""
    low, high = _domain(curve, changed)
    x = {
        "field": "air",
        "type": "quantitative",
        "scale": {
            "type": "log",
            "domain": [curve.air_g_per_s[0], curve.air_g_per_s[-1] * 1.06],
            "nice": False,
        },
        "axis": {
            "title": "air through the plate, g/s",
            "values": [tick for tick in AIR_TICKS if curve.air_g_per_s[0] <= tick <= curve.air_g_per_s[-1]],
            "format": "d",
            "grid": False,
        },
    }
    y = {
        "field": "lambda",
        "type": "quantitative",
        "scale": {"domain": [low, high], "nice": False, "zero": False},
        "axis": {"title": "lambda", "format": ".2f", "grid": False, "tickCount": 6},
    }
    layers = [
        _band(curve, x, y),
        _even_line(y),
        _limits(curve.marks, x, y),
        _line(curve.air_g_per_s, curve.healthy, x, y, dash=[5, 3], width=1.2),
        _marks([(one.healthy_air_g_per_s, one.healthy_lambda) for one in curve.marks], x, y, PAPER),
    ]
    if changed:
        layers.append(_line(curve.air_g_per_s, curve.lambda_, x, y, dash=[], width=2.2))
        layers.append(_marks([(one.air_g_per_s, one.lambda_) for one in curve.marks], x, y, INK))
    layers.append(_names(curve.marks, x, y, low))
    return {
        "width": WIDTH,
        "height": HEIGHT,
        "title": {"text": "Lambda over air flow, engine warm", "subtitle": _legend(changed)},
        "layer": layers,
        "config": CONFIG,
        "background": None,
    }


def _domain(curve: MixtureCurve, changed: bool) -> tuple[float, float]:
    seen = [*curve.low, *curve.high, 1.0]
    seen += [side for mark in curve.marks for side in (mark.low, mark.high) if side is not None]
    if changed:
        seen += [
            *(one for one in curve.lambda_ if one is not None),
            *(mark.lambda_ for mark in curve.marks if mark.lambda_ is not None),
        ]
    return max(LEAST, min(seen) - 0.03), min(MOST, max(seen) + 0.05)


def _legend(changed: bool) -> list[str]:
    healthy = "dashed, hollow: healthy car; grey: 90 of 100 healthy cars; bars: the sheet's limits"
    return [f"full line, filled: as set; {healthy}"] if changed else [healthy]


def _band(curve: MixtureCurve, x: Mapping[str, Any], y: Mapping[str, Any]) -> dict[str, Any]:
    rows = [
        {"air": air, "lambda": low, "high": high}
        for air, low, high in zip(curve.air_g_per_s, curve.low, curve.high, strict=True)
    ]
    return {
        "data": {"values": rows},
        "mark": {"type": "area", "color": PAPER_GREY, "opacity": 1, "clip": True},
        "encoding": {"x": x, "y": y, "y2": {"field": "high"}},
    }


def _even_line(y: Mapping[str, Any]) -> dict[str, Any]:
    """Lambda 1, where all air and all fuel burn."""
    return {
        "data": {"values": [{"lambda": 1.0}]},
        "mark": {"type": "rule", "color": GREY, "strokeWidth": 0.8},
        "encoding": {"y": y},
    }


def _line(
    air: Sequence[float],
    mixture: Sequence[float | None],
    x: Mapping[str, Any],
    y: Mapping[str, Any],
    *,
    dash: Sequence[int],
    width: float,
) -> dict[str, Any]:
    rows = [
        {"air": one, "lambda": value} for one, value in zip(air, mixture, strict=True) if value is not None
    ]
    mark = {"type": "line", "color": INK, "strokeWidth": width, "strokeDash": list(dash), "clip": True}
    return {"data": {"values": rows}, "mark": mark, "encoding": {"x": x, "y": y}}


def _marks(
    places: Sequence[tuple[float | None, float | None]], x: Mapping[str, Any], y: Mapping[str, Any], fill: str
) -> dict[str, Any]:
    rows = [{"air": air, "lambda": mixture} for air, mixture in places if mixture is not None]
    mark = {
        "type": "point", "shape": "circle", "size": 46, "stroke": INK, "strokeWidth": 1.3, "opacity": 1,
        "fill": fill, "clip": True,
    }  # fmt: skip
    return {"data": {"values": rows}, "mark": mark, "encoding": {"x": x, "y": y}}


def _limits(marks: Sequence[CurveMark], x: Mapping[str, Any], y: Mapping[str, Any]) -> dict[str, Any]:
    rows = [
        {"air": mark.healthy_air_g_per_s, "lambda": mark.low or LEAST, "high": mark.high or MOST}
        for mark in marks
        if mark.low is not None or mark.high is not None
    ]
    mark = {
        "type": "rule",
        "color": GREY,
        "strokeWidth": 5,
        "strokeCap": "butt",
        "opacity": 0.7,
        "clip": True,
    }
    return {"data": {"values": rows}, "mark": mark, "encoding": {"x": x, "y": y, "y2": {"field": "high"}}}


def _names(
    marks: Sequence[CurveMark], x: Mapping[str, Any], y: Mapping[str, Any], low: float
) -> dict[str, Any]:
    """The states, below the healthy car's mark and the sheet's limit."""
    rows = []
    for one in marks:
        below = min(side for side in (one.healthy_lambda, one.low) if side is not None)
        rows.append({"air": one.healthy_air_g_per_s, "lambda": max(below, low + 0.02), "said": one.title})
    mark = {
        "type": "text", "dy": BESIDE + 2, "fontSize": 10, "fill": INK, "stroke": PAPER, "strokeWidth": 3,
        "align": "center",
    }  # fmt: skip
    return {
        "data": {"values": rows},
        "mark": mark,
        "encoding": {"x": x, "y": y, "text": {"field": "said"}},
    }


def caption(curve: MixtureCurve, changed: bool) -> str:
    """What stands below the chart."""
    missing = [mark.title for mark in curve.marks if mark.lambda_ is None]
    gone = f" The engine does not hold: {', '.join(missing)}." if missing and changed else ""
    return f"{curve.words}{gone}"


def alt(curve: MixtureCurve, changed: bool) -> str:
    """The chart in words: lambda at the states, as set and healthy."""
    said = []
    for mark in curve.marks:
        healthy = f"lambda {mark.healthy_lambda:.3f} at {mark.healthy_air_g_per_s:.1f} g/s"
        if not changed:
            said.append(f"{mark.title}: {healthy}")
        elif mark.lambda_ is None:
            said.append(f"{mark.title}: does not run; healthy {healthy}")
        else:
            said.append(
                f"{mark.title}: lambda {mark.lambda_:.3f} at {mark.air_g_per_s:.1f} g/s; healthy {healthy}"
            )
    return f"Lambda over air flow. {'. '.join(said)}."


def write_chart(chart: Chart, file: Path) -> None:
    """Write the drawing to a file of its own.

    Raises:
        FieldProblem: the file is no .svg, or cannot be written.
    """
    if file.suffix.lower() != ".svg":
        raise FieldProblem("chart", str(file), "is no .svg file", remedy="Name it like lambda.svg.")
    write_whole(file, chart.svg.encode(), replace=True)
