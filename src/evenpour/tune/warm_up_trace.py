"""What a trace of the control pressure in warm-up tells: where it starts, how fast it climbs, where it ends.

The regulator's bimetal sits with its heater on a body that warms more slowly. The pressure follows the
bimetal until it stands clear of its spring, and from then on stays: a rise that may be nearly straight, then
a knee. Or the end is never cut off, and one time constant, or two, run out. Which of these it was is left to
the trace; the figures that a mechanic asks for are averaged over them. All laws share three: where it starts,
where it ends, and when 63 % of the way is done; each adds its own shape.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenpour.physics.heat import first_order, time_to_warm
from evenpour.tune.law import Law, Unknown
from evenpour.tune.laws import Cloud, Told, told, weighed
from evenpour.tune.points import Points, points_of

Array = NDArray[np.float64]
RiseName = Literal["one", "two", "cut_off"]

WAY = 1.0 - float(np.exp(-1.0))  # of the climb within one time constant: 63 %
FILLS = 10.0  # s in which a pump fills lines and gauge
EMPTY = 0.1  # of the highest pressure, below which the lines are empty at first
FILLING = 0.2  # of the largest step, from which a step still fills the lines
FASTEST = 1.0  # s, of a time constant
SLOWEST = 3600.0  # s
APART = (2.0, 20.0)  # second time constant over the first


@dataclass(frozen=True, slots=True)
class Rise:
    """How something climbs to where it stays.

    Attributes:
        probabilities: Of each law: one time constant, two, or one cut off by a knee.
        law: The likeliest.
        start: Value before the climb.
        plateau: Value it ends at.
        time_constant: Time from the heater's switching on until 63 % of the climb is done, [s]. For a single
            time constant that is it; for the others it is what can be compared with it.
        law_constant: The law's own time constant, [s]: of "two", the quicker one.
        slow_constant: The slower one of "two", [s].
        knee: When the climb was cut off, after the switching on, [s].
        on: When the heater was switched on, on the trace's clock, [s].
        on_seen: Whether the trace shows it; else its first time is taken.
        waves: Probability that the trace leaves every law in long waves.
    """

    probabilities: dict[RiseName, float]
    law: RiseName
    start: Told
    plateau: Told
    time_constant: Told
    law_constant: Told
    slow_constant: Told | None
    knee: Told | None
    on: float
    on_seen: bool
    lasted: float
    waves: float
    points: Points
    clouds: tuple[Cloud, ...]

    def value(self, time: float, gauge_u: float = 0.0) -> Told:
        """The value at *time* after the switching on."""
        times = np.array([self.on + time])
        return told(self.clouds, lambda cloud: cloud.law.curve(cloud.values, times)[:, 0], more_u=gauge_u)

    def time_to(self, level: float) -> Told:
        """How long after the switching on *level* is reached, [s]; infinite where it never is."""
        times = self.on + np.append(0.0, np.geomspace(1.0, SLOWEST, 400))

        def when(cloud: Cloud) -> Array:
            curves = cloud.law.curve(cloud.values, times)
            past = curves >= level if self.plateau.value > self.start.value else curves <= level
            after = np.argmax(past, axis=1)
            before, rows = np.maximum(after - 1, 0), np.arange(after.size)
            step = curves[rows, after] - curves[rows, before]
            share = np.where(
                step == 0.0, 0.0, (level - curves[rows, before]) / np.where(step == 0.0, 1.0, step)
            )
            when = times[before] + share * (times[after] - times[before]) - self.on
            return np.where(np.any(past, axis=1), when, np.inf)

        return told(self.clouds, when)


def pumped_up(time: Array, pressure: Array) -> int:
    """The first sample that counts: after the pump has filled the lines, which takes a moment from nothing.

    Args:
        time: [s], increasing, (n,).
        pressure: Gauge, [Pa], (n,); without nan.
    """
    early = np.flatnonzero(time - time[0] <= FILLS)
    steps = np.diff(pressure[: early[-1] + 2])
    if not steps.size or pressure[0] > EMPTY * float(np.max(pressure)):
        return 0
    quick = np.flatnonzero(steps > FILLING * float(np.max(steps)))
    return int(quick[-1]) + 1


def rise_fit(time: Array, value: Array, still: float = 0.0) -> Rise:
    """Fit the laws to something that climbs and stays: the control pressure, or the bimetal's temperature.

    Args:
        time: [s], increasing, (n,). A stretch before the heater was on may stand at its beginning.
        value: Gauge pressure [Pa] or temperature [K], (n,); nan where nothing was read.
        still: The gauge's step where it never moved: see :func:`evenpour.tune.points.points_of`.
    Raises:
        OutOfRange: fewer than six samples.
    """
    points = points_of(time, value, still)
    clouds = weighed([*_laws(points, later=False), *_laws(points, later=True)], points)
    names: tuple[RiseName, ...] = ("one", "two", "cut_off")
    probabilities = {
        name: sum(cloud.probability for cloud in clouds if cloud.law.name == name) for name in names
    }
    law = max(names, key=lambda name: probabilities[name])
    own = [cloud for cloud in clouds if cloud.law.name == law]
    on = told(clouds, lambda cloud: _on(cloud, points))
    return Rise(
        probabilities=probabilities,
        law=law,
        start=told(clouds, lambda cloud: cloud.values[:, 0]),
        plateau=told(clouds, lambda cloud: cloud.values[:, 1]),
        time_constant=told(clouds, lambda cloud: cloud.values[:, 2]),
        law_constant=told(own, _own_constant),
        slow_constant=told(own, _slow) if law == "two" else None,
        knee=told(own, _knee) if law == "cut_off" else None,
        on=on.value,
        on_seen=sum(cloud.probability for cloud in clouds if _later(cloud)) > 0.5,
        lasted=points.end - on.value,
        waves=sum(cloud.probability * cloud.waves for cloud in clouds),
        points=points,
        clouds=clouds,
    )


def _later(cloud: Cloud) -> bool:
    return cloud.law.unknowns[-1].name == "on"


def _on(cloud: Cloud, points: Points) -> Array:
    if _later(cloud):
        return np.asarray(cloud.values[:, -1])
    return np.full(cloud.values.shape[0], points.begin)


def _laws(points: Points, *, later: bool) -> list[Law]:
    """The three laws, the heater switched on with the first sample, or *later*."""
    value = points.value
    first, last = float(np.median(value[:3])), float(np.median(value[-3:]))
    span = max(abs(last - first), float(np.ptp(value)), 2.0 * points.step, 1e-4 * abs(first))
    low, high = float(value.min()), float(value.max())
    unknowns = (
        Unknown("start", low - span, high + span),
        Unknown("plateau", low - span, high + span),
        Unknown("time_constant", FASTEST, SLOWEST, log=True),
    )
    begun = _passes(points, first, last, 0.1)
    on = (
        (Unknown("on", points.begin, max(_passes(points, first, last, 0.5), points.begin + 1e-3)),)
        if later
        else ()
    )
    since_on = begun if later else points.begin
    way = max(2.0 * FASTEST, _passes(points, first, last, WAY) - since_on)
    guess = (first, last, way)
    at = (begun,) if later else ()

    def since(parameters: Array, times: Array) -> Array:
        moment = parameters[:, -1:] if later else points.begin
        return np.asarray(np.maximum(times - moment, 0.0))

    def one(p: Array, times: Array) -> Array:
        return _climb(p, first_order(since(p, times), 0.0, 1.0, p[:, 2:3]))

    def two(p: Array, times: Array) -> Array:
        after, quick = since(p, times), _quick(p)[:, None]
        mixed = first_order(after, 0.0, 1.0 - p[:, 3:4], quick)
        return _climb(p, mixed + first_order(after, 0.0, p[:, 3:4], quick * p[:, 4:5]))

    def cut_off(p: Array, times: Array) -> Array:
        """*reach* is the plateau's share of where the bimetal would have gone."""
        constant = _cut_constant(p)[:, None]
        return _climb(p, np.minimum(first_order(since(p, times), 0.0, 1.0 / p[:, 3:4], constant), 1.0))

    share, apart = Unknown("slow_share", 0.0, 1.0), Unknown("apart", *APART, log=True)
    reach = Unknown("reach", 1e-3, 1.0)
    return [
        Law("one", (*unknowns, *on), one, ((*guess, *at),)),
        Law("two", (*unknowns, share, apart, *on), two, ((*guess, 0.3, 5.0, *at), (*guess, 0.7, 5.0, *at))),
        Law("cut_off", (*unknowns, reach, *on), cut_off, ((*guess, 0.9, *at), (*guess, 0.3, *at))),
    ]


def _passes(points: Points, first: float, last: float, share: float) -> float:
    """When a share of the climb was done for the first time."""
    past = (points.value - first) * np.sign(last - first) >= share * abs(last - first)
    return float(points.time[int(np.argmax(past))])


def _climb(parameters: Array, done: Array) -> Array:
    """From start to plateau, as far as is done."""
    start, end = parameters[:, :1], parameters[:, 1:2]
    return np.asarray(start + (end - start) * done, dtype=np.float64)


def _knee(cloud: Cloud) -> Array:
    """When the plateau is met, after the switching on."""
    reach, constant = cloud.values[:, 3], _cut_constant(cloud.values)
    return np.asarray(time_to_warm(1.0, 0.0, 1.0 / reach, constant), dtype=np.float64)


def _cut_constant(parameters: Array) -> Array:
    """The time constant of a climb that has done 63 % when its time says so, and is cut off."""
    return np.asarray(-parameters[:, 2] / np.log1p(-WAY * parameters[:, 3]))


def _quick(parameters: Array) -> Array:
    """The quicker of two time constants that together have done 63 % when their time says so."""
    way, share, apart = parameters[:, 2], parameters[:, 3], parameters[:, 4]
    over = np.ones_like(way)  # the time over the quicker constant; what is left falls ever slower, so that
    for _ in range(8):  # Newton's steps never go too far
        quick, slow = (1.0 - share) * np.exp(-over), share * np.exp(-over / apart)
        over = over + (quick + slow - (1.0 - WAY)) / (quick + slow / apart)
    return np.asarray(way / over)


def _own_constant(cloud: Cloud) -> Array:
    if cloud.law.name == "one":
        return np.asarray(cloud.values[:, 2])
    return _quick(cloud.values) if cloud.law.name == "two" else _cut_constant(cloud.values)


def _slow(cloud: Cloud) -> Array:
    return np.asarray(_quick(cloud.values) * cloud.values[:, 4], dtype=np.float64)
