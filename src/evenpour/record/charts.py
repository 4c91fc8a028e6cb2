"""The charts: each defined once as a Vega-Lite specification (plain dicts), drawn as SVG.

They are drawn for paper: ink on white, told apart by shape and label, so that a grey print loses nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from evenpour.job.answers import RunAnswer
from evenpour.record.drawing import FONT, drawn
from evenpour.record.panels import (
    BETWEEN,
    FLOW_UNITS,
    GREY,
    INK,
    LOOKS,
    MANY_PORTS,
    away_from_mean,
    flow_words,
    held_together,
    mean_flow,
    panel,
)
from evenpour.record.words import THROUGH, day, listed, run_kind

IN_ONE_FIGURE = 2  # panels beside each other; one row a figure, so that pages break well
EXPLAINED = (
    " Bars: the doubt; about 19 times in 20 the truth lies within its bar. The band is as high as the limit "
    "on the spread: where every point of a catch fits into it, that catch is even."
)
SHARED = (
    " Repeats share a panel, each about its own mean; the largest flow of a port stands above its points, "
    "the smallest below them where it differs."
)


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing, what it shows in words, and its caption."""

    svg: str
    alt: str
    caption: str


@dataclass(frozen=True, slots=True)
class Sketch:
    """A chart before it is drawn: what to draw and under which name, what it shows in words, its caption."""

    spec: Mapping[str, Any]
    name: str
    alt: str
    caption: str

    def chart(self, svg: str | None = None) -> Chart:
        """The chart, with the drawing that a process beside made of it, or drawn now."""
        return Chart(drawn(self.spec, self.name) if svg is None else svg, self.alt, self.caption)


def flow_charts(
    runs: Sequence[RunAnswer], limits: Mapping[str, float | None], units: str, across: int = IN_ONE_FIGURE
) -> list[Chart]:
    """:func:`flow_sketches`, drawn."""
    return [one.chart() for one in flow_sketches(runs, limits, units, across)]


def flow_sketches(
    runs: Sequence[RunAnswer], limits: Mapping[str, float | None], units: str, across: int = IN_ONE_FIGURE
) -> list[Sketch]:
    """Flow by port of every run that counts, *across* panels beside each other in a figure.

    Each point lies at its distance from its run's mean, with its expanded uncertainty (k = 2). The band is as
    high as the limit on (largest - smallest) / mean and lies where it holds most of the points: a run is even
    where it holds all of its points. Repeats taken one after the other share a panel. A run of which less
    than two amounts are left, or that poured nothing at all, has no chart.
    """
    panels = together(runs, limits)
    shared = any(len(group) > 1 for group in panels)
    in_one = 1 if any(len(group[0].flows) > MANY_PORTS for group in panels) else across
    figures = [panels[start : start + in_one] for start in range(0, len(panels), in_one)]
    return [_sketch(some, limits, units, number, shared=shared) for number, some in enumerate(figures)]


def together(runs: Sequence[RunAnswer], limits: Mapping[str, float | None]) -> list[tuple[RunAnswer, ...]]:
    """The runs to be drawn, by panel: of one kind, of one day, with nothing of another kind in between.

    One band must serve all of a panel. Where it would hold less of them than each one's own band does, a run
    that is even by itself would look uneven: it then has a panel of its own.
    """
    found: list[tuple[RunAnswer, ...]] = []
    for _, repeats in groupby(runs, _kind):
        group: tuple[RunAnswer, ...] = ()
        for run in filter(_can_be_drawn, repeats):
            longer = (*group, run)
            limit = limits.get(f"{run.through}:{run.opening}")
            if group and (len(longer) > len(LOOKS) or not _one_band_serves(longer, limit)):
                found.append(group)
                longer = (run,)
            group = longer
        found += [group] if group else []
    return found


def _kind(run: RunAnswer) -> tuple[object, ...]:
    return run.through, run.opening, tuple(run.swaps), len(run.flows), day(run.at)


def _can_be_drawn(run: RunAnswer) -> bool:
    return not run.discarded and sum(flow is not None for flow in run.flows) > 1 and mean_flow(run) > 0.0


def _one_band_serves(runs: Sequence[RunAnswer], limit: float | None) -> bool:
    if limit is None:
        return True
    away, height = [away_from_mean(run) for run in runs], 100.0 * limit
    return len(held_together(away, height)) == sum(len(held_together([one], height)) for one in away)


def _sketch(
    groups: Sequence[tuple[RunAnswer, ...]],
    limits: Mapping[str, float | None],
    units: str,
    number: int,
    *,
    shared: bool,
) -> Sketch:
    firsts = [group[0] for group in groups]
    spec = {
        "concat": [
            panel(group, limits.get(f"{first.through}:{first.opening}"), units)
            for group, first in zip(groups, firsts, strict=True)
        ],
        "columns": IN_ONE_FIGURE,
        "bounds": "flush",
        "spacing": BETWEEN,
        "config": CONFIG,
        "background": None,
    }
    through = listed([THROUGH.get(word, word) for word in dict.fromkeys(run.through for run in firsts)])
    explained = "" if number else EXPLAINED + (SHARED if shared else "")
    caption = f"Flow through {through}, by port. Figures: {FLOW_UNITS[units]}.{explained}"
    alt = " ".join(_alt(run, limits, units) for group in groups for run in group)
    return Sketch(spec, f"c{number}", alt, caption)


def _alt(run: RunAnswer, limits: Mapping[str, float | None], units: str) -> str:
    """The run in words: every flow with its doubt, and the spread."""
    limit = limits.get(f"{run.through}:{run.opening}")
    flows = "; ".join(
        f"port {port} {'lost' if flow is None else flow_words(flow, u, units)}"
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
