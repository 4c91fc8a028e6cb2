"""What a trace of the pressure after the stop tells: through which kind of leak it falls, and how fast.

A hole leaks with the root of the pressure, a narrow gap (a worn seat, a seal) in proportion to it, and a car
may have both; the store's capacity and the leak's size show only as their quotient, so the rate is told as a
fall of pressure. While the trace does not choose between the laws, every figure is averaged over them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import OutOfRange
from evenpour.physics.leakage import pressure_after, time_to_reach
from evenpour.tune.law import Law, Unknown
from evenpour.tune.laws import SEED, Cloud, Told, drawn_anew, told, weighed
from evenpour.tune.points import FEWEST_POINTS, Points, points_of

Array = NDArray[np.float64]
LawName = Literal["orifice", "laminar", "both"]

DRAWS = 4000
QUICK = 5.0  # s; what falls within it fell through the stop, not through a leak
JUMP = 0.15  # of the pressure before it: a smaller one is no stop of the pump
FASTER = 4.0  # times how fast the pressure goes on to fall
LEAST_PRESSURE = 1e3  # Pa; below it a share of the pressure means nothing
CLIMBS = 0.02  # of the pressure: so much above the start is warming fuel, not noise


@dataclass(frozen=True, slots=True)
class Held:
    """The part of a trace that tells of leaks.

    Attributes:
        stop: When the pump stopped, [s] on the trace's clock; its first time where it does not show.
        stop_seen: Whether it shows.
        first: Index of the first sample that counts.
        climbed: How far the pressure climbed after the stop, as warming fuel does, [Pa]; 0 where it did not.
    """

    stop: float
    stop_seen: bool
    first: int
    climbed: float


@dataclass(frozen=True, slots=True)
class HoldingFit:
    """How the pressure falls. Times are counted from the stop.

    Attributes:
        probabilities: Of each law.
        reference: The pressure at which rate and share are told, about the middle of the trace, [Pa].
        start: Pressure at the stop, as far as leaks go (the regulator's shutting not counted), [Pa].
        rate: Fall of pressure at *reference*, [Pa/s].
        orifice_share: Of the leak at *reference* that passes through holes; 1 all, 0 none of it.
        lasted: The last time seen, [s].
        waves: Probability that the trace leaves every law in long waves: something else goes on too.
    """

    probabilities: dict[LawName, float]
    reference: float
    start: Told
    rate: Told
    orifice_share: Told
    lasted: float
    waves: float
    points: Points
    clouds: tuple[Cloud, ...]

    @property
    def law(self) -> LawName:
        """The likeliest."""
        return max(self.probabilities, key=lambda name: self.probabilities[name])

    def pressure(self, time: float, gauge_u: float = 0.0) -> Told:
        """Gauge pressure at *time* after the stop, [Pa]; also beyond the end of the trace."""
        return told(self.clouds, lambda cloud: _pressure(cloud, time), more_u=gauge_u)

    def p_above(self, time: float, pressure: float, gauge_u: float = 0.0) -> float:
        """Probability that more than *pressure* is left at *time*."""
        random = np.random.default_rng(SEED)
        left = self.draws_of_pressure(time, DRAWS, random) + gauge_u * random.standard_normal(DRAWS)
        return float(np.mean(left > pressure))

    def draws_of_pressure(self, time: float, many: int, random: np.random.Generator) -> Array:
        """*many* equally likely pressures at *time*, [Pa]."""
        return drawn_anew(self.clouds, lambda cloud: _pressure(cloud, time), many, random)

    def time_to(self, pressure: float, gauge_u: float = 0.0) -> Told:
        """How long after the stop the pressure reaches *pressure*, [s]; infinite where it never does."""
        random = np.random.default_rng(SEED)

        def when(cloud: Cloud) -> Array:
            hole, gap = _terms(*_rate_and_share(cloud), self.reference)
            start = cloud.values[:, 0]
            shown = np.maximum(pressure + gauge_u * random.standard_normal(start.size), 0.0)
            return np.asarray(time_to_reach(start, shown, 1.0, hole, gap), dtype=np.float64)

        return told(self.clouds, when)


def held_part(time: Array, pressure: Array, stop: float | None = None) -> Held:
    """Where the holding begins: after the last jump of the pressure, and after it has stopped climbing.

    Args:
        time: [s], increasing, (n,).
        pressure: Gauge, [Pa], (n,); without nan.
        stop: When the pump stopped, where a person said so; then no jump is looked for.
    """
    width = max(QUICK, 2.0 * float(np.median(np.diff(time))))
    place = ((time - time[0]) / width).astype(np.intp)
    first = np.flatnonzero(np.diff(place, prepend=-1))
    count = np.diff(first, append=time.size)
    level, at = np.add.reduceat(pressure, first) / count, np.add.reduceat(time, first) / count
    begin, seen = 0, stop is not None
    if stop is not None:
        begin = int(np.searchsorted(time, stop))
    else:
        stop = float(time[0])
        jumps = _jumps(at, level)
        if jumps.size:
            last = int(jumps[-1])
            seen = bool(level[last + 1] < level[last])
            begin = int(first[last + 2])
            high, low = pressure[int(first[max(last - 1, 0)])], pressure[begin]
            through = np.flatnonzero(pressure[:begin] > 0.5 * (high + low)) if seen else [begin]
            stop = float(time[through[-1] if len(through) else begin])
    climbed = 0.0
    if begin < time.size:
        after = level[int(place_of(first, begin)) :]
        top = int(np.argmax(after))
        climbed = float(after[top] - after[0])
        if top > 2 and climbed > CLIMBS * float(after[0]):
            begin = int(first[int(place_of(first, begin)) + top])
        else:
            climbed = 0.0
    return Held(stop, seen, begin, climbed)


def _jumps(at: Array, level: Array) -> NDArray[np.intp]:
    """Behind which levels the pressure jumps: far quicker than it goes on to change, which no leak does.

    Rows that lie minutes apart, or a gap, let a leak fall as far in one step as a stop of the pump does.
    """
    size = np.abs(np.diff(level)) > JUMP * np.maximum(level[:-1], level[1:])
    found = [one for one in np.flatnonzero(size) if one < level.size - 3]
    logs = np.log(np.maximum(level, LEAST_PRESSURE))
    quick = np.abs(np.diff(logs)) / np.diff(at)
    goes_on = [abs(logs[-1] - logs[one + 2]) / (at[-1] - at[one + 2]) for one in found]
    return np.array([a for a, b in zip(found, goes_on, strict=True) if quick[a] > FASTER * b], dtype=np.intp)


def place_of(first: NDArray[np.intp], index: int) -> int:
    """Which stretch a sample lies in."""
    return int(np.searchsorted(first, index, side="right")) - 1


def holding_fit(time: Array, pressure: Array, still: float = 0.0) -> HoldingFit:
    """Fit the laws to the pressure after the stop.

    Args:
        time: Since the stop, [s], increasing, (n,).
        pressure: Gauge, [Pa], (n,); nan where nothing was read. Leaks only: see :func:`held_part`.
        still: The gauge's step where it never moved: see :func:`evenpour.tune.points.points_of`.
    Raises:
        OutOfRange: fewer than six samples, or no pressure left to fall.
    """
    points = points_of(time, pressure, still)
    middle = float(np.mean(points.value))
    if not middle > 0.0:
        raise OutOfRange("pressure", middle, "leaves nothing to fall", allowed="more than 0 Pa")
    clouds = weighed(_laws(points, middle), points)
    names: tuple[LawName, ...] = ("orifice", "laminar", "both")
    return HoldingFit(
        probabilities={name: _probability(clouds, name) for name in names},
        reference=middle,
        start=told(clouds, lambda cloud: cloud.values[:, 0]),
        rate=told(clouds, lambda cloud: cloud.values[:, 1]),
        orifice_share=told(clouds, lambda cloud: _rate_and_share(cloud)[1], shortest=True),
        lasted=points.end,
        waves=sum(cloud.probability * cloud.waves for cloud in clouds),
        points=points,
        clouds=clouds,
    )


def _laws(points: Points, reference: float) -> list[Law]:
    time, value = points.time, points.value
    span = max(float(np.ptp(value)), 2.0 * points.step, 1e-3 * reference)
    few = min(5, FEWEST_POINTS - 1)
    fall = float(np.mean(value[:few]) - np.mean(value[-few:]))
    lasted = float(time[-1] - time[0])
    start = Unknown("start", max(float(value.min()) - 3.0 * span, 0.0), float(value.max()) + 3.0 * span)
    rate = Unknown("rate", 0.0, 10.0 * span / lasted)
    guess = (float(value[0]), max(fall, 0.05 * span) / lasted)

    def falls(parameters: Array, times: Array, share: Array | float) -> Array:
        hole, gap = _terms(parameters[:, 1:2], share, reference)
        return np.asarray(pressure_after(parameters[:, :1], times, 1.0, hole, gap), dtype=np.float64)

    return [
        Law("orifice", (start, rate), lambda p, t: falls(p, t, 1.0), (guess,)),
        Law("laminar", (start, rate), lambda p, t: falls(p, t, 0.0), (guess,)),
        Law(
            "both",
            (start, rate, Unknown("orifice_share", 0.0, 1.0)),
            lambda p, t: falls(p, t, p[:, 2:3]),
            ((*guess, 0.2), (*guess, 0.8)),
        ),
    ]


def _terms(rate: Array, share: Array | float, reference: float) -> tuple[Array, Array]:
    """Both leaks over a capacity of 1: of the root of the pressure, and of the pressure."""
    return share * rate / np.sqrt(reference), (1.0 - share) * rate / reference


def _pressure(cloud: Cloud, time: float) -> Array:
    return cloud.law.curve(cloud.values, np.array([time]))[:, 0]


def _rate_and_share(cloud: Cloud) -> tuple[Array, Array]:
    rate = cloud.values[:, 1]
    if cloud.law.name == "both":
        return rate, cloud.values[:, 2]
    return rate, np.full(rate.size, 1.0 if cloud.law.name == "orifice" else 0.0)


def _probability(clouds: tuple[Cloud, ...], name: str) -> float:
    return next(cloud.probability for cloud in clouds if cloud.law.name == name)
