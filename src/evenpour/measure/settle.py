"""What would settle a reading: a better instrument, more repeats, a better-known condition.

The dominant doubt is tried first, alone; then all together. Where the reading sits on the limit itself,
nothing helps, and that is said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from evenpour.measure.checks import in_sentence
from evenpour.measure.limits import Doubt
from evenpour.measure.showing import unit_for
from evenpour.measure.uncertainty import Estimate, effective_dof
from evenpour.measure.unit_table import step_of, unit_named

WITHIN_AT_ALL = 3.92  # a band narrower than this many u can never be called within at 95 %
WITHIN_WITH_EASE = 6.0  # u that also lets readings off the middle be called within
MOST_REPEATS = 30
FINEST = 20.0  # an instrument this many times better than the present one is none a workshop has

# Pressure gauges as sold: full scale and class. Ranges and classes of EN 837-1, from memory, not
# verified. None below 6 bar (100 psi): a gauge in the control circuit sees the system pressure when a
# valve is shut or a passage blocked.
_FULL_SCALES = {"bar": (6.0, 10.0, 16.0, 25.0, 40.0), "psi": (100.0, 160.0, 200.0, 300.0, 600.0)}
_CLASSES = (2.5, 1.6, 1.0, 0.6, 0.25)
_DIVISIONS = 100.0  # of a gauge's scale
_LOW_PRESSURE = 0.5e5  # Pa; below it (vacuum, smoke) no fuel gauge is meant
_HEADROOM = 1.1
_ROOT_3 = math.sqrt(3.0)

Decided = Callable[[float, int | None], bool]


@dataclass(frozen=True, slots=True)
class Doubted:
    """A reading that cannot be told, and everything its doubt is made of. SI."""

    estimate: Estimate
    conditions: tuple[Doubt, ...]
    low: float | None
    high: float | None
    dimension: str
    unit: str | None


def what_settles(reading: Doubted, decided: Decided, system: str = "metric") -> str:
    """A sentence's part that names what would settle it.

    Args:
        reading: The reading and its doubts.
        decided: Whether a standard uncertainty, with its degrees of freedom, would give a verdict.
    """
    need = _largest_decided(reading.estimate.u, decided)
    if need is None:
        return _on_the_limit(reading)
    budget = reading.estimate.budget
    for name in sorted(budget, key=lambda cause: -budget[cause]):
        rest = math.sqrt(max(0.0, reading.estimate.u**2 - budget[name] ** 2))
        if budget[name] > 0.0 and rest < need:
            words = _cure(reading, name, math.sqrt(need**2 - rest**2), decided, system)
            if words:
                return f"{words} would settle it"
    if all_of := list(_all_together(reading, need, decided, system)):
        return f"{', and '.join(all_of)}, together, would settle it"
    return _on_the_limit(reading)


def _largest_decided(u: float, decided: Decided) -> float | None:
    """The largest uncertainty below *u* that gives a verdict; ``None`` if no workshop can reach it."""
    low, high = u / FINEST, u
    if not decided(low, None):
        return None
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if decided(middle, None) else (low, middle)
    return low


def _cure(reading: Doubted, cause: str, allowed: float, decided: Decided, system: str) -> str | None:
    """How to bring one cause down to *allowed*; ``None`` if no ordinary means does."""
    if cause == "repeats":
        return _repeats(reading.estimate, decided)
    if cause == "gauge":
        top = max(abs(reading.estimate.value), abs(reading.high or reading.low or 0.0))
        return _instrument(
            allowed, reading.estimate.budget["gauge"], top, reading.dimension, system, reading.unit
        )
    doubt = next(one for one in reading.conditions if one.name == cause)
    return _condition(doubt, allowed, system)


def _all_together(reading: Doubted, need: float, decided: Decided, system: str) -> Iterator[str]:
    """Every cause that counts brought down alike; nothing if one of them cannot be."""
    share = need / reading.estimate.u
    cures = []
    for cause, u in reading.estimate.budget.items():
        if u < 0.2 * reading.estimate.u:
            continue
        if cause == "repeats":
            wanted = math.ceil(reading.estimate.n / share**2)
            words = f"{wanted} readings instead of {reading.estimate.n}" if wanted <= MOST_REPEATS else None
        else:
            words = _cure(reading, cause, 0.95 * share * u, decided, system)
        if words is None:
            return
        cures.append(words)
    yield from cures


def _repeats(estimate: Estimate, decided: Decided) -> str | None:
    scatter = estimate.budget["repeats"] * math.sqrt(estimate.n)
    rest = math.sqrt(max(0.0, estimate.u**2 - estimate.budget["repeats"] ** 2))
    for n in range(estimate.n + 1, MOST_REPEATS + 1):
        part = scatter / math.sqrt(n)
        u = math.hypot(rest, part)
        if decided(u, effective_dof(u, {"repeats": (part, n - 1)})):
            return f"{n} readings instead of {estimate.n}"
    return None


def _condition(doubt: Doubt, allowed: float, system: str) -> str | None:
    if doubt.u > FINEST * allowed:
        return None
    half_width = _rounded_down(allowed / doubt.u * doubt.u_condition * _ROOT_3, doubt.dimension, system)
    if doubt.dimension == "temperature" and not doubt.assumed:
        return f"a thermometer good to ± {half_width} for {in_sentence(doubt.title)}"
    stated = "stating" if doubt.assumed else "knowing"
    return f"{stated} {in_sentence(doubt.title)} to ± {half_width}"


def instrument_that_does(
    width: float, u_condition: float, u_now: float, top: float, dimension: str, system: str, unit: str | None
) -> str | None:
    """The plainest instrument with which a band of *width* can be judged; ``None`` if none can."""
    for narrowness in (WITHIN_WITH_EASE, WITHIN_AT_ALL):
        need = width / narrowness
        if need > u_condition:
            allowed = math.sqrt(need**2 - u_condition**2)
            words = _instrument(allowed, u_now, abs(top), dimension, system, unit)
            if words:
                return words
    return None


def _instrument(
    allowed: float, now: float, top: float, dimension: str, system: str, unit: str | None
) -> str | None:
    if dimension == "pressure" and top >= _LOW_PRESSURE:
        return _gauge(allowed, top, "bar" if system == "metric" else "psi")
    if now > FINEST * allowed:
        return None
    return f"an instrument good to ± {_rounded_down(allowed * _ROOT_3, dimension, system, unit)}"


def _gauge(allowed: float, top: float, unit: str) -> str | None:
    size = unit_named(unit).factor
    full_scale = next((scale for scale in _FULL_SCALES[unit] if scale * size >= _HEADROOM * top), None)
    if full_scale is None:
        return None
    for grade in _CLASSES:
        half_width = math.hypot(grade / 100.0, 0.5 / _DIVISIONS) * full_scale * size
        if half_width / _ROOT_3 <= allowed:
            return f"a 0 to {full_scale:g} {unit} gauge of class {grade}"
    return None


def _rounded_down(half_width: float, dimension: str, system: str, unit: str | None = None) -> str:
    """One digit, two where the first is 1, never rounded up: 0.0279 A is 0.02 A, 0.0139 A is 0.013 A."""
    kind = step_of(dimension)
    name = unit_for(kind, system, None if unit is None else unit, half_width)
    chosen = unit_named(name, kind)
    number = half_width / chosen.factor
    place = math.floor(math.log10(number))
    if number / 10.0**place < 2.0:
        place -= 1
    digits = math.floor(number / 10.0**place + 1e-9) * 10.0**place
    return f"{digits:.{max(0, -place)}f} {chosen.label}"


def _on_the_limit(reading: Doubted) -> str:
    if reading.low is not None and reading.high is not None:
        if reading.high - reading.low < WITHIN_AT_ALL * reading.estimate.u / FINEST:
            return "nothing would: the limit is narrower than any ordinary instrument can tell"
        return (
            "nothing ordinary would: the reading sits on the limit; bring it nearer the middle and read again"
        )
    return "nothing ordinary would: the reading sits on the limit, and the same read again says the same"
