"""How strongly a fault of a port, line or injector shows in a catch, by the model of its kind of engine.

A fault of a certain size is put into the car in the middle. What it takes off a catch, in logarithm, over
what it takes off where it shows most, is its visibility there. The pressure valve makes up for a restriction
until it stands wide open: a moderate one shows at the full opening through the injector and nowhere else, a
gross one bare and at smaller openings too. So several sizes are tried, each of them a way of being off.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from evenpour.errors import unknown
from evenpour.machine.engine_off import pour
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Values
from evenpour.machine.set_up import SetUp
from evenpour.machine.situation import Situation
from evenpour.measure import visibility as plain
from evenpour.measure.catches import THROUGH

#: A moderate restriction and an edge take this many times the evenness limit off a catch, or MOST_OFF of it.
TIMES_LIMIT, MOST_OFF = 2.0, 0.5
#: Limits where the sheet gives none; common practice, no source.
LIMITS = {"idle": 0.15, "full": 0.08}
#: What gross restrictions take off the full catch from bare lines: so close that one of them fits any.
GROSS = (0.15, 0.28, 0.41, 0.54, 0.65, 0.74, 0.81)
#: A hundredth is not to be seen in a catch, and what shows alike must compare as alike.
DIGITS = 2
#: Sizes tried: what is left of a line's flow for the root of the pressure; how much too high an edge is, [m].
NARROWED, RAISED = np.geomspace(1.0, 1e-3, 65), np.linspace(0.0, 1e-3, 65)


@dataclass(frozen=True, slots=True, eq=False)
class _Faults:
    """Faults of cylinder 1 in one parameter: how large, and what each takes off where it shows most, log."""

    sizes: Values
    most: Values


def visibility(kind: Kind, through: str, opening: str | float) -> Mapping[str, Mapping[str, float]]:
    """Visibility of each kind of part, by the way it is off, in one catch.

    A *moderate* restriction of line or injector takes twice the evenness limit off the full catch through the
    injectors; *gross 1* to *gross 7* take so much that the full catch from bare lines shows it too; all
    show most in the full catch through the injectors. An *edge* that begins too high takes twice the limit
    off the idle catch. A port's width and a *severe* fault show alike wherever the part lies. *Soft* is a
    restriction behind a pressure valve that gives way before it stands wide open, as the model's never does:
    through injectors a design figure, bare as moderate.

    Args:
        through: ``lines`` (bare) or ``injectors``.
        opening: A name of the sheet's, or the plate's lift over the bare-line onset, [m].
    Returns:
        ``{"port": {"moderate": 1.0, "edge": ...}, "line": {"moderate": ..., "severe": 1.0, ...}, "injector":
        ...}``, each from 0 to 1. ``moderate`` is also how a part's small, harmless differences show.
    Raises:
        UnknownName: no such way of catching, or no such opening.
    """
    if through not in THROUGH:
        raise unknown("through", through, THROUGH, kind="way of catching")
    return _visibility(kind, through, _lift(kind, opening))


def sight(kind: Kind, openings: Iterable[str]) -> plain.Sight:
    """What shows in both ways of catching at *openings*: names of the sheet's, or lifts such as ``12 mm``.

    An opening that is neither is left to the plain table.
    """
    lifts = _lifts(kind)
    rows = [
        (f"{through}:{opening}", part, way, seen)
        for opening in dict.fromkeys(openings)
        if (lift := plain.lift_of(opening, lifts)) is not None
        for through in THROUGH
        for part, ways in _visibility(kind, through, lift).items()
        for way, seen in ways.items()
    ]
    return plain.Sight(tuple(lifts.items()), tuple(rows))


def _lifts(kind: Kind) -> Mapping[str, float]:
    return {"rest": 0.0, **kind.design.openings}


def _lift(kind: Kind, opening: str | float) -> float:
    lifts = _lifts(kind)
    if not isinstance(opening, str):
        return opening
    if opening not in lifts:
        raise unknown("opening", opening, lifts, kind="opening")
    return lifts[opening]


@lru_cache(maxsize=256)
def _visibility(kind: Kind, through: str, lift: float) -> Mapping[str, Mapping[str, float]]:
    ways = ("moderate", *(f"{plain.GROSS} {step}" for step in range(1, len(GROSS) + 1)))
    line = dict(zip(ways, _shown(kind, "line_restriction", through, lift), strict=True))
    behind = plain.soft(lift, kind.design.openings) if through == "injectors" else 0.0
    line |= {"soft": round(max(behind, line["moderate"]), DIGITS), "severe": 1.0}
    (edge,) = _shown(kind, "slit_edge", through, lift)
    # Line and injector lie in series: narrowed to take off as much at one opening, they do so at all.
    injector = line if through == "injectors" else dict.fromkeys(line, 0.0)
    return {"port": {"moderate": 1.0, "edge": edge}, "line": line, "injector": injector}


def _shown(kind: Kind, parameter: str, through: str, lift: float) -> list[float]:
    """Visibility of a parameter's faults."""
    faults = _faults(kind, parameter)
    off = _taken(kind, parameter, faults.sizes, through, lift) / faults.most
    # held at 1: at an opening larger than full a restriction takes off more still
    return [round(float(seen), DIGITS) for seen in np.clip(off, 0.0, 1.0)]


@lru_cache(maxsize=32)
def _faults(kind: Kind, parameter: str) -> _Faults:
    """A slit that begins too high, or a line narrowed to each of the sizes that have a name."""
    if parameter == "slit_edge":
        sizes = _sized(kind, parameter, RAISED, "lines", "idle", [_noticed(kind, "idle")])
        return _Faults(sizes, _taken(kind, parameter, sizes, "lines", _lift(kind, "idle")))
    moderate = _sized(kind, parameter, NARROWED, "injectors", "full", [_noticed(kind, "full")])
    sizes = np.append(moderate, _sized(kind, parameter, NARROWED, "lines", "full", GROSS))
    return _Faults(sizes, _taken(kind, parameter, sizes, "injectors", _lift(kind, "full")))


def _noticed(kind: Kind, opening: str) -> float:
    return min(TIMES_LIMIT * kind.evenness.get(opening, LIMITS[opening]), MOST_OFF)


def _sized(
    kind: Kind, parameter: str, sizes: Values, through: str, opening: str, losses: Sequence[float]
) -> Values:
    """The sizes that take *losses* off a catch, as shares of it, shape (losses,)."""
    taken = _taken(kind, parameter, sizes, through, _lift(kind, opening))
    found: Values = np.interp(-np.log1p(-np.array(losses)), np.maximum.accumulate(taken), sizes)
    return found


def _taken(kind: Kind, parameter: str, sizes: Values, through: str, lift: float) -> Values:
    """What cylinder 1 of the car in the middle lacks against cylinder 2, log, by size of its fault."""
    cars = kind.blueprint.cars(np.zeros((len(sizes), len(kind.blueprint.free))))
    row = kind.blueprint.where(parameter, 1).start
    cars.values[row] = cars.values[row] + sizes if parameter == "slit_edge" else cars.values[row] * sizes
    screws = SetUp(
        np.zeros(len(sizes)), np.zeros(len(sizes))
    )  # an opening counts from the onset, not from them
    fuel = pour(kind, cars, screws, Situation(opening=lift, lines=through == "lines")).fuel
    return np.asarray(np.log(fuel[1] / fuel[0]), dtype=np.float64)
