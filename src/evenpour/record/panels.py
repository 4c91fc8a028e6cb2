"""One panel of a chart: up to three catches of one kind, port by port, as a Vega-Lite specification.

Catches are told apart by the fill and the shape of their points, so that a grey print loses nothing.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from evenpour.job.answers import RunAnswer
from evenpour.measure.units import shown
from evenpour.record.words import THROUGH, day, listed, moment_of, opening, when

INK, GREY, PAPER_GREY, PAPER = "#1a1a1a", "#6b6b6b", "#e6e6e6", "#ffffff"
SHAPES = {"lines": "circle", "injectors": "square"}
LOOKS = ("filled", "hollow", "triangle")  # of the first, second and third catch of a panel, in words
FLOW_UNITS = {"metric": "ml/min", "us": "US fl oz/min", "imperial": "imp fl oz/min"}
ML_PER_MINUTE = 1e-6 / 60.0  # [m³/s]
WIDTH, HEIGHT = 258, 128  # px; two panels and their axes fill the width of a page
BETWEEN = 68  # px, from panel to panel, with room for an axis
MANY_PORTS = 8  # with more, a panel is as wide as the page: figures would run into each other
SUBTITLE_WIDTH = 52  # letters
AXIS = 46  # px, room for +100 %; the same for all, so that panels stand under each other
APART = {1: 0.0, 2: 0.32, 3: 0.26}  # of a port's width, from point to point, by the number of catches
SIZE = {1: 62, 2: 50, 3: 36}  # px², of a point, by the number of catches
FIGURE_AWAY = 9.0  # px, from the end of a bar to the middle of its figure
FIGURE_HALF = 6.0  # px, half the height of a figure, with some air


def panel(runs: Sequence[RunAnswer], limit: float | None, units: str) -> dict[str, Any]:
    """The panel of some catches of one kind, each about its own mean.

    Args:
        runs: One to three, of the same kind and number of ports; every one with a mean above nought.
        limit: On (largest - smallest) / mean, as a share; none draws no band.
        units: "metric", "us" or "imperial".
    """
    ports = len(runs[0].flows)
    points = [point for number, run in enumerate(runs) for point in _points(run, number, len(runs))]
    reach = [1.0, *(abs(point[side]) for point in points for side in ("low", "high"))]
    layers: list[dict[str, Any]] = [_mean_line()]
    band = None
    if limit is not None:
        band = best_band([[point["away"] for point in points]], 100.0 * limit)
        layers.insert(0, _band(band))
        reach += [abs(edge) for edge in band]
    most = 1.35 * max(reach)  # so that figures fit in, above and below
    x = {
        "field": "x",
        "type": "quantitative",
        "scale": {"domain": [0.35, ports + 0.65], "nice": False, "zero": False},
        "axis": _ports_axis(ports),
    }
    y = {
        "field": "away",
        "type": "quantitative",
        "scale": {"domain": [-most, most], "nice": False},
        "axis": _away_axis(most),
    }
    ends = {"y": {**y, "field": "low"}, "y2": {"field": "high"}}
    look = {"shape": _as_it_is("shape"), "fill": _as_it_is("fill")}
    layers += [
        {"mark": {"type": "rule", "color": INK, "strokeWidth": 1.4}, "encoding": {"x": x, **ends}},
        {
            "mark": {
                "type": "point",
                "size": SIZE[len(runs)],
                "stroke": INK,
                "strokeWidth": 1.4,
                "opacity": 1,
            },
            "encoding": {"x": x, "y": y, **look},
        },
        _figures(_said(runs, points, band, most, units), x, y),
    ]
    return {
        "width": WIDTH if ports <= MANY_PORTS else 2 * WIDTH + BETWEEN,
        "height": HEIGHT,
        "title": {"text": title(runs), "subtitle": subtitle(runs, limit)},
        "data": {"values": points},
        "layer": layers,
    }


def title(runs: Sequence[RunAnswer]) -> str:
    """``Catches 1 and 2: bare lines, idle opening``."""
    numbers = listed([str(run.catch + 1) for run in runs])
    kind = f"{THROUGH.get(runs[0].through, runs[0].through)}, {opening(runs[0].opening)}"
    return f"Catch{'es' if len(runs) > 1 else ''} {numbers}: {kind}"


def subtitle(runs: Sequence[RunAnswer], limit: float | None) -> list[str]:
    """When, against which limit, which points are whose, and what was exchanged."""
    band = "no limit on the sheet" if limit is None else f"band: limit {100.0 * limit:g} %"
    at = runs[0].at
    if len(runs) == 1:
        lines = [", ".join([when(at), band] if at else [band])]
    else:
        lines = [", ".join([day(at), band] if at else [band])]
        lines += _wrapped(_legend(runs), "; ")
    if runs[0].swaps:
        lines += _wrapped(["exchanged: " + runs[0].swaps[0], *runs[0].swaps[1:]], ", ")
    return lines


def flow_words(flow: float, u: float | None, units: str) -> str:
    """The flow with its doubt and unit; both given in ml per minute."""
    u_si = None if u is None else u * ML_PER_MINUTE
    return shown(flow * ML_PER_MINUTE, "volume_flow", units, u=u_si, unit=FLOW_UNITS[units])


def mean_flow(run: RunAnswer) -> float:
    """Of the ports whose amount was not lost, [ml/min]; nought for a run without any."""
    flows = [flow for flow in run.flows if flow is not None]
    return math.fsum(flows) / len(flows) if flows else 0.0


def away_from_mean(run: RunAnswer) -> list[float]:
    """Of each flow that was not lost, in per cent of the run's mean, which is above nought."""
    mean = mean_flow(run)
    return [100.0 * (flow / mean - 1.0) for flow in run.flows if flow is not None]


def best_band(runs: Sequence[Sequence[float]], height: float) -> tuple[float, float]:
    """The ends of a band of this height, laid where it holds most of the points, those in its middle."""
    held = held_together(runs, height)
    middle = (min(held) + max(held)) / 2.0
    return middle - height / 2.0, middle + height / 2.0


def held_together(runs: Sequence[Sequence[float]], height: float) -> list[float]:
    """The most points of all *runs* that fit into one band of this height."""
    away = sorted(point for run in runs for point in run)
    return max(([a for a in away if start <= a <= start + height] for start in away), key=len)


def _wrapped(parts: Sequence[str], between: str) -> list[str]:
    """The parts in lines, none torn unless it is longer than a line."""
    lines = [""]
    for number, part in enumerate(parts, start=1):
        text = part + (between if number < len(parts) else "")
        if lines[-1] and len(lines[-1] + text.rstrip()) > SUBTITLE_WIDTH:
            lines.append("")
        lines[-1] += text
    return [short for line in lines for short in textwrap.wrap(line, SUBTITLE_WIDTH)]


def _legend(runs: Sequence[RunAnswer]) -> list[str]:
    """Whose points are which, and what is missing of each: ``hollow: catch 2, 14:01 (port 5 lost)``."""
    found = []
    for run, look in zip(runs, LOOKS, strict=False):
        moment = moment_of(run.at)
        at = f", {moment:%H:%M}" if moment else ""
        lost = [
            str(port)
            for port, flows in enumerate(zip(*(one.flows for one in runs), strict=True), start=1)
            if run.flows[port - 1] is None and any(flow is not None for flow in flows)
        ]
        gone = f" (port{'s' if len(lost) > 1 else ''} {listed(lost)} lost)" if lost else ""
        found.append(f"{look}: catch {run.catch + 1}{at}{gone}")
    return found


def _points(run: RunAnswer, number: int, of: int) -> list[dict[str, Any]]:
    """Where each flow of a run lies, beside those of the other runs at its port, and how it looks."""
    mean = mean_flow(run)
    beside = (number - (of - 1) / 2.0) * APART[of]
    look = {
        "shape": "triangle-up" if number == 2 else SHAPES[run.through],
        "fill": PAPER if number == 1 else INK,
    }
    found = []
    for port, (flow, u) in enumerate(zip(run.flows, run.u_flows, strict=True), start=1):
        if flow is None:
            continue
        away, doubt = 100.0 * (flow / mean - 1.0), 200.0 * (u or 0.0) / mean
        ends = {"low": away - doubt, "high": away + doubt}
        found.append({"port": port, "x": port + beside, "away": away, **ends, **look})
    return found


def _said(
    runs: Sequence[RunAnswer],
    points: Sequence[Mapping[str, Any]],
    band: tuple[float, float] | None,
    most: float,
    units: str,
) -> list[dict[str, Any]]:
    """The figures: at each port the largest above its bars, and the smallest below if it reads otherwise."""
    per_px = 2.0 * most / HEIGHT
    said = []
    for port in range(1, len(runs[0].flows) + 1):
        flows = [(run.flows[port - 1], run.u_flows[port - 1]) for run in runs]
        known = sorted(((flow, u) for flow, u in flows if flow is not None), key=lambda pair: pair[0])
        if not known:
            said.append({"x": port, "away": 8.0 * per_px, "said": "lost", "halo": _behind(band, 0.0, 0.0)})
            continue
        short = len(runs[0].flows) >= MANY_PORTS  # three digits stand beside each other where four do not
        largest, smallest = (_figure(*known[end], units, short=short) for end in (-1, 0))
        here = [point for point in points if point["port"] == port]
        places = [(largest, max(point["high"] for point in here), per_px)]
        places += [(smallest, min(point["low"] for point in here), -per_px)] if smallest != largest else []
        for text, end, up in places:
            away = _clear_of(band, end + FIGURE_AWAY * up, FIGURE_HALF * up)
            halo = _behind(band, away, FIGURE_HALF * per_px)
            said.append({"x": port, "away": away, "said": text, "halo": halo})
    return said


def _figure(flow: float, u: float | None, units: str, *, short: bool = False) -> str:
    """The digits of the flow alone; *short* without a decimal from a hundred on."""
    words = flow_words(flow, u, units)
    digits = words.partition(" ± ")[0].partition(" ")[0]
    return f"{float(digits):.0f}" if short and float(digits) >= 100.0 else digits


def _clear_of(band: tuple[float, float] | None, away: float, half: float) -> float:
    """The middle of a figure, moved on over the line of the mean or of the band that would strike it out."""
    for line in sorted((0.0, *(band or ())), reverse=half < 0.0):
        if abs(line - away) < abs(half):
            away = line + half
    return away


def _behind(band: tuple[float, float] | None, away: float, half: float) -> str:
    """What colour a figure stands on."""
    return PAPER_GREY if band and band[0] < away - 0.9 * half and away + 0.9 * half < band[1] else PAPER


def _figures(said: list[dict[str, Any]], x: dict[str, Any], y: dict[str, Any]) -> dict[str, Any]:
    # A halo keeps lines out of the figures.
    size = 10 if len(x["axis"]["values"]) < MANY_PORTS else 8.5
    mark = {"type": "text", "baseline": "middle", "fontSize": size, "fill": INK, "strokeWidth": 3}
    encoding = {"x": x, "y": y, "text": {"field": "said"}, "stroke": _as_it_is("halo")}
    return {"data": {"values": said}, "mark": mark, "encoding": encoding}


def _as_it_is(field: str) -> dict[str, Any]:
    """A field that says itself how it looks."""
    return {"field": field, "type": "nominal", "scale": None}


def _band(band: tuple[float, float]) -> dict[str, Any]:
    mark = {"type": "rect", "color": PAPER_GREY, "stroke": GREY, "strokeWidth": 0.8, "strokeDash": [4, 3]}
    return {
        "data": {"values": [{}]},
        "mark": mark,
        "encoding": {"y": {"datum": band[0], "type": "quantitative"}, "y2": {"datum": band[1]}},
    }


def _mean_line() -> dict[str, Any]:
    mark = {"type": "rule", "color": GREY, "strokeWidth": 0.8}
    return {
        "data": {"values": [{}]},
        "mark": mark,
        "encoding": {"y": {"datum": 0, "type": "quantitative"}},
    }


def _ports_axis(ports: int) -> dict[str, Any]:
    return {
        "title": "port",
        "values": list(range(1, ports + 1)),
        "format": "d",
        "domain": True,
        "ticks": False,
        "grid": False,
    }


def _away_axis(most: float) -> dict[str, Any]:
    step = next((step for step in (1, 2, 5, 10, 20, 50) if most <= 3.0 * step), 100)
    count = int(0.9 * most / step)  # none at the very edge, where its label would push the title up
    words = "datum.value == 0 ? 'mean' : (datum.value > 0 ? '+' : '−') + abs(datum.value) + ' %'"
    return {
        "title": None,
        "labelExpr": words,
        "grid": False,
        "values": [step * number for number in range(-count, count + 1)],
        "tickCount": 2 * count + 1,  # else every second one may go, and the mean with them
        "domain": True,
        "minExtent": AXIS,
        "maxExtent": AXIS,
    }
