"""The window aimed at, seen from what is known of the screw: how likely each place is to lie in it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from evenpour.tune.screw_posterior import Posterior
from evenpour.tune.screw_response import Response

Array = NDArray[np.float64]


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

        What lies beyond before the move does not count.
        """
        gone = self.known.gain * turns
        if turns > 0.0:
            return self._share(self.rich_end - gone, np.full_like(gone, self.rich_end))
        return self._share(np.full_like(gone, self.lean_end), self.lean_end - gone)

    def p_now(self) -> float:
        """Probability of the window as it stands, the play on the side where it lies."""
        return math.fsum(chance * self.p_after(lag) for lag, chance in self.known.lags.items())

    def expected(self, turns: float) -> dict[str, float]:
        """Mean of what is read with the key *turns* from here, by check."""
        lift = self.known.lift[None, :] + self.known.gain[:, None] * turns
        return {check: float((self.weight * self.here.at(check, lift)).sum()) for check in self.here.shown}

    def expected_now(self) -> dict[str, float]:
        """The same as it stands."""
        found = dict.fromkeys(self.here.shown, 0.0)
        for lag, chance in self.known.lags.items():
            for check, value in self.expected(lag).items():
                found[check] += chance * value
        return found

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
