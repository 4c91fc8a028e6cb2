"""The chart of a drive: lambda of steady stretches over air flow, the fit, and a healthy engine beside it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenpour.job.trace.answers import PlotLine, PlotMark, PlotPoint, TracePlot
from evenpour.job.trace.healthy import Healthy
from evenpour.measure.units import in_unit
from evenpour.tune.running_trace import RunningFit
from evenpour.tune.steady import Stretches

Array = NDArray[np.float64]

MOST_SHOWN, HEALTHY_POINTS = 400, 40  # stretches, and points of the healthy engine
BESIDE = 1.1  # times either end of the flows, which may all be one
HEALTHY = "a healthy engine, by the model"


def running_plot(
    stretches: Stretches, air_flow: Array, measured: bool, fit: RunningFit | None, healthy: Healthy
) -> TracePlot:
    """What the chart is made of.

    Args:
        air_flow: Of the stretches, [kg/s].
        measured: Whether the air flow was; else it was told from speed and manifold pressure.
        fit: ``None`` where no shape could be told: then the mean of the stretches is drawn.
    """
    order = np.argsort(air_flow)
    x, value, u = air_flow[order], stretches.value[order], stretches.u[order]
    scale = in_unit(1.0, "g/s")
    kept = np.unique(np.linspace(0, x.size - 1, min(x.size, MOST_SHOWN)).astype(int))
    points = [
        PlotPoint(x=_digits(x[one] * scale), y=_digits(value[one]), half=_digits(2.0 * u[one]))
        for one in kept
    ]
    flows = np.geomspace(x[0] / BESIDE, x[-1] * BESIDE, HEALTHY_POINTS)
    should = PlotMark(
        label=HEALTHY,
        x=[_digits(one * scale) for one in flows],
        y=[_digits(one) for one in healthy.expected(flows)],
    )
    return TracePlot(
        title="Lambda over air flow, steady stretches",
        x_title="air flow, g/s" if measured else "air flow, g/s, from speed and manifold pressure",
        y_title="lambda",
        log_x=True,
        points=points,
        line=_line(fit, scale) if fit else _mean(flows, value, scale),
        marks=[should],
    )


def _line(fit: RunningFit, scale: float) -> list[PlotLine]:
    rows = zip(fit.curve_flow * scale, fit.curve, fit.curve_low, fit.curve_high, strict=True)
    return [
        PlotLine(x=_digits(at), y=_digits(middle), low=_digits(low), high=_digits(high))
        for at, middle, low, high in rows
    ]


def _mean(flows: Array, value: Array, scale: float) -> list[PlotLine]:
    middle, most = float(np.mean(value)), float(np.max(np.abs(value - np.mean(value))))
    low, high = _digits(middle - most), _digits(middle + most)
    return [PlotLine(x=_digits(at * scale), y=_digits(middle), low=low, high=high) for at in flows[[0, -1]]]


def _digits(value: float) -> float:
    return float(f"{value:.6g}")
