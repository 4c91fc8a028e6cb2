"""The charts: each defined once as a Vega-Lite specification (plain dicts), drawn as SVG.

They are drawn for paper: ink on white, told apart by shape and label, so that a grey print loses nothing.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from evenpour.job.answers import RunAnswer
from evenpour.measure.units import shown
from evenpour.record.drawing import FONT, drawn
from evenpour.record.words import THROUGH, opening, run_kind, when

INK, GREY, PAPER_GREY, PAPER = "#1a1a1a", "#6b6b6b", "#e6e6e6", "#ffffff"
SHAPES = {"lines": "circle", "injectors": "square"}
FLOW_UNITS = {"metric": "ml/min", "us": "US fl oz/min", "imperial": "imp fl oz/min"}
ML_PER_MINUTE = 1e-6 / 60.0  # [m³/s]
IN_ONE_FIGURE = 2  # runs beside each other; one row a figure, so that pages break well
PANEL_WIDTH, PANEL_HEIGHT = 258, 140  # px; two panels and their axes fill the width of a page
SUBTITLE_WIDTH = 52  # letters
AXIS = 40  # px, the same for all, so that panels stand under each other
EXPLAINED = (
    " Bars: expanded uncertainty (k = 2). The band is as high as the limit on the spread: where every point "
    "fits into it, the catch is even."
)


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing, what it shows in words, and its caption."""

    svg: str
    alt: str
    caption: str


def flow_charts(runs: Sequence[RunAnswer], limits: Mapping[str, float | None], units: str) -> list[Chart]:
    """Flow by port of every run that counts, a few runs in a figure.

    Each point lies at its distance from the run's mean, with its expanded uncertainty (k = 2), and carries
    its flow in the user's unit. The band is as high as the limit on (largest - smallest) / mean and lies
    where it holds most of the points: the run is even where it holds all of them.
    """
    drawn = [run for run in runs if not run.discarded and sum(flow is not None for flow in run.flows) > 1]
    charts: list[Chart] = []
    for through in dict.fromkeys(run.through for run in drawn):
        alike = [run for run in drawn if run.through == through]
        for start in range(0, len(alike), IN_ONE_FIGURE):
            some = alike[start : start + IN_ONE_FIGURE]
            charts.append(_chart(some, limits, units, len(charts)))
    return charts


def _chart(runs: Sequence[RunAnswer], limits: Mapping[str, float | None], units: str, number: int) -> Chart:
    panels = [_panel(run, limits.get(f"{run.through}:{run.opening}"), units) for run in runs]
    spec = {
        "concat": panels,
        "columns": 2,
        "bounds": "flush",
        "spacing": {"row": 92, "column": 68},
        "config": CONFIG,
        "background": None,
    }
    kind = THROUGH.get(runs[0].through, runs[0].through)
    caption = f"Flow through {kind}, by port. Figures: {FLOW_UNITS[units]}.{'' if number else EXPLAINED}"
    return Chart(drawn(spec, f"c{number}"), " ".join(_alt(run, limits, units) for run in runs), caption)


def _panel(run: RunAnswer, limit: float | None, units: str) -> dict[str, Any]:
    points = _points(run, units)
    layers: list[dict[str, Any]] = [_mean_line()]
    reach = [abs(point[side]) for point in points for side in ("low", "high")]
    if limit is not None:
        band = _best_band([point["away"] for point in points], 100.0 * limit)
        for point in points:
            point["halo"] = PAPER_GREY if band["low"] <= point["high"] < band["high"] else PAPER
        layers.insert(0, _band(band))
        reach += [abs(band["low"]), abs(band["high"])]
    most = 1.25 * max(reach)
    ports = [str(port) for port in range(1, len(run.flows) + 1)]
    x = {
        "field": "port",
        "type": "ordinal",
        "axis": _ports_axis(),
        "scale": {"domain": ports, "paddingOuter": 0.35},
    }
    y = {
        "field": "away",
        "type": "quantitative",
        "scale": {"domain": [-most, most], "nice": False},
        "axis": _away_axis(most),
    }
    ends = {"y": {**y, "field": "low"}, "y2": {"field": "high"}}
    mark = {
        "type": "point",
        "shape": SHAPES[run.through],
        "filled": True,
        "size": 62,
        "color": INK,
        "opacity": 1,
    }
    layers += [
        {
            "data": {"values": points},
            "mark": {"type": "rule", "color": INK, "strokeWidth": 1.4},
            "encoding": {"x": x, **ends},
        },
        {"data": {"values": points}, "mark": mark, "encoding": {"x": x, "y": y}},
        _labels(points, x, y),
        *_lost(run, x),
    ]
    return {
        "width": PANEL_WIDTH,
        "height": PANEL_HEIGHT,
        "title": {"text": _title(run), "subtitle": _subtitle(run, limit)},
        "layer": layers,
    }


def _points(run: RunAnswer, units: str) -> list[dict[str, Any]]:
    flows = [flow for flow in run.flows if flow is not None]
    mean = math.fsum(flows) / len(flows)
    found = []
    for port, (flow, u) in enumerate(zip(run.flows, run.u_flows, strict=True), start=1):
        if flow is None or mean <= 0.0:
            continue
        away, doubt = 100.0 * (flow / mean - 1.0), 200.0 * (u or 0.0) / mean
        ends = {"low": away - doubt, "high": away + doubt}
        found.append(
            {
                "port": str(port),
                "away": away,
                **ends,
                "said": re.split(" ± | ", _flow(flow, u, units))[0],
                "halo": PAPER,
            }
        )
    return found


def _flow(flow: float, u: float | None, units: str) -> str:
    """The flow with its doubt and unit."""
    u_si = None if u is None else u * ML_PER_MINUTE
    return shown(flow * ML_PER_MINUTE, "volume_flow", units, u=u_si, unit=FLOW_UNITS[units])


def _title(run: RunAnswer) -> str:
    return f"Catch {run.catch + 1}: {THROUGH.get(run.through, run.through)}, {opening(run.opening)}"


def _subtitle(run: RunAnswer, limit: float | None) -> list[str]:
    parts = [when(run.at)] if run.at else []
    parts.append("no limit on the sheet" if limit is None else f"band: limit {100.0 * limit:g} %")
    swaps = textwrap.wrap(f"changed over: {', '.join(run.swaps)}", SUBTITLE_WIDTH) if run.swaps else []
    return [", ".join(parts), *swaps]


def _best_band(away: Sequence[float], height: float) -> dict[str, float]:
    """Where a band of this height holds most of the points, with those in its middle."""
    held = max(([a for a in away if start <= a <= start + height] for start in sorted(away)), key=len)
    middle = (min(held) + max(held)) / 2.0
    return {"low": middle - height / 2.0, "high": middle + height / 2.0}


def _band(band: Mapping[str, float]) -> dict[str, Any]:
    return {
        "data": {"values": [dict(band)]},
        "mark": {
            "type": "rect",
            "color": PAPER_GREY,
            "stroke": GREY,
            "strokeWidth": 0.8,
            "strokeDash": [4, 3],
        },
        "encoding": {"y": {"field": "low", "type": "quantitative"}, "y2": {"field": "high"}},
    }


def _mean_line() -> dict[str, Any]:
    return {
        "data": {"values": [{"away": 0}]},
        "mark": {"type": "rule", "color": GREY, "strokeWidth": 0.8},
        "encoding": {"y": {"field": "away", "type": "quantitative"}},
    }


def _labels(points: list[dict[str, Any]], x: dict[str, Any], y: dict[str, Any]) -> dict[str, Any]:
    # Above the bar of its doubt, where neighbours are farthest; a halo keeps lines out of the figures.
    size = 10 if len(x["scale"]["domain"]) < 8 else 8.5
    mark = {"type": "text", "baseline": "bottom", "dy": -3, "fontSize": size, "fill": INK, "strokeWidth": 3}
    halo = {"field": "halo", "type": "nominal", "scale": None}
    encoding = {"x": x, "y": {**y, "field": "high"}, "text": {"field": "said"}, "stroke": halo}
    return {"data": {"values": points}, "mark": mark, "encoding": encoding}


def _lost(run: RunAnswer, x: dict[str, Any]) -> list[dict[str, Any]]:
    ports = [
        {"port": str(port), "said": "lost"} for port, flow in enumerate(run.flows, start=1) if flow is None
    ]
    mark = {"type": "text", "fontSize": 10, "color": INK, "y": PANEL_HEIGHT / 2 - 8}
    return (
        [{"data": {"values": ports}, "mark": mark, "encoding": {"x": x, "text": {"field": "said"}}}]
        if ports
        else []
    )


def _ports_axis() -> dict[str, Any]:
    return {"title": "port", "labelAngle": 0, "domain": True, "ticks": False, "grid": False}


def _away_axis(most: float) -> dict[str, Any]:
    step = next((step for step in (1, 2, 5, 10, 20, 50) if most <= 3.5 * step), 100)
    count = int(0.9 * most / step)  # none at the very edge, where its label would push the title up
    words = "datum.value == 0 ? 'mean' : (datum.value > 0 ? '+' : '−') + abs(datum.value) + ' %'"
    return {
        "title": None,
        "labelExpr": words,
        "grid": False,
        "values": [step * number for number in range(-count, count + 1)],
        "domain": True,
        "minExtent": AXIS,
        "maxExtent": AXIS,
    }


def _alt(run: RunAnswer, limits: Mapping[str, float | None], units: str) -> str:
    """The run in words: every flow with its doubt, and the spread."""
    limit = limits.get(f"{run.through}:{run.opening}")
    flows = "; ".join(
        f"port {port} {'lost' if flow is None else _flow(flow, u, units)}"
        for port, (flow, u) in enumerate(zip(run.flows, run.u_flows, strict=True), start=1)
    )
    spread = "" if run.seen_spread is None else f" Spread {100.0 * run.seen_spread:.1f} %"
    against = f", limit {100.0 * limit:g} %." if limit is not None and spread else "." if spread else ""
    return f"Catch {run.catch + 1}, {run_kind(f'{run.through}:{run.opening}')}: {flows}.{spread}{against}"


CONFIG: dict[str, Any] = {
    "font": FONT,
    "aria": False,  # the figure carries its own words
    "view": {"stroke": None},
    "padding": 4,
    "axis": {
        "labelColor": INK,
        "titleColor": INK,
        "domainColor": INK,
        "tickColor": INK,
        "labelFontSize": 10,
        "titleFontSize": 10,
        "titleFontWeight": "normal",
        "labelFont": FONT,
        "titleFont": FONT,
    },
    "title": {
        "anchor": "start",
        "frame": "group",
        "fontSize": 11.5,
        "fontWeight": "bold",
        "color": INK,
        "subtitleColor": GREY,
        "subtitleFontSize": 10,
        "subtitlePadding": 3,
        "offset": 8,
        "font": FONT,
        "subtitleFont": FONT,
    },
}
