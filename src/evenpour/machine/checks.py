"""What every check would read on a car: the model's functions by check, and how a reading compares."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import FieldProblem, unknown
from evenpour.machine import reads_air, reads_bench, reads_running, reads_spark, reads_start, reads_supply
from evenpour.machine.readout import Query, Readout
from evenpour.measure.checks import Check
from evenpour.measure.plain import number_of, only, table_of, text_of, texts_of
from evenpour.measure.quantities import parse
from evenpour.measure.unit_table import step_of

Reads = Callable[[Readout, Query], Any]

#: Checks whose function is not named like them.
_OTHER_NAMES: Mapping[str, Reads] = MappingProxyType(
    {
        "onset": reads_bench.screw_onset,
        "control_pressure_cold": reads_supply.control_pressure,
        "control_pressure_warm": reads_supply.control_pressure,
    }
)
_MODULES = (reads_supply, reads_bench, reads_air, reads_running, reads_start, reads_spark)


@dataclass(frozen=True, slots=True)
class NumberCheck:
    """A check that gives a number. ``floor``, SI, is added before a logarithm is taken.

    Attributes:
        repeats, model: Standard deviations in what is compared: SI, or shares where *logarithmic*.
        common: The same, of what all cylinders of one car share beside what the model says.
        misread: Of a resistance, probability that an open circuit was read where there is none.
        stray: Probability that a value has nothing to do with what was there; ``None``: as often as any.
    """

    check: str
    reads: Reads
    logarithmic: bool
    floor: float
    repeats: float
    model: float
    common: float
    misread: float = 0.0
    stray: float | None = None

    def compared(self, value: Any) -> Any:
        """A value as it is compared."""
        return np.log(np.maximum(value, 0.0) + self.floor) if self.logarithmic else value

    def uncompared(self, number: Any) -> Any:
        """The value, SI, that is compared as *number*; a noise may go below what is nothing."""
        return np.maximum(np.exp(number) - self.floor, 0.0) if self.logarithmic else number

    def compared_u(self, value: float, u: float) -> float:
        """Standard uncertainty *u* of *value*, both SI, as it is compared."""
        return u / (max(value, 0.0) + self.floor) if self.logarithmic else u


@dataclass(frozen=True, slots=True)
class ChoiceCheck:
    """A check that gives a choice. ``order``: groups of words along a line; ``cuts``: between them.

    ``misread``: probability of a word that has nothing to do with what there was.
    """

    check: str
    reads: Reads
    order: tuple[tuple[str, ...], ...]
    cuts: tuple[float, ...]
    misread: float
    right: Mapping[str, str]

    def place(self, choice: str, query: Query) -> int:
        """Where on the line a choice lies, from 0.

        Raises:
            UnknownName: it is none of the check's choices.
        """
        if self.right:
            return int(choice == self.right.get(query.situation.sensor))
        for place, words in enumerate(self.order):
            if choice in words:
                return place
        raise unknown(self.check, choice, [word for words in self.order for word in words], kind="choice")

    def word(self, place: int, query: Query) -> str:
        """What one would say for a place on the line."""
        if self.right:
            word = self.right.get(query.situation.sensor, "right")
            return word if place else f"not {word}"
        return self.order[place][0]


Predicted = NumberCheck | ChoiceCheck


def predicted_checks(plain: Mapping[str, Any], checks: Mapping[str, Check]) -> dict[str, Predicted]:
    """All checks the model can read, by id, as the data states them.

    Raises:
        FieldProblem: a field is missing or wrong, a check has no function in the model, or a check is neither
            predicted nor said not to be.
    """
    found: dict[str, Predicted] = {}
    for table in plain["number"]:
        number = _number(table, checks)
        found[number.check] = number
    for table in plain["choice"]:
        choice = _choice(table, checks)
        found[choice.check] = choice
    left_out = not_predicted(plain, checks)
    for name in checks:
        if (name in found) == (name in left_out):
            raise FieldProblem(
                "check", name, "is neither predicted nor left out" if name not in found else "is both",
                remedy="Give it a number or a choice, or say under not_predicted why it has none",
            )  # fmt: skip
    return found


def not_predicted(plain: Mapping[str, Any], checks: Mapping[str, Check]) -> dict[str, str]:
    """The checks the model cannot read, and why, by id.

    Raises:
        FieldProblem: a field is missing, or no check has that name.
    """
    found: dict[str, str] = {}
    for table in plain["not_predicted"]:
        only(table, ("check", "why"), "a check that is not predicted")
        found[_known(table, checks).id] = text_of(table, "why")
    return found


def not_presumed(plain: Mapping[str, Any], checks: Mapping[str, Check]) -> dict[str, tuple[str, ...]]:
    """The conditions that are not presumed where a reading does not state them, by check.

    Raises:
        FieldProblem: a field is missing, no check has that name, or the check knows no such condition.
    """
    found: dict[str, tuple[str, ...]] = {}
    for table in plain["not_presumed"]:
        only(table, ("check", "condition"), "a condition that is not presumed")
        check, name = _known(table, checks), text_of(table, "condition")
        if name not in check.conditions:
            raise unknown("condition", name, check.conditions, kind="condition")
        found[check.id] = (*found.get(check.id, ()), name)
    return found


def says_nothing(
    plain: Mapping[str, Any], checks: Mapping[str, Check]
) -> dict[tuple[str, str], dict[str, str]]:
    """With which words of a condition a reading tells nothing, and why, by check and condition.

    Raises:
        FieldProblem: a field is missing, no check has that name, or the check knows no such condition.
    """
    found: dict[tuple[str, str], dict[str, str]] = {}
    for table in plain["says_nothing"]:
        only(table, ("check", "condition", "when", "why"), "a reading that says nothing")
        check, name = _known(table, checks), text_of(table, "condition")
        if name not in check.conditions:
            raise unknown("condition", name, check.conditions, kind="condition")
        words = dict.fromkeys(texts_of(table, "when"), text_of(table, "why"))
        found.setdefault((check.id, name), {}).update(words)
    return found


def _number(table: Mapping[str, Any], checks: Mapping[str, Check]) -> NumberCheck:
    only(
        table,
        ("check", "compare", "floor", "repeats", "model", "common", "misread", "stray"),
        "a predicted number",
    )
    check = _known(table, checks)
    kinds = tuple(dict.fromkeys(step_of(kind) for kind in check.dimensions))
    how = text_of(table, "compare")
    if how not in ("plain", "log"):
        raise unknown("compare", how, ("plain", "log"), kind="way to compare")
    logarithmic = how == "log"
    floor = parse(text_of(table, "floor"), check.dimensions).value if logarithmic else 0.0
    takes = ("share",) if logarithmic else kinds
    if "common" in table and not check.per_cylinder:
        raise FieldProblem("common", table["common"], f"is of cylinders, and {check.id} is not read at each")
    repeats, model, common = (
        parse(text_of(table, name), takes, field=name).value if name in table or name != "common" else 0.0
        for name in ("repeats", "model", "common")
    )
    misread = number_of(table, "misread", 0.0)
    if (check.dimension == "resistance") != (0.0 < misread < 1.0):
        raise FieldProblem("misread", misread, f"of {check.id}", remedy="Of ohms, how often open is not open")
    stray = number_of(table, "stray", 0.0) if "stray" in table else None
    if stray is not None and not 0.0 < stray < 1.0:
        raise FieldProblem(
            "stray", stray, f"of {check.id}", remedy="How often a value is none of what was there"
        )
    reads = _function(check.id)
    return NumberCheck(check.id, reads, logarithmic, floor, repeats, model, common, misread, stray)


def _choice(table: Mapping[str, Any], checks: Mapping[str, Check]) -> ChoiceCheck:
    only(table, ("check", "order", "cuts", "misread", "right"), "a predicted choice")
    check = _known(table, checks)
    order = tuple(tuple(str(word) for word in words) for words in table["order"])
    cuts = tuple(float(cut) for cut in table["cuts"])
    misread = number_of(table, "misread", math.nan)
    right = {name: str(word) for name, word in table_of(table, "right").items()}
    if len(cuts) != len(order) - 1 or list(cuts) != sorted(cuts):
        raise FieldProblem("cuts", table["cuts"], f"of {check.id} do not lie between its {len(order)} places")
    if misread >= 1.0:
        raise FieldProblem("misread", misread, f"of {check.id} leaves nothing that is seen")
    said = {word for words in order for word in words}
    if not right and said != set(check.choices):
        raise FieldProblem(
            "order", sorted(said ^ set(check.choices)), f"is not {check.id}'s choices, each once"
        )
    return ChoiceCheck(check.id, _function(check.id), order, cuts, misread, right)


def _known(table: Mapping[str, Any], checks: Mapping[str, Check]) -> Check:
    name = text_of(table, "check")
    if name not in checks:
        raise unknown("check", name, checks, kind="check")
    return checks[name]


def _function(name: str) -> Reads:
    if name in _OTHER_NAMES:
        return _OTHER_NAMES[name]
    for module in _MODULES:
        found = getattr(module, name, None)
        if found is not None:
            reads: Reads = found
            return reads
    raise FieldProblem("check", name, "is not something the model can read")


def predict(seen: Readout, asked: list[tuple[Predicted, Query]]) -> NDArray[np.float64]:
    """What is compared, for every car and everything asked: shape (cars, asked).

    Numbers as they are compared, choices as margins; never nan.
    """
    found = np.empty((len(asked), len(seen.cars)))
    for column, (check, query) in zip(found, asked, strict=True):
        value = check.reads(seen, query)
        column[:] = check.compared(value) if isinstance(check, NumberCheck) else value
    return found.T
