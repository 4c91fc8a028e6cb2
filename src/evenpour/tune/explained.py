"""One law held against points: how well each choice of its unknowns explains them, and which does best."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from evenpour.tune.law import Law, Unknown
from evenpour.tune.least_squares import least_squares, slopes
from evenpour.tune.points import Points
from evenpour.tune.scatter import LEAST, Scatter, between_edges

Array = NDArray[np.float64]

EDGE = 0.005  # of a range: least squares start and end so far inside
STEPS = 40  # of least squares: a first guess needs no more
HELD = 0.99  # probability of the kinds of scatter that are kept


class Explained:
    """The posterior of one law, every unknown counted from 0 to 1 along its range: its density, and a first
    guess of where it lies.
    """

    def __init__(self, law: Law, points: Points, scatter: Scatter) -> None:
        self.law, self.points, self.scatter = law, points, scatter
        self.k = len(law.unknowns)
        span = float(np.ptp(points.value)) or max(abs(float(points.value[0])), 1.0)
        hold = 1e-3 * span  # keeps an unknown that the points say nothing of from running away

        def residuals(line: Array) -> Array:
            rest = self.curve(1.0 / (1.0 + np.exp(-line))) - points.value
            return np.concatenate([rest, hold * line], axis=1)

        fits = [least_squares(residuals, self._line(start), steps=STEPS) for start in law.starts]
        best = min(fits, key=lambda fit: float(fit.residuals @ fit.residuals))
        self.middle = np.clip(1.0 / (1.0 + np.exp(-best.values)), EDGE, 1.0 - EDGE)
        rest = best.residuals[: points.value.size]
        slope = slopes(lambda rows: self.curve(rows) - points.value, self.middle)
        # A curve through every step is not known any better than the steps: 1/12 is a step's variance.
        least = points.step**2 / 12.0 if points.stepped else LEAST
        known = slope.T @ slope / max(float(np.mean(rest**2)), least)
        anywhere = 12.0 * np.eye(self.k)  # 1/12 is the variance of anywhere from 0 to 1
        self.spread: Array = np.asarray(1.5 * np.linalg.inv(known + anywhere), dtype=np.float64)
        by_kind = scatter.by_kind(rest[None, :], np.arange(len(scatter.kinds)))[0]
        self.kinds = _kinds_worth_keeping(by_kind)
        self.at_best = float(np.max(by_kind))
        if points.stepped:  # one more unknown: the noise, in steps, before the gauge rounds it
            self.noise = Unknown("noise", 0.01 * points.step, 5.0 * points.step, log=True)
            self.middle = np.append(self.middle, self.noise.share(0.1 * points.step))
            self.spread = np.pad(self.spread, (0, 1))
            self.spread[-1, -1] = 0.04

    def _line(self, start: Sequence[float]) -> Array:
        """A first guess on the whole line, on which least squares cannot leave a range."""
        shares = [one.share(value) for one, value in zip(self.law.unknowns, start, strict=True)]
        inside = np.clip(shares, EDGE, 1.0 - EDGE)
        return np.asarray(np.log(inside / (1.0 - inside)))

    def values(self, rows: Array) -> Array:
        """Parameters of the law, (m, k)."""
        return np.stack([one.value(rows[:, j]) for j, one in enumerate(self.law.unknowns)], axis=1)

    def curve(self, rows: Array) -> Array:
        """Values at the points, (m, n): averages over the samples behind each."""
        within = self.points.within
        if self.points.stepped:
            return self.law.curve(self.values(rows), within[:, 0])
        fine = self.law.curve(self.values(rows), within.ravel())
        return np.asarray(np.mean(fine.reshape(rows.shape[0], *within.shape), axis=2))

    def log_density(self, rows: Array) -> Array:
        """Of prior and points together, (m,): the prior is even, and none is left outside the ranges."""
        rows = np.clip(rows_wanted := rows, 0.0, 1.0)
        curve = self.curve(rows)
        if self.points.stepped:
            likely = between_edges(self.points, curve, self.noise.value(rows[:, -1]))
        else:
            by_kind = self.scatter.by_kind(curve - self.points.value, self.kinds)
            top = np.max(by_kind, axis=1)
            likely = top + np.log(np.sum(np.exp(by_kind - top[:, None]), axis=1))
        there = np.all(rows == rows_wanted, axis=1) & np.isfinite(likely)
        return np.where(there, likely, -np.inf)

    def waves(self, rows: Array) -> float:
        """Probability of scatter that hangs together over more than four points."""
        if self.points.stepped or not rows.size:
            return 0.0
        some = rows[:: max(1, rows.shape[0] // 50)]
        by_kind = self.scatter.by_kind(self.curve(some) - self.points.value, self.kinds)
        share = np.exp(by_kind - np.max(by_kind, axis=1, keepdims=True))
        share = np.mean(share / np.sum(share, axis=1, keepdims=True), axis=0)
        spacing = (self.points.time[-1] - self.points.time[0]) / (self.points.time.size - 1)
        long = np.array([self.scatter.kinds[kind][0] >= 4.0 * spacing for kind in self.kinds])
        return float(np.sum(share[long]))


def _kinds_worth_keeping(by_kind: Array) -> NDArray[np.intp]:
    share = np.exp(by_kind - np.max(by_kind))
    order = np.argsort(-share)
    many = int(np.searchsorted(np.cumsum(share[order]), HELD * np.sum(share))) + 1
    return order[:many]
