"""From readings with their conditions to the columns of a diagnosis: values, doubts and choices."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.causes.choice_line import ChoiceLine
from evenpour.causes.problem import NONE, Columns
from evenpour.causes.unexplained import STRAY
from evenpour.machine.checks import ChoiceCheck, NumberCheck, Predicted
from evenpour.machine.ohmmeter import OPEN
from evenpour.machine.readout import Query

Array = NDArray[np.float64]

ALIKE = 0.6  # correlation of the model's error between readings of one check in different conditions; rough
LEVEL = 0.04  # of a catch: what voltage, temperature and air in the fuel do to all ports alike; rough
# m, how well a plate is held at an opening: the smaller that is, the more it matters; rough
HELD_BY_HAND = 0.3e-3
# m, how far the opening itself is off, one wedge for every catch at it, and at most such a share; rough
WEDGE, WEDGE_SHARE = 2.0e-3, 0.1
DECADES = math.log(1e4)  # that what is written may be off by, where it is what nobody can read; rough


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
            there.
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
        stray=np.array([_stray(one) for one in observations]),
        cylinder=np.array(
            [NONE if one.query.cylinder is None else one.query.cylinder - 1 for one in observations]
        ),
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
    """Width of what can be read at all, as it is compared. What cannot be read is as likely in any of the
    decades that a slip may reach: one over its density there.
    """
    if not isinstance(one.check, NumberCheck):
        return 1.0
    noise = math.hypot(one.check.repeats, one.check.model)
    if one.sense is None:
        return 60.0 * noise
    low, high = (float(one.check.compared(end)) for end in one.sense)
    if one.value is not None and not one.sense[0] <= one.value <= one.sense[1]:
        return max(DECADES * (1.0 if one.check.logarithmic else abs(one.value)), high - low)
    return max(high - low, 10.0 * noise)


def _stray(one: Observation) -> float:
    """How often such a value is none of what was there. "Open" is a word, and has its own doubt; and a meter
    whose tips touch shows no ohms whatever they are held to.
    """
    if not isinstance(one.check, NumberCheck) or one.check.stray is None:
        return STRAY
    an_end = one.check.misread > 0.0 and one.value is not None and not 0.0 < one.value < OPEN
    return STRAY if an_end else one.check.stray


def _covariance(observations: Sequence[Observation], middle: Middle) -> Array:
    """Instrument, repeatability, the model's own error, the level of a catch, and conditions in doubt."""
    count = len(observations)
    found = np.zeros((count, count))
    alike: dict[str, list[tuple[int, Observation]]] = {}
    for row, one in enumerate(observations):
        if isinstance(one.check, NumberCheck):
            assert one.value is not None
            found[row, row] = one.check.compared_u(one.value, one.u) ** 2 + one.check.repeats**2
            alike.setdefault(one.check.check, []).append((row, one))
    for some in alike.values():
        for (row, one), (other, two) in itertools.combinations_with_replacement(some, 2):
            shared = _shared(one, two)
            found[row, other] += shared
            if row != other:
                found[other, row] += shared
    _doubt_of_conditions(observations, middle, found)
    return found


def _shared(one: Observation, two: Observation) -> float:
    """Covariance of the model's error, of what all cylinders share, and of a catch's level; of one check."""
    assert isinstance(one.check, NumberCheck)
    assert isinstance(two.check, NumberCheck)
    level = one.check.common * two.check.common if one.state == two.state else 0.0
    if one.check.check == "catch":
        level += caught_level(one.query) ** 2 if one.reading == two.reading else 0.0
        level += _wedge(one) ** 2 if _at_one_opening(one, two) else 0.0
    if one.query.cylinder != two.query.cylinder:
        return level
    alike = 1.0 if one.query == two.query else ALIKE if one.state == two.state else 0.3
    return level + alike * one.check.model * two.check.model


def caught_level(asked: Query) -> float:
    """What all ports of one catch share, in logarithm, as a standard deviation."""
    opening = asked.situation.opening
    held = HELD_BY_HAND / max(opening, HELD_BY_HAND) if opening else 0.0
    return math.hypot(LEVEL, held)


def _at_one_opening(one: Observation, two: Observation) -> bool:
    return bool(one.query.situation.opening == two.query.situation.opening)


def _wedge(one: Observation) -> float:
    """What all catches at one opening share, in logarithm, as a standard deviation; none at rest or at the
    plate's stop.
    """
    at = one.query.situation
    return min(WEDGE / at.opening, WEDGE_SHARE) if at.opening and not at.at_stop else 0.0


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
