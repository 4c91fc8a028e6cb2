"""What every check would read on cars of one kind, in its usual states."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.causes.choice_line import ChoiceLine, lines_of
from evenpour.job.catalogue import catalogue, fitted
from evenpour.job.engine_model import checks_predicted
from evenpour.job.sheet.found import form
from evenpour.job.whatif.data import ShownReading, whatif_data
from evenpour.machine.asking import query
from evenpour.machine.checks import ChoiceCheck, NumberCheck
from evenpour.machine.kind import Kind
from evenpour.machine.line_map import LineMap
from evenpour.machine.readout import Query, Readout
from evenpour.machine.sheet import Sheet
from evenpour.machine.situation import Situation
from evenpour.machine.sound import runs
from evenpour.measure.checks import Check
from evenpour.measure.limits import Band, band
from evenpour.measure.readings import Condition, meant
from evenpour.measure.units import shown

Values = NDArray[np.float64]
Key = tuple[int, str, int | None]

_POURS = frozenset({"catch", "rest_delivery"})
NOT_RUNNING = "the engine does not run so"
NO_BALANCE = "the model finds no balance there"


@dataclass(frozen=True, slots=True)
class Line:
    """A check in a state, on one cylinder where it has one.

    Attributes:
        place: Of the state, in the order of the data.
        port: Of a catch that of the port, where it feeds a cylinder of another number.
        predicted: How the model reads it; ``None`` for what is worked out of the cylinders' own readings.
        asked: What the model is asked; of a worked-out one, that of its first cylinder.
        repeats: How well a careful person repeats it, as it is compared; of a choice nothing.
    """

    place: int
    check: Check
    cylinder: int | None
    port: int | None
    group: str
    words: str
    conditions: Mapping[str, Condition]
    predicted: NumberCheck | ChoiceCheck | None
    asked: Query
    repeats: float

    @property
    def key(self) -> Key:
        """What tells it from all others, whatever is set."""
        return self.place, self.check.id, self.cylinder

    def compared(self, value: Any) -> Any:
        """A value as it is compared."""
        return self.predicted.compared(value) if isinstance(self.predicted, NumberCheck) else value


@dataclass(frozen=True, slots=True)
class Readings:
    """All lines of some cars. ``values``: SI or margins, shape (cars,); ``holds``: where they mean anything.

    ``chances``: of a choice's places along its line, shape (cars, places).
    """

    values: Mapping[Key, Values]
    holds: Mapping[Key, NDArray[np.bool_]]
    chances: Mapping[Key, Values]


def lines(
    kind: Kind, sheet: Sheet, home: Situation, conditions: Mapping[str, Condition], system: str = "metric"
) -> tuple[Line, ...]:
    """Everything that is shown of an engine.

    Args:
        home: The surroundings, with what is set in them.
        conditions: Those that are set, by name: they take the place of a state's own.
    """
    found: list[Line] = []
    known: set[tuple[str, str]] = set()
    for place, one in enumerate(whatif_data().readings):
        if not _is_here(one, kind):
            continue
        stated = _stated(one, kind, home, conditions)
        told = (one.check.id, repr(sorted((name, at.value, at.choice) for name, at in stated.items())))
        if told not in known:  # what was set may leave two states alike
            known.add(told)
            found += _of_state(place, one, stated, kind, sheet, home, system)
    return tuple(found)


def _is_here(one: ShownReading, kind: Kind) -> bool:
    device = form().device_of(one.check.id)
    return fitted(one.only, kind.devices) and (device is None or device.id in kind.devices)


def _stated(
    one: ShownReading, kind: Kind, home: Situation, conditions: Mapping[str, Condition]
) -> dict[str, Condition]:
    """The conditions of a state: its own, then what is set."""
    stated = dict(one.conditions)
    for name in one.at_air:
        stated[name] = _exactly(name, float(home.ambient_temperature), "temperature")
    for name in one.at_idle:
        stated[name] = _exactly(name, kind.design.idle_speed, "speed")
    everywhere = catalogue().everywhere
    stated |= {
        name: at for name, at in conditions.items() if name in one.check.conditions or name in everywhere
    }
    return meant(one.check, stated)


def _exactly(name: str, value: float, dimension: str) -> Condition:
    return Condition(name, value, None, 0.0, shown(value, dimension))


def _of_state(
    place: int,
    one: ShownReading,
    stated: Mapping[str, Condition],
    kind: Kind,
    sheet: Sheet,
    home: Situation,
    system: str,
) -> Iterator[Line]:
    predicted = checks_predicted()[one.check.id]
    words = one.words.format_map({name: _condition_words(at, system) for name, at in stated.items()})
    exact = {name: replace(at, u=0.0) for name, at in stated.items()}
    plain = {name: at.choice if at.value is None else at.value for name, at in stated.items()}
    asked = {name: value for name, value in plain.items() if value is not None}
    numbers = range(1, kind.design.cylinders + 1) if one.check.per_cylinder else [None]
    repeats = predicted.repeats if isinstance(predicted, NumberCheck) else 0.0
    own = [
        Line(place, one.check, *_place(one.check, number, kind.design.line_map), one.group, words, exact,
             predicted, query(kind, one.check.id, number, asked, home), repeats)
        for number in numbers
    ]  # fmt: skip
    yield from own
    worked_out = _worked_out(one.check)
    if worked_out is not None and any(
        isinstance(band(limit, exact), Band) for limit in sheet.limits_for(worked_out.id)
    ):
        yield replace(
            own[0], check=worked_out, cylinder=None, port=None, predicted=None, repeats=2.0 * repeats
        )


def _place(check: Check, number: int | None, line_map: LineMap) -> tuple[int | None, int | None]:
    """The cylinder of a check with a *number*, and its port where that is another."""
    if check.id != "catch" or number is None:
        return number, None
    cylinder = line_map.cylinder(number)
    return cylinder, None if cylinder == number else number


def _condition_words(at: Condition, system: str) -> str:
    if at.value is None:
        return str(at.choice).replace("_", " ")
    dimension = catalogue().kinds[at.name].dimension
    return at.text if dimension is None else shown(at.value, dimension, system)


def _worked_out(check: Check) -> Check | None:
    """The check that is worked out of the cylinders' readings of *check*, if there is one."""
    checks = catalogue().checks
    if check.id == "catch":
        return checks["catch_evenness"]
    return next((one for one in checks.values() if one.spread_of == check.id), None)


def read(seen: Readout, asked: Sequence[Line]) -> Readings:
    """What all lines read on the cars of *seen*."""
    cars = len(seen.cars)
    values: dict[Key, Values] = {}
    holds: dict[Key, NDArray[np.bool_]] = {}
    for line in asked:
        if line.predicted is None:
            continue
        value = np.asarray(line.predicted.reads(seen, line.asked), dtype=np.float64)
        values[line.key] = np.broadcast_to(value, (cars,))
        holds[line.key] = _holds(seen, line) & np.isfinite(values[line.key])
    for own in _by_state(asked).values():
        line = own[-1]
        if line.predicted is None:
            each = np.array([values[one.key] for one in own[:-1]])
            spread = each.max(axis=0) - each.min(axis=0)
            over = np.maximum(each.mean(axis=0), 1e-12) if line.check.id == "catch_evenness" else 1.0
            values[line.key] = spread / over
            holds[line.key] = np.all([holds[one.key] for one in own[:-1]], axis=0)
    return Readings(values, holds, _chances(asked, values))


def _holds(seen: Readout, line: Line) -> NDArray[np.bool_]:
    """On which cars the reading means something: the engine runs, a balance was found."""
    situation, cars = line.asked.situation, len(seen.cars)
    if situation.running:
        if line.check.id == "start_outcome":
            return np.ones(cars, dtype=np.bool_)
        if line.check.id == "lambda_loop":  # seen at once, whether or not the engine then bears it
            situation = replace(situation, sensor="connected")
        return runs(seen.kind, seen.running(situation))
    if line.check.id in _POURS or (line.check.id == "system_pressure" and situation.opening is not None):
        return np.asarray(seen.pour(situation).converged)
    if line.check.id.startswith(("system_pressure", "control_pressure", "control_flow", "pump_current")):
        return np.asarray(seen.pressures(situation).converged)
    return np.ones(cars, dtype=np.bool_)


def _chances(asked: Sequence[Line], values: Mapping[Key, Values]) -> dict[Key, Values]:
    choices = [line for line in asked if isinstance(line.predicted, ChoiceCheck)]
    if not choices:
        return {}
    checks = [line.predicted for line in choices if isinstance(line.predicted, ChoiceCheck)]
    margins = np.stack([np.nan_to_num(values[line.key]) for line in choices], axis=-1)
    found = lines_of([ChoiceLine(one.cuts, misread=one.misread) for one in checks]).probabilities(margins)
    return {line.key: found[:, row, : len(checks[row].cuts) + 1] for row, line in enumerate(choices)}


def why_not(line: Line) -> str:
    """Why a line holds no reading."""
    return NOT_RUNNING if line.asked.situation.running else NO_BALANCE


@dataclass(frozen=True, slots=True)
class Usual:
    """What healthy cars show at a line: ``low`` to ``high`` holds 90 of 100, SI; or each choice's chance."""

    low: float
    high: float
    chances: tuple[float, ...]


def usual(asked: Sequence[Line], readings: Readings) -> dict[Key, Usual]:
    """What many healthy cars show; the cylinders of one state are alike and are taken together."""
    found: dict[Key, Usual] = {}
    for own in _by_check(asked).values():
        keys = [line.key for line in own]
        holds = np.concatenate([readings.holds[key] for key in keys])
        if own[0].key in readings.chances:
            chances = np.concatenate([readings.chances[key] for key in keys])[holds].mean(axis=0)
            one = Usual(np.nan, np.nan, tuple(float(share) for share in chances))
        else:
            values = np.concatenate([readings.values[key] for key in keys])[holds]
            low, high = np.quantile(values, (0.05, 0.95))
            one = Usual(float(low), float(high), ())
        found |= dict.fromkeys(keys, one)
    return found


def _by_check(asked: Sequence[Line]) -> dict[tuple[int, str], list[Line]]:
    """The lines of one check in one state."""
    found: dict[tuple[int, str], list[Line]] = {}
    for line in asked:
        found.setdefault((line.place, line.check.id), []).append(line)
    return found


def _by_state(asked: Sequence[Line]) -> dict[int, list[Line]]:
    """The lines of one state: all cylinders, then what is worked out of them."""
    found: dict[int, list[Line]] = {}
    for line in asked:
        found.setdefault(line.place, []).append(line)
    return found
