"""The chart of a trace in letters: a few lines for the terminal."""

from __future__ import annotations

import math
from itertools import pairwise

from evenpour.job.trace.answers import TracePlot

HEIGHT = 12
READ, FITTED, LIMIT = "·", "*", "-"


def lines_of(plot: TracePlot, width: int) -> list[str]:
    """Lines of letters: what was read, the fit over it, and the sheet's limits.

    Args:
        width: Of the terminal, in letters.
    """
    across = max(20, min(width, 90) - 9)
    xs = [one.x for one in plot.points] + [one.x for one in plot.line]
    ys = (
        [one.y for one in plot.points]
        + [one.y for one in plot.line]
        + [y for mark in plot.marks for y in mark.y]
    )
    left, right = _at(plot, min(xs)), _at(plot, max(xs))
    bottom, top = min(ys), max(ys)
    wide, high = (right - left) or 1.0, (top - bottom) or 1.0
    grid = [[" "] * across for _ in range(HEIGHT)]

    def put(x: float, y: float, sign: str) -> None:
        column = round((_at(plot, x) - left) / wide * (across - 1))
        row = round((top - y) / high * (HEIGHT - 1))
        if 0 <= column < across and 0 <= row < HEIGHT:
            grid[row][column] = sign

    for mark in plot.marks:
        for (x0, y0), (x1, y1) in pairwise(zip(mark.x, mark.y, strict=True)):
            for step in range(across):
                share = step / (across - 1)
                put(x0 + share * (x1 - x0), y0 + share * (y1 - y0), LIMIT)
    for point in plot.points:
        put(point.x, point.y, READ)
    for one in plot.line:
        put(one.x, one.y, FITTED)
    label = {0: top, HEIGHT // 2: 0.5 * (top + bottom), HEIGHT - 1: bottom}
    digits = min(4, max(2, 1 - math.floor(math.log10(high))))
    drawn = [
        f"{label[row]:7.{digits}f} |{''.join(cells).rstrip()}"
        if row in label
        else f"        |{''.join(cells).rstrip()}"
        for row, cells in enumerate(grid)
    ]
    ends = f"{min(xs):.3g}"
    far = f"{max(xs):.3g}"
    axis = f"         {ends}{plot.x_title:^{max(1, across - len(ends) - len(far))}}{far}"
    marks = f"{READ} read, {FITTED} fitted" + (f", {LIMIT} {plot.marks[0].label}" if plot.marks else "")
    return [f"{plot.title}, {plot.y_title}   ({marks})", *drawn, f"        +{'-' * across}", axis]


def _at(plot: TracePlot, x: float) -> float:
    return math.log(x) if plot.log_x and x > 0.0 else x
