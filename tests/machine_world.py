"""What the tests of the machine share: kinds of engine, cars of them, and limits held against cars."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from evenpour import data
from evenpour.job.engine_model import car_parameters, causes_known, checks_predicted
from evenpour.machine.asking import query
from evenpour.machine.checks import ChoiceCheck, NumberCheck
from evenpour.machine.faults import with_fault
from evenpour.machine.kind import Kind, kind_of
from evenpour.machine.parameters import Cars
from evenpour.machine.readout import Query, Readout
from evenpour.machine.set_up import set_since, set_up
from evenpour.machine.sheet import Sheet
from evenpour.machine.situation import Situation
from evenpour.measure.limit_types import Limit, Match
from evenpour.measure.limits import Band, band
from evenpour.measure.readings import Condition
from sheet_tools import CHECKS, shipped_sheet

SHEETS = data.sheet_names()
HOME = Situation()
PARAMETERS = car_parameters()
CAUSES = causes_known()
PREDICTED = checks_predicted()

Stated = Mapping[str, float | str]

#: Where a limit asks for a span that is open on one side, what a person would do. SI.
USUAL = {"voltage": 12.0, "after": 300.0, "temperature": 353.15, "below_opening": 0.4e5, "test_pressure": 2e3}


@cache
def kind(sheet: str) -> Kind:
    """The kind of engine of a shipped sheet."""
    return kind_of(shipped_sheet(sheet), PARAMETERS)


def middle_car(of: Kind) -> Cars:
    """The car in the middle of its kind."""
    return of.blueprint.cars(np.zeros((1, len(of.blueprint.free))))


def drawn_cars(of: Kind, count: int, seed: int = 1, widening: float = 1.0) -> Cars:
    """Healthy cars at random."""
    draws = np.random.default_rng(seed).standard_normal((count, len(of.blueprint.free)))
    return of.blueprint.cars(draws, widening)


def seen(of: Kind, cars: Cars | None = None, home: Situation = HOME) -> Readout:
    """Cars, the middle one where none are given, with their screws set right at *home*."""
    cars = middle_car(of) if cars is None else cars
    return Readout(of, cars, set_up(of.design, of.torque, of.funnel, cars, home))


def ask(
    of: Kind, check: str, cylinder: int | None = None, home: Situation = HOME, **stated: float | str
) -> Query:
    """A query of *check*, of cylinder 1 where it has cylinders and none is named."""
    if cylinder is None and CHECKS[check].per_cylinder:
        cylinder = 1
    return query(of, check, cylinder, stated, home)


def value(cars: Readout, check: str, cylinder: int | None = None, **stated: float | str) -> Any:
    """What the model says *check* reads, SI or a margin: shape (cars,)."""
    asked = ask(cars.kind, check, cylinder, **stated)
    return PREDICTED[check].reads(cars, asked) + np.zeros(len(cars.cars))


# Cars in front of one's eyes with something wrong


def mixture(cars: Readout, state: str, **changes: Any) -> float:
    """Lambda of all air over all fuel, the oxygen sensor off."""
    return float(cars.running(replace(HOME, engine=state, sensor="off", **changes)).whole[0])


def with_(of: Kind, cause: str, severity: float, cylinder: int = 1, form: int = 0) -> Readout:
    """The middle car with a cause, its screws as they were right without it."""
    right = seen(of)
    one = CAUSES[cause]
    cars = with_fault(of.blueprint, right.cars, one, cylinder if one.per_cylinder else None, severity, form)
    return Readout(of, cars, set_since(of.design, of.torque, of.funnel, cars, HOME, right.screws))


def changed(of: Kind, parameter: str, factor: float = 1.0, more: float = 0.0) -> Readout:
    """The middle car with one parameter times a factor and with more added, its screws where they were."""
    right = seen(of)
    cars = right.cars.copy()
    rows = cars.rows[parameter]
    cars.values[rows] = factor * cars.values[rows] + more
    return Readout(of, cars, right.screws)


def catches(cars: Readout, cylinder: int = 1) -> dict[tuple[str, str], float]:
    """What a port gives in a minute, by way of catching and opening, [m³]."""
    return {
        (through, opening): float(value(cars, "catch", cylinder, through=through, opening=opening)[0])
        for through in ("lines", "injectors")
        for opening in ("idle", "part", "full")
    }


# A sheet's limits, held against cars.


@dataclass(frozen=True, slots=True)
class Held:
    """One limit in one circumstance.

    ``used``: share of the way from the middle to the nearest limit, (cars,).
    """

    label: str
    met: Any
    used: Any


#: Limits of a spread over cylinders or ports: the check they are worked out of.
SPREADS = {check.id: check.spread_of for check in CHECKS.values() if check.spread_of}


def limits_held(cars: Readout, sheet: Sheet, home: Situation = HOME) -> Iterator[Held]:
    """Every limit of *sheet* that the model can read, in the circumstances it holds in."""
    for limit in sheet.limits:
        for stated in circumstances(limit):
            found = band(limit, {name: _condition(name, value) for name, value in stated.items()})
            assert isinstance(found, Band), (limit.check, stated, found)
            yield from _held(cars, limit, found, stated, home)


def circumstances(limit: Limit) -> Iterator[Stated]:
    """The corners of what a limit holds in: each choice, both ends of each span."""
    ways = {name: _ways(match) for name, match in {**limit.asks, **limit.when}.items()}
    for one in limit.depends:
        low = -math.inf if one.low is None else one.low
        high = math.inf if one.high is None else one.high
        corners = (one.low, one.high, min(max(one.at, low), high))
        ways[one.on] = list(dict.fromkeys(end for end in corners if end is not None))
    for corner in itertools.product(*ways.values()):
        yield dict(zip(ways, corner, strict=True))


def _ways(match: Match) -> list[Any]:
    if match.choices:
        return list(match.choices)
    ends = [end for end in (match.low, match.high) if end is not None]
    inside = 0.02 * (1.0 if len(ends) < 2 else ends[1] - ends[0])
    found = [
        *([match.low + inside] if match.low is not None else []),
        *([match.high - inside] if match.high is not None else []),
    ]
    usual = USUAL.get(match.name)
    if len(ends) < 2 and usual is not None and match.holds(_condition(match.name, usual)):
        found.append(usual)
    return found


def _condition(name: str, value: float | str) -> Condition:
    return (
        Condition(name, None, value, 0.0, value)
        if isinstance(value, str)
        else Condition(name, value, None, 0.0, "")
    )


def _held(cars: Readout, limit: Limit, found: Band, stated: Stated, home: Situation) -> Iterator[Held]:
    if limit.check.startswith("control_"):  # with a thermometer on the regulator's body
        stated = {"regulator_temperature": home.ambient_temperature, **stated}
    label = " ".join(
        [
            limit.check,
            *(f"{name}={one if isinstance(one, str) else round(one, 3)}" for name, one in stated.items()),
        ]
    )
    if limit.check == "catch_evenness":
        for through in ("lines", "injectors"):
            caught = _all_cylinders(cars, "catch", {**stated, "through": through}, home)
            yield _number(f"{label} {through}", found, np.ptp(caught, axis=0) / caught.mean(axis=0))
    elif limit.check in SPREADS:
        yield _number(label, found, np.ptp(_all_cylinders(cars, SPREADS[limit.check], stated, home), axis=0))
    elif limit.check in PREDICTED:
        check = PREDICTED[limit.check]
        each = range(1, cars.kind.design.cylinders + 1) if CHECKS[limit.check].per_cylinder else [None]
        for cylinder in each:
            name = label if cylinder is None else f"{label} [{cylinder}]"
            asked = query(cars.kind, limit.check, cylinder, stated, home)
            read = check.reads(cars, asked) + np.zeros(len(cars.cars))
            yield (
                _number(name, found, read)
                if isinstance(check, NumberCheck)
                else _choice(name, check, asked, limit, read)
            )


def _all_cylinders(cars: Readout, check: str, stated: Stated, home: Situation) -> Any:
    each = range(1, cars.kind.design.cylinders + 1)
    return np.array(
        [
            PREDICTED[check].reads(cars, query(cars.kind, check, one, stated, home))
            + np.zeros(len(cars.cars))
            for one in each
        ]
    )


def _number(label: str, found: Band, read: Any) -> Held:
    low, high = found.low, found.high
    met = np.ones(read.shape, dtype=bool)
    if low is not None:
        met &= read >= low
    if high is not None:
        met &= read <= high
    middle = 0.5 * (low + high) if low is not None and high is not None else float(np.median(read))
    used = np.where(read > middle, (read - middle) / ((np.inf if high is None else high) - middle), 0.0)
    used = np.where(read < middle, (middle - read) / (middle - (-np.inf if low is None else low)), used)
    return Held(label, met, used)


def _choice(label: str, check: ChoiceCheck, asked: Query, limit: Limit, read: Any) -> Held:
    if check.right:
        right = read > check.cuts[0]
        return Held(label, right, 1.0 / np.maximum(1.0 + read - check.cuts[0], 1e-9))
    places = np.searchsorted(check.cuts, read)
    allowed = np.array([any(word in limit.allowed for word in words) for words in check.order])
    edges = [cut for cut, a, b in zip(check.cuts, allowed[:-1], allowed[1:], strict=True) if a != b]
    near = np.min([np.abs(read - cut) for cut in edges], axis=0)
    met = allowed[places]
    return Held(label, met, np.where(met, 1.0 / (1.0 + near), 1.0 + near))
