"""Lambda over air flow, drawn in the page itself: a few paths that follow a slider at once.

What is drawn and how it is worded is as in the chart of the record; only the pen is another, since a chart
drawn beside the server takes several times as long as the answer itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from evenpour.job.whatif.answers import CurveMark, MixtureCurve
from evenpour.record.mixture_chart import AIR_TICKS, LEAST, MOST, alt, caption

LEFT, RIGHT, TOP, BOTTOM = 42.0, 352.0, 12.0, 212.0
GRID = 0.05  # lambda: the ends of the axis lie on it, so that it holds still for small moves
HALF_NAME = 34.0
EVERY = 4  # points of the curve for a row of its table
NAMES = (248.0, 265.0)  # where the states' names stand, in turn


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on an axis."""

    at: float
    label: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A state on the curve. ``limit``: top and bottom of the sheet's limit; ``now``: none where it fails."""

    title: str
    x: float
    y: float
    name_x: float
    name_y: float
    name_top: float
    anchor: str
    limit: tuple[float, float] | None
    now: tuple[float, float] | None
    current: bool


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the table behind the curve; ``why``: why there is nothing now."""

    name: str
    healthy_air: str
    healthy: str
    air: str
    now: str
    why: str
    limit: str


@dataclass(frozen=True, slots=True)
class MixtureDrawing:
    """Everything the template draws."""

    band: str
    healthy: str
    now: str
    one: float
    air: tuple[Tick, ...]
    mixture: tuple[Tick, ...]
    marks: tuple[Mark, ...]
    rows: tuple[Row, ...]
    alt: str
    caption: str


def mixture_drawing(curve: MixtureCurve, state: str, *, changed: bool) -> MixtureDrawing:
    """The curve, its healthy band and the states on it; *state* is the one looked at."""
    axes = _axes(curve)
    low, high = curve.low, curve.high
    return MixtureDrawing(
        band=f"{axes.path(curve.air_g_per_s, high)}{axes.path(curve.air_g_per_s[::-1], low[::-1], 'L')}z",
        healthy=axes.path(curve.air_g_per_s, curve.healthy),
        now=axes.path(curve.air_g_per_s, curve.lambda_) if changed else "",
        one=axes.y(1.0),
        air=tuple(
            Tick(axes.x(tick), f"{tick:g}")
            for tick in AIR_TICKS
            if curve.air_g_per_s[0] <= tick <= curve.air_g_per_s[-1]
        ),
        mixture=tuple(axes.mixtures()),
        marks=tuple(
            _mark(one, axes, place, changed=changed, current=one.state == state)
            for place, one in enumerate(curve.marks)
        ),
        rows=(*_states(curve.marks), *_points(curve)),
        alt=alt(curve, changed),
        caption=caption(curve, changed),
    )


@dataclass(frozen=True, slots=True)
class _Axes:
    first: float
    last: float
    low: float
    high: float

    def x(self, air: float) -> float:
        """Air flow, by its logarithm."""
        share = math.log(air / self.first) / math.log(self.last / self.first)
        return round(LEFT + share * (RIGHT - LEFT), 1)

    def y(self, mixture: float) -> float:
        """Lambda; what lies beyond the axis stays at its end."""
        share = (min(max(mixture, self.low), self.high) - self.low) / (self.high - self.low)
        return round(BOTTOM - share * (BOTTOM - TOP), 1)

    def path(self, air: Sequence[float], mixture: Sequence[float | None], start: str = "M") -> str:
        """A line through the points that there are."""
        points = [
            f"{self.x(one)} {self.y(value)}"
            for one, value in zip(air, mixture, strict=True)
            if value is not None
        ]
        return f"{start}{'L'.join(points)}" if points else ""

    def mixtures(self) -> Iterator[Tick]:
        """Marks of lambda, six or so."""
        step = (
            GRID if self.high - self.low < 0.36 else 2.0 * GRID if self.high - self.low < 0.75 else 4.0 * GRID
        )
        at = math.ceil(self.low / step - 1e-9) * step
        while at <= self.high + 1e-9:
            yield Tick(self.y(at), f"{at:.2f}")
            at += step


def _axes(curve: MixtureCurve) -> _Axes:
    seen = [*curve.low, *curve.high, 1.0, *(one for one in curve.lambda_ if one is not None)]
    for mark in curve.marks:
        seen += [side for side in (mark.low, mark.high, mark.lambda_) if side is not None]
    low = math.floor((max(LEAST, min(seen)) - 0.01) / GRID) * GRID
    high = math.ceil((min(MOST, max(seen)) + 0.01) / GRID) * GRID
    return _Axes(curve.air_g_per_s[0] * 0.97, curve.air_g_per_s[-1] * 1.05, low, high)


def _mark(mark: CurveMark, axes: _Axes, place: int, *, changed: bool, current: bool) -> Mark:
    limit = None
    if mark.low is not None or mark.high is not None:
        limit = (axes.y(mark.high or MOST), axes.y(mark.low or LEAST))
    now = None
    if changed and mark.air_g_per_s is not None and mark.lambda_ is not None:
        now = (axes.x(mark.air_g_per_s), axes.y(mark.lambda_))
    x = axes.x(mark.healthy_air_g_per_s)
    at_rim = x > RIGHT - HALF_NAME
    return Mark(
        title=mark.title,
        x=x,
        y=axes.y(mark.healthy_lambda),
        name_x=RIGHT if at_rim else x,
        name_y=NAMES[place % 2],
        name_top=NAMES[place % 2] - 13.0,
        anchor="end" if at_rim else "middle",
        limit=limit,
        now=now,
        current=current,
    )


def _states(marks: Sequence[CurveMark]) -> Iterator[Row]:
    for mark in marks:
        sides = [f"{side:g}" for side in (mark.low, mark.high) if side is not None]
        yield Row(
            name=f"{mark.title[:1].upper()}{mark.title[1:]}",
            healthy_air=_air(mark.healthy_air_g_per_s),
            healthy=_mixture(mark.healthy_lambda),
            air=_air(mark.air_g_per_s),
            now=_mixture(mark.lambda_),
            why="does not run so" if mark.lambda_ is None else "",
            limit=" to ".join(sides) or "none on the sheet",
        )


def _points(curve: MixtureCurve) -> Iterator[Row]:
    """Every so many points of the curve."""
    points = list(zip(curve.air_g_per_s, curve.healthy, curve.lambda_, strict=True))
    for air, healthy, now in points[::EVERY]:
        gone = "cannot draw so much" if now is None else ""
        yield Row("On the curve", _air(air), _mixture(healthy), _air(air), _mixture(now), gone, "")


def _air(air: float | None) -> str:
    return "" if air is None else f"{air:.1f} g/s"


def _mixture(mixture: float | None) -> str:
    return "" if mixture is None else f"{mixture:.3f}"
