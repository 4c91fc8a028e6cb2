"""Where a mixture screw stands and how far a turn of it goes, from what the idle read at known positions.

On a grid: the gain, the lift where the screw stands now, and the play with the flank it lies against. It
is small and always the same, so that one job always gets one answer. A screw that does nothing and one that
works the wrong way are on it as well, each with a small chance.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from evenpour.machine.checks import NumberCheck
from evenpour.measure.exhaust_signs import LEANEST
from evenpour.measure.mixture import LEAST_CO
from evenpour.tune.screw_response import Response, Spread

Array = NDArray[np.float64]

# Common practice, no source.
GAIN_DOUBT = 0.2  # of the logarithm: the lift for a turn stands on sheets from memory, good to about 40 %
START_DOUBT = 0.15  # turn, by which a starting point may be wrong: a quarter of a turn is not rare
UNKNOWN_START = 0.35  # turns of a usual screw, where no onset is known
PLAYS, PLAY_WEIGHTS = (0.0, 0.02, 0.04, 0.06), (0.2, 0.3, 0.3, 0.2)  # turn
FLANKS = (0.0, 0.5, 1.0)  # against which flank the play lies where nobody knows
DOES_NOTHING, WRONG_WAY = 0.02, 0.02  # chance of a screw that does so
METER_INVERTED = 0.1  # chance of a duty meter that counts the other way
WRONG_BY_DUTY = 0.002  # where it is read by duty: then it is the meter, far likelier than the screw
DUTY_ENDS = (0.10, 0.90)  # duty beyond which the control is at its stop

_GAINS = np.exp(np.linspace(math.log(0.42), math.log(2.2), 37))
_LIFTS = np.linspace(-1.0, 1.2, 276)  # turns of a usual screw; eight thousandths apart
_EVERY = np.concatenate([-_GAINS[::6], [0.0], _GAINS])
_BACK, _IDLE, _ACTS = slice(0, 7), slice(7, 8), slice(8, None)


@dataclass(frozen=True, slots=True)
class Seen:
    """One reading of the idle.

    Attributes:
        check: What was read: exhaust_co, exhaust_lambda or lambda_duty.
        turns: Where the key stood, from where it stands now.
        lags: For each of PLAYS, between which bounds the lever stood richer than the key says, [turn].
        value, u: SI; u is the instrument's own standard uncertainty, the same way for all its readings.
        response: The kind's curve in the circumstances of the reading.
        u_lift: What the circumstances' own doubt does to the mixture, [turns of a usual screw].
    """

    check: str
    turns: float
    lags: tuple[tuple[float, float], ...]
    value: float
    u: float
    response: Response
    u_lift: float = 0.0


@dataclass(frozen=True, slots=True)
class Start:
    """The starting point: ``turns`` from where the key stands now to the onset; ``u`` as found."""

    turns: float
    u: float
    through: str


@dataclass(frozen=True, slots=True)
class Posterior:
    """What is known of the screw.

    Attributes:
        gain: Of a screw that acts, over a usual one's, shape (gains,).
        lift: Where the lever stands with the key as now and the play taken up from the lean side, (lifts,).
        weight: Chance of each pair, shape (gains, lifts); with the next two it sums to 1.
        does_nothing, wrong_way: Chance of a screw that does so.
        lags: What the lever stands richer now than that, by the play, [turn]: each with its chance, of a
            screw that acts.
        inverted: Chance of a duty meter that counts the other way.
        misfit: How badly the best screw explains the readings: chi squared, and of how many readings.
    """

    gain: Array
    lift: Array
    weight: Array
    does_nothing: float
    wrong_way: float
    lags: Mapping[float, float]
    inverted: float
    misfit: tuple[float, int]


def posterior(
    seen: Sequence[Seen],
    checks: Mapping[str, NumberCheck],
    main: str,
    spread: Spread,
    start: Start | None,
    lags_now: Sequence[tuple[float, float]],
    gain: tuple[float, float] = (1.0, GAIN_DOUBT),
) -> Posterior:
    """Weigh every screw by the readings.

    Args:
        seen: All readings, in order.
        checks: How readings repeat and how far the model is off, by check.
        main: The check whose window is aimed at. What this car's model is off by in it belongs to the car.
        lags_now: As in Seen, for where the screw stands now.
        gain: Middle of the prior, and the standard deviation of its logarithm.
    """
    duty = any(one.check == "lambda_duty" for one in seen)
    prior = _prior(spread, start, gain, WRONG_BY_DUTY if duty else WRONG_WAY)
    inversions = ((False, 1.0 - METER_INVERTED), (True, METER_INVERTED)) if duty else ((False, 1.0),)
    cases = [
        (lags, now, inverted, chance * share)
        for (lags, now), chance in _plays(seen, lags_now).items()
        for inverted, share in inversions
    ]
    weighed = [_likelihood(seen, checks, main, lags, inverted) for lags, _, inverted, _ in cases]
    logs = np.array([prior + log + math.log(case[3]) for case, (log, _) in zip(cases, weighed, strict=True)])
    whole = np.exp(logs - logs.max())
    whole /= whole.sum()
    acts = whole[:, _ACTS].sum(axis=(1, 2))
    acts = acts / max(float(acts.sum()), 1e-300)
    flank: dict[float, float] = {}
    for (_, now, _, _), share in zip(cases, acts, strict=True):
        flank[now] = flank.get(now, 0.0) + float(share)
    return Posterior(
        gain=_GAINS,
        lift=_LIFTS,
        weight=whole[:, _ACTS].sum(axis=0),
        does_nothing=float(whole[:, _IDLE].sum()),
        wrong_way=float(whole[:, _BACK].sum()),
        lags=flank,
        inverted=float(whole[[case[2] for case in cases]].sum()),
        misfit=(min(least for _, least in weighed), len(seen)),
    )


def _prior(spread: Spread, start: Start | None, gain: tuple[float, float], wrong: float) -> Array:
    """Log prior over gain and lift."""
    away = np.log(np.abs(_EVERY[_EVERY != 0.0]) / gain[0]) / math.hypot(gain[1], spread.u_gain)
    size = np.abs(_EVERY)
    logs = np.full(len(_EVERY), math.log(DOES_NOTHING))
    logs[_EVERY != 0.0] = -0.5 * away * away
    for some, chance in ((_BACK, wrong), (_ACTS, 1.0 - DOES_NOTHING - wrong)):
        logs[some] += math.log(chance) - math.log(float(np.exp(logs[some]).sum()))
    middle, u = np.zeros(len(size)), np.full(len(size), UNKNOWN_START)
    if start is not None:
        middle = spread.onset[start.through] - size * start.turns
        u = np.sqrt(spread.u_onset**2 + size**2 * (start.u**2 + START_DOUBT**2))
    off = (_LIFTS[None, :] - middle[:, None]) / u[:, None]
    heavy = -2.5 * np.log1p(off * off / 4.0)  # Student's t: half a turn out is rare, not impossible
    found: Array = logs[:, None] + heavy - np.log(np.exp(heavy).sum(axis=1, keepdims=True))
    return found


def _plays(
    seen: Sequence[Seen], lags_now: Sequence[tuple[float, float]]
) -> dict[tuple[tuple[float, ...], float], float]:
    """How the play may lie: the lag at each reading and now, with the chance of that; alike ones once."""
    found: dict[tuple[tuple[float, ...], float], float] = {}
    for number, weight in enumerate(PLAY_WEIGHTS):
        for flank in FLANKS:
            lags = tuple(_between(one.lags[number], flank) for one in seen)
            key = (lags, _between(lags_now[number], flank))
            found[key] = found.get(key, 0.0) + weight / len(FLANKS)
    return found


def _between(bounds: tuple[float, float], flank: float) -> float:
    return round(bounds[0] + flank * (bounds[1] - bounds[0]), 6)


def _likelihood(
    seen: Sequence[Seen],
    checks: Mapping[str, NumberCheck],
    main: str,
    lags: Sequence[float],
    inverted: bool,
) -> tuple[Array, float]:
    """Log likelihood over gain and lift, and the least chi squared.

    An instrument errs the same way each time, and so does the model about one car: within a check one error
    is shared, and each reading has one of its own.
    """
    log = np.zeros((len(_EVERY), len(_LIFTS)))
    squares = np.zeros_like(log)
    for check in dict.fromkeys(one.check for one in seen):
        number = checks[check]
        errors = _Errors()
        for one, lag in zip(seen, lags, strict=True):
            if one.check != check:
                continue
            lift = _LIFTS[None, :] + _EVERY[:, None] * (one.turns + lag)
            model = number.compared(one.response.at(check, lift))
            value = 1.0 - one.value if inverted and check == "lambda_duty" else one.value
            u = number.compared_u(max(value, LEAST_CO) if check == "exhaust_co" else value, one.u)
            bound = _bound(check, value)
            if bound is not None:
                beyond = bound[1] * (model - float(number.compared(bound[0])))
                log += log_ndtr(beyond / math.hypot(u, number.repeats))
                continue
            own = math.hypot(number.repeats, _slope(number, one) * one.u_lift)
            shared = math.hypot(u, 0.0 if check == main else number.model)
            errors.add(float(number.compared(value)) - model, own, shared)
        squares += errors.chi_squared()
    return log - 0.5 * squares, float(squares.min())


class _Errors:
    """Chi squared of errors with an own part each and a shared one (Sherman and Morrison's formula)."""

    def __init__(self) -> None:
        self._squares: Any = 0.0
        self._along: Any = 0.0
        self._shared = 1.0

    def add(self, off: Any, own: float, shared: float) -> None:
        self._squares = self._squares + (off / own) ** 2
        self._along = self._along + off * shared / own**2
        self._shared += (shared / own) ** 2

    def chi_squared(self) -> Any:
        return self._squares - self._along**2 / self._shared


def _slope(number: NumberCheck, one: Seen) -> float:
    """What is compared, for a turn of a usual screw, where the reading lies on its curve."""
    lift = one.response.where(one.check, one.value)
    low, high = (float(number.compared(one.response.at(one.check, lift + side))) for side in (-0.02, 0.02))
    return (high - low) / 0.04


def at_its_end(check: str, value: float) -> bool:
    """Whether a reading of the duty lies where the control, or its meter, can go no further."""
    return check == "lambda_duty" and _bound(check, value) is not None


def _bound(check: str, value: float) -> tuple[float, float] | None:
    """Where a reading tells a direction only: the value it lies beyond, and 1 for beyond upwards."""
    if check == "exhaust_co" and value < LEAST_CO:
        return LEAST_CO, -1.0
    if check == "exhaust_lambda" and value > LEANEST:
        return LEANEST, 1.0
    if check == "lambda_duty" and not DUTY_ENDS[0] < value < DUTY_ENDS[1]:
        return (DUTY_ENDS[0], -1.0) if value <= DUTY_ENDS[0] else (DUTY_ENDS[1], 1.0)
    return None
