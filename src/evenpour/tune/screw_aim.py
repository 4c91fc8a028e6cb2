"""The window aimed at, seen from what is known of the screw: how likely each place is to lie in it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpour.tune.screw_posterior import Posterior
from evenpour.tune.screw_response import Response

Array = NDArray[np.float64]

HELD = (0.05, 0.5, 0.95)


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What will be read: the middle, and between which values it lies nine times in ten. SI."""

    low: float
    middle: float
    high: float


class Aim:
    """One window of one check, low and high in SI, in the circumstances of *here*.

    Everything is counted in lift, turns of a usual screw: there the window has two ends and a middle whatever
    is read, and a move adds its turns times the gain.
    """

    def __init__(self, known: Posterior, check: str, low: float, high: float, here: Response) -> None:
        self.known, self.here = known, here
        half = 0.5 * (high - low)
        self.low, self.high = sorted(here.where(check, value) for value in (low, high))
        self.lean_end, self.rich_end = sorted(here.where(check, value) for value in (low - half, high + half))
        self.middle = here.where(check, 0.5 * (low + high))
        self.weight = known.weight / max(float(known.weight.sum()), 1e-300)
        step = known.lift[1] - known.lift[0]
        self._edges = np.append(known.lift, known.lift[-1] + step) - 0.5 * step
        self._below = np.hstack([np.zeros((len(known.gain), 1)), np.cumsum(self.weight, axis=1)])

    def p_after(self, turns: float) -> float:
        """Probability of the window with the key *turns* from here and the play taken up clockwise."""
        gone = self.known.gain * turns
        return self._share(self.low - gone, self.high - gone)

    def p_beyond(self, turns: float) -> float:
        """Probability that a move ends outside the window twice as wide, on the side to which it goes.

        What lies beyond before the move does not count. No turns at all is a move to the lean side: the key
        goes back and comes up to the same place, and the play is taken up.
        """
        if turns > 0.0:
            return max(0.0, self._now_below(self.rich_end) - self._below_at(self.rich_end, turns))
        return max(0.0, self._below_at(self.lean_end, turns) - self._now_below(self.lean_end))

    def _below_at(self, lift: float, turns: float) -> float:
        """Probability that it stands leaner than *lift* after a move."""
        ends = lift - self.known.gain * turns
        return math.fsum(
            float(np.interp(end, self._edges, below)) for end, below in zip(ends, self._below, strict=True)
        )

    def _now_below(self, lift: float) -> float:
        return math.fsum(chance * self._below_at(lift, lag) for lag, chance in self.known.lags.items())

    def p_now(self) -> float:
        """Probability of the window as it stands, the play on the side where it lies."""
        return math.fsum(chance * self.p_after(lag) for lag, chance in self.known.lags.items())

    def expected(self, turns: float | None) -> dict[str, Foreseen]:
        """What will be read with the key *turns* from here, by check; None as it stands.

        Duty as its meter counts it, as far as that is known.
        """
        places = self.known.lags if turns is None else {turns: 1.0}
        lift = np.concatenate(
            [(self.known.lift[None, :] + self.known.gain[:, None] * one).ravel() for one in places]
        )
        weight = np.concatenate([self.weight.ravel() * chance for chance in places.values()])
        order = np.argsort(lift)
        ends = np.interp(HELD, np.cumsum(weight[order]), lift[order])
        found = {}
        for check in self.here.shown:
            values = self.here.at(check, ends)
            if check == "lambda_duty" and self.known.inverted > 0.5:
                values = 1.0 - values
            low, middle, high = sorted(float(value) for value in values)
            found[check] = Foreseen(low, middle, high)
        return found

    def p_lean(self) -> float:
        """Probability that it stands leaner than the window's middle."""
        return float(self.weight[:, self.known.lift < self.middle].sum())

    def away(self, turns: float) -> float:
        """Mean distance from the window's middle after a move, [turns of a usual screw]."""
        lift = self.known.lift[None, :] + self.known.gain[:, None] * turns
        return float((self.weight * np.abs(lift - self.middle)).sum())

    def right(self) -> tuple[float, float]:
        """How far from here the window's middle lies, [turn], and the standard deviation of that."""
        turns = (self.middle - self.known.lift[None, :]) / self.known.gain[:, None]
        mean = float((self.weight * turns).sum())
        return mean, float(np.sqrt((self.weight * (turns - mean) ** 2).sum()))

    def gain(self) -> tuple[float, float]:
        """Of this screw over a usual one's: the middle, and the standard deviation of its logarithm."""
        chances = self.weight.sum(axis=1)
        logs = np.log(self.known.gain)
        mean = float((chances * logs).sum())
        return math.exp(mean), float(np.sqrt((chances * (logs - mean) ** 2).sum()))

    def _share(self, low: Array, high: Array) -> float:
        """Probability that the lift lies from *low* to *high*, each of shape (gains,)."""
        found = 0.0
        for row, ends in enumerate(zip(low, high, strict=True)):
            if ends[1] > ends[0]:
                below = np.interp(ends, self._edges, self._below[row])
                found += float(below[1] - below[0])
        return found
