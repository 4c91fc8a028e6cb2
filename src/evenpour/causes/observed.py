"""From readings with their conditions to the columns of a diagnosis: values, doubts, choices, slips."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.causes.choice_line import ChoiceLine
from evenpour.causes.problem import NONE, Columns, Slip
from evenpour.machine.asking import HEATED
from evenpour.machine.checks import ChoiceCheck, NumberCheck, Predicted
from evenpour.machine.readout import Query
from evenpour.machine.situation import Situation

Array = NDArray[np.float64]

ALIKE = 0.6  # correlation of the model's error between readings of one check in different conditions; rough
LEVEL = 0.04  # of a catch: what voltage, temperature and air in the fuel do to all ports alike; rough
# m, how well a plate is held at an opening: the smaller that is, the more it matters; rough
HELD_BY_HAND = 0.3e-3
#: That a value's point is misplaced, its unit another, the state it was read in another, or two values of a
#: check exchanged: of each of these; common practice, no source.
SLIP_PRIOR = 0.003
SEEN = 3.0  # times what repeating and model leave open, by which another state must move a reading to be one
BAR_PER_PSI = 0.0689476
POINT = (("the point one place to the left", 0.1), ("the point one place to the right", 10.0))
UNITS = (
    ("psi written as bar", BAR_PER_PSI), ("bar written as psi", 1.0 / BAR_PER_PSI),
    ("kPa written as bar", 0.01), ("bar written as kPa", 100.0),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Observation:
    """One value read, or one choice made.

    Attributes:
        value, u: SI; ``None`` where *choice* stands.
        reading: Number of the reading it came with: a catch is one of several observations.
        shifted: The same question with one of its conditions moved by that condition's standard uncertainty.
        sense: Lowest and highest that can be read at all, SI.
        words: What a person would call it.
    """

    check: Predicted
    query: Query
    value: float | None
    u: float
    choice: str | None
    reading: int
    shifted: tuple[Query, ...] = ()
    sense: tuple[float, float] | None = None
    words: str = ""

    @property
    def state(self) -> tuple[Any, ...]:
        """What readings of one kind share: the check and the engine's state, not the rest of the
        conditions.
        """
        situation = self.query.situation
        lines = situation.lines if self.check.check in ("catch", "onset") else None
        return (self.check.check, situation.engine, lines, situation.opening)


@dataclass(frozen=True, slots=True)
class Seen:
    """A diagnosis's columns and what each asks: ``asked`` run alike with the model's columns."""

    asked: tuple[tuple[Predicted, Query], ...]
    columns: Columns
    observations: tuple[Observation, ...]


#: Answers of the middle car to questions, as they are compared: shape (questions,).
Middle = Callable[[Sequence[tuple[Predicted, Query]]], Array]


def seen(observations: Sequence[Observation], middle: Middle) -> Seen:
    """Put observations in columns.

    Args:
        middle: What the middle car reads: conditions in doubt widen a reading by what they would change
            there, and a reading of another state is moved by as much as there.
    """
    asked: list[tuple[Predicted, Query]] = []
    places: dict[tuple[Any, ...], int] = {}
    column = np.array([_place(one.check, one.query, places, asked) for one in observations], dtype=np.int64)
    groups: dict[tuple[Any, ...], int] = {}
    check = np.array([groups.setdefault(one.state, len(groups)) for one in observations], dtype=np.int64)
    columns = Columns(
        column=column,
        check=check,
        reading=np.array([one.reading for one in observations], dtype=np.int64),
        y=np.array([_y(one) for one in observations]),
        covariance=_covariance(observations, middle),
        choices=tuple(_line(one) for one in observations),
        flat=np.array([_flat(one) for one in observations]),
        cylinder=np.array(
            [NONE if one.query.cylinder is None else one.query.cylinder - 1 for one in observations]
        ),
        slips=_slips(observations, middle),
    )
    return Seen(tuple(asked), columns, tuple(observations))


def key_of(query: Query) -> tuple[Any, ...]:
    """What makes two questions one."""
    return (query.check, query.cylinder, query.situation, tuple(sorted(query.stated.items())))


def _place(
    check: Predicted, query: Query, places: dict[tuple[Any, ...], int], asked: list[tuple[Predicted, Query]]
) -> int:
    key = key_of(query)
    if key not in places:
        places[key] = len(asked)
        asked.append((check, query))
    return places[key]


def _y(one: Observation) -> float:
    if isinstance(one.check, NumberCheck):
        assert one.value is not None
        return float(one.check.compared(one.value))
    return 0.0


def _line(one: Observation) -> ChoiceLine | None:
    if isinstance(one.check, ChoiceCheck):
        assert one.choice is not None
        place = one.check.place(one.choice, one.query)
        return ChoiceLine(one.check.cuts, place, one.check.misread)
    return None


def _flat(one: Observation) -> float:
    """Width of what can be read at all, as it is compared; what was typed lies within it."""
    if not isinstance(one.check, NumberCheck):
        return 1.0
    noise = math.hypot(one.check.repeats, one.check.model)
    if one.sense is None:
        return 60.0 * noise
    ends = one.sense if one.value is None else (min(one.sense[0], one.value), max(one.sense[1], one.value))
    low, high = (float(one.check.compared(end)) for end in ends)
    return max(high - low, 10.0 * noise)


def _covariance(observations: Sequence[Observation], middle: Middle) -> Array:
    """Instrument, repeatability, the model's own error, the level of a catch, and conditions in doubt."""
    count = len(observations)
    found = np.zeros((count, count))
    numbers = [(row, one) for row, one in enumerate(observations) if isinstance(one.check, NumberCheck)]
    for row, one in numbers:
        assert isinstance(one.check, NumberCheck)
        assert one.value is not None
        found[row, row] = one.check.compared_u(one.value, one.u) ** 2 + one.check.repeats**2
        for other, two in numbers:
            found[row, other] += _shared(one, two)
    _doubt_of_conditions(observations, middle, found)
    return found


def _shared(one: Observation, two: Observation) -> float:
    """Covariance of the model's error, of what all cylinders share, and of a catch's level."""
    assert isinstance(one.check, NumberCheck)
    assert isinstance(two.check, NumberCheck)
    if one.check.check != two.check.check:
        return 0.0
    level = one.check.common * two.check.common if one.state == two.state else 0.0
    if one.check.check == "catch" and one.reading == two.reading:
        level += _level(one) ** 2
    if one.query.cylinder != two.query.cylinder:
        return level
    alike = 1.0 if one.query == two.query else ALIKE if one.state == two.state else 0.3
    return level + alike * one.check.model * two.check.model


def _level(one: Observation) -> float:
    """What all ports of one catch share, in logarithm, as a standard deviation."""
    opening = one.query.situation.opening
    held = HELD_BY_HAND / max(opening, HELD_BY_HAND) if opening else 0.0
    return math.hypot(LEVEL, held)


def _doubt_of_conditions(observations: Sequence[Observation], middle: Middle, found: Array) -> None:
    questions: list[tuple[Predicted, Query]] = []
    for one in observations:
        if isinstance(one.check, NumberCheck):
            questions += [(one.check, query) for query in (one.query, *one.shifted)] if one.shifted else []
    if not questions:
        return
    answers = iter(middle(questions))
    moves: dict[tuple[int, int], dict[int, float]] = {}
    for row, one in enumerate(observations):
        if not one.shifted or not isinstance(one.check, NumberCheck):
            continue
        at = next(answers)
        for which, _ in enumerate(one.shifted):
            moves.setdefault((one.reading, which), {})[row] = float(next(answers) - at)
    for shift in moves.values():
        rows = np.array(list(shift))
        values = np.array(list(shift.values()))
        found[np.ix_(rows, rows)] += np.outer(values, values)


def _slips(observations: Sequence[Observation], middle: Middle) -> tuple[Slip, ...]:
    """How readings may have been meant: psi for bar, a point misplaced, another state, another's value."""
    elsewhere = _elsewhere(observations, middle)
    found: list[Slip] = []
    for row, one in enumerate(observations):
        if not isinstance(one.check, NumberCheck) or one.value is None:
            continue
        at, y = np.array([row]), _y(one)
        for kinds in (POINT, _units(one.check.check)):
            some = [(label, factor) for label, factor in kinds if _can_be(one, one.value * factor)]
            for label, factor in some:
                stretch = 0.0 if one.check.logarithmic else math.log(abs(factor))
                meant = np.array([float(one.check.compared(one.value * factor))])
                found.append(Slip(label, at, meant, math.log(SLIP_PRIOR / len(some)) + stretch))
        for label, shift in elsewhere.get(row, []):
            found.append(Slip(label, at, np.array([y + shift]), math.log(SLIP_PRIOR), elsewhere=True))
    return (*found, *_exchanged(observations))


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
        if at.heater_time:
            yield "read while the regulator was still cold", replace(at, heater_time=0.0)
        else:
            yield "read when the regulator was warm already", replace(at, heater_time=HEATED)


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
            y = np.array([_y(observations[second]), _y(observations[first])])
            log = math.log(0.5 * SLIP_PRIOR / (near if there - here == 1 else len(pairs) - near))
            label = f"the values of cylinders {here} and {there} exchanged"
            found.append(Slip(label, at, y, log))
    return found
