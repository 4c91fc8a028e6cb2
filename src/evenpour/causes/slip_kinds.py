"""What a reading may have been meant as: psi for bar, a point misplaced, another state, another's value."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from evenpour.causes.observed import Middle, Observation
from evenpour.causes.problem import Array, Indices
from evenpour.causes.unexplained import STRAY
from evenpour.machine.asking import HEATED
from evenpour.machine.checks import NumberCheck
from evenpour.machine.reads_supply import control_pressure, system_pressure
from evenpour.machine.situation import Situation

#: That a value's unit is another, the state it was read in another, or two values of a check exchanged: of
#: each of these; common practice, no source. A point is misplaced less often than that.
SLIP_PRIOR, POINT_PRIOR = 0.003, 0.001
#: Read one after the other at the same gauge.
CROSSED = ("system_pressure", "control_pressure_cold", "control_pressure_warm")
HOT = 313.15  # K, above which a regulator that nobody heats is hotter than any day
RUN = (("the run twice as long as written", 2.0), ("the run half as long as written", 0.5))
SEEN = 3.0  # times what repeating and model leave open, by which another state must move a reading to be one
BAR_PER_PSI = 0.0689476
POINT = (("the point one place to the left", 0.1), ("the point one place to the right", 10.0))
UNITS = (
    ("psi written as bar", BAR_PER_PSI), ("bar written as psi", 1.0 / BAR_PER_PSI),
    ("kPa written as bar", 0.01), ("bar written as kPa", 100.0),
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)  # each is itself alone, however alike another is
class Slip:
    """A reading as it may have been meant: another unit, a point misplaced, another's value.

    Args:
        label: What it is called: "psi typed as bar".
        rows: Which rows of the columns it puts right.
        y: What they would then read, in the space of the columns.
        log_prior: Log probability of this slip, with the log of how much finer the marks are that it was read
            by (0 for a shift in logs).
        elsewhere: Whether the values are right, and were read otherwise than is said: *y* is then what they
            would have been.
    """

    label: str
    rows: Indices
    y: Array
    log_prior: float
    elsewhere: bool = False


def slips_of(observations: Sequence[Observation], middle: Middle) -> tuple[Slip, ...]:
    """How readings may have been meant: psi for bar, a point misplaced, another state, another's value."""
    elsewhere = _elsewhere(observations, middle)
    found: list[Slip] = []
    for row, one in enumerate(observations):
        if not isinstance(one.check, NumberCheck) or one.value is None:
            continue
        at, y = np.array([row]), _compared(one)
        for label, factor, log_prior in _figures(one.check, one.value, one):
            meant = np.array([float(one.check.compared(one.value * factor))])
            found.append(Slip(label, at, meant, log_prior))
        for label, shift in elsewhere.get(row, []):
            found.append(Slip(label, at, np.array([y + shift]), math.log(SLIP_PRIOR), elsewhere=True))
    found += _at_the_valve(observations, middle)
    return (*found, *_exchanged(observations), *_crossed(observations), *_runs(observations))


def _figures(check: NumberCheck, value: float, one: Observation) -> Iterator[tuple[str, float, float]]:
    """What else a figure may have been meant as: by what it is then to be multiplied, and how likely that is.

    The marks of a gauge in another unit lie elsewhere, and a figure is read as finely as they do. A point
    misplaced moves no marks.
    """
    surely = 1.0 if check.stray is None else check.stray / STRAY  # so much more seldom is its point misplaced
    for kinds, prior in ((POINT, surely * POINT_PRIOR), (_units(check.check), SLIP_PRIOR)):
        some = [(label, factor) for label, factor in kinds if _can_be(one, value * factor)]
        for label, factor in some:
            finer = 0.0 if kinds is POINT or check.logarithmic else math.log(abs(factor))
            yield label, factor, math.log(prior / len(some)) + finer


def _can_be(one: Observation, value: float) -> bool:
    return one.sense is None or one.sense[0] <= value <= one.sense[1]


def _units(check: str) -> Sequence[tuple[str, float]]:
    return UNITS if "pressure" in check or check in ("pump_deadhead", "compression") else ()


def _elsewhere(observations: Sequence[Observation], middle: Middle) -> dict[int, list[tuple[str, float]]]:
    """What a reading would have been in the state that is stated, if it was taken in the other: for each row,
    what happened and by how much it moves, as the middle car has it. Only where that would be seen.
    """
    tried = [
        (row, label, replace(one.query, situation=other))
        for row, one in enumerate(observations)
        if isinstance(one.check, NumberCheck)
        for label, other in _other_states(one.query.situation, one.check.check)
    ]
    asked = [(observations[row].check, query) for row, _, query in tried]
    stated = [(observations[row].check, observations[row].query) for row, _, _ in tried]
    moves = middle(stated) - middle(asked) if tried else np.zeros(0)
    found: dict[int, list[tuple[str, float]]] = {}
    for (row, label, _), move in zip(tried, map(float, moves), strict=True):
        check = observations[row].check
        assert isinstance(check, NumberCheck)
        if abs(move) > SEEN * math.hypot(check.repeats, check.model):
            found.setdefault(row, []).append((label, move))
    return found


def _other_states(at: Situation, check: str) -> Iterator[tuple[str, Situation]]:
    """Cold instead of warm, or the reverse."""
    if at.engine == "idle_warm":
        yield "read while the engine was still cold", replace(at, engine="idle_cold")
    elif at.engine == "idle_cold":
        yield "read when the engine was warm already", replace(at, engine="idle_warm")
    elif at.engine == "off" and check.startswith("control_pressure"):
        body = at.regulator_temperature
        if body is not None and body > HOT:
            celsius = (body - 273.15 - 32.0) / 1.8 + 273.15
            yield "the temperature in °F written as °C", replace(at, regulator_temperature=celsius)
        if at.heater_time:
            yield "read while the regulator was still cold", replace(at, heater_time=0.0)
        else:
            yield "read when the regulator was warm already", replace(at, heater_time=HEATED)


def _at_the_valve(observations: Sequence[Observation], middle: Middle) -> list[Slip]:
    """A pressure read with the gauge's valve as it is for the other one: shut shows the system's, open the
    control circuit's. What would have been read is what the middle car has, and as far from it as what was
    read is from the other pressure, where that was read too.
    """
    off = [row for row, one in enumerate(observations) if one.check.check in CROSSED and _at_rest(one)]
    found = []
    for row in off:
        one = observations[row]
        check = one.check
        assert isinstance(check, NumberCheck)
        shut = check.check.startswith("control_pressure")
        others = [its for its in map(observations.__getitem__, off) if its.check.check in _other(check.check)]
        # where the other pressure may have been read, and how far off the middle car's it is there
        at: dict[Situation, float] = {}
        for its in others:
            assert isinstance(its.check, NumberCheck)
            its_own = float(middle([(its.check, its.query)])[0])
            at[one.query.situation if shut else its.query.situation] = _compared(its) - its_own
        if all(place.heater_time != one.query.situation.heater_time for place in at):
            at[one.query.situation] = 0.0
        reads = replace(check, reads=system_pressure if shut else control_pressure)
        name = "system_pressure" if shut else "control_pressure_cold"
        asked = [(reads, replace(one.query, check=name, situation=its)) for its in at]
        right, *wrong = map(float, middle([(check, one.query), *asked]))
        label = "read with the gauge's valve " + ("shut" if shut else "open")
        for read, beside in zip(wrong, at.values(), strict=True):
            move = right - read - beside
            if abs(move) > SEEN * math.hypot(check.repeats, check.model):
                y, log = np.array([_compared(one) + move]), math.log(SLIP_PRIOR / len(at))
                found.append(Slip(label, np.array([row]), y, log, elsewhere=True))
    return found


def _at_rest(one: Observation) -> bool:
    """Whether a value was read with the engine off and the plate at rest."""
    at = one.query.situation
    return one.value is not None and at.engine == "off" and at.opening is None


def _other(check: str) -> tuple[str, ...]:
    """What the same gauge shows with its valve the other way."""
    return CROSSED[:1] if check in CROSSED[1:] else CROSSED[1:]


def _exchanged(observations: Sequence[Observation]) -> list[Slip]:
    """Two cylinders' values written in each other's place, neighbours' as often as all others' together."""
    groups: dict[tuple[Any, ...], list[int]] = {}
    for row, one in enumerate(observations):
        if isinstance(one.check, NumberCheck) and one.query.cylinder is not None:
            run = one.reading if one.check.check == "catch" else None
            groups.setdefault((one.state, run), []).append(row)
    found = []
    for rows in groups.values():
        some = [(observations[row].query.cylinder or 0, row) for row in rows]
        pairs = [(a, b) for a, b in itertools.combinations(sorted(some), 2) if a[0] != b[0]]
        near = sum(b[0] - a[0] == 1 for a, b in pairs)
        for (here, first), (there, second) in pairs:
            if observations[first].value == observations[second].value:
                continue
            at = np.array([first, second])
            y = np.array([_compared(observations[second]), _compared(observations[first])])
            log = math.log(0.5 * SLIP_PRIOR / (near if there - here == 1 else len(pairs) - near))
            places = "cylinders" if observations[first].check.check != "catch" else "ports"
            label = f"the values of {places} {here} and {there} exchanged"
            found.append(Slip(label, at, y, log))
    return found


def _crossed(observations: Sequence[Observation]) -> list[Slip]:
    """Two pressures read at one gauge, written in each other's place: any two as often as any others."""
    rows = [
        row for row, one in enumerate(observations) if one.check.check in CROSSED and one.value is not None
    ]
    pairs = [
        (np.array([row, other]), first, second)
        for row, other in itertools.combinations(rows, 2)
        for first, second in [(observations[row], observations[other])]
        if first.check.check != second.check.check and first.value != second.value
    ]
    found = []
    for at, first, second in pairs:
        assert isinstance(first.check, NumberCheck)
        assert isinstance(second.check, NumberCheck)
        y = np.array([float(first.check.compared(second.value)), float(second.check.compared(first.value))])
        label = f"{first.words} and {second.words} exchanged"
        found.append(Slip(label, at, y, math.log(SLIP_PRIOR / len(pairs))))
    return found


def _runs(observations: Sequence[Observation]) -> list[Slip]:
    """A catch that ran longer or shorter than was written: all its amounts, as they would have been."""
    runs: dict[int, list[int]] = {}
    for row, one in enumerate(observations):
        if one.check.check == "catch":
            runs.setdefault(one.reading, []).append(row)
    found = []
    for rows in runs.values():
        for label, factor in RUN:
            y = np.array([_compared(observations[row], 1.0 / factor) for row in rows])
            found.append(Slip(label, np.array(rows), y, math.log(0.5 * SLIP_PRIOR), elsewhere=True))
    return found


def _compared(one: Observation, factor: float = 1.0) -> float:
    assert isinstance(one.check, NumberCheck)
    assert one.value is not None
    return float(one.check.compared(one.value * factor))
