"""What is set in a what-if: surroundings, parts of the car and causes, from what a person typed.

Surroundings are stated as they are (``altitude=2000m``, ``ambient_temperature=-5degC``). A part with a sign
is a change to the healthy car's (``mixture_screw=+0.25turn``, ``slit_width[3]=-6%``), without one it is what
it becomes (``system_setting=4.2bar``). A cause takes its severity, from 0, barely noticeable, to 1, gross;
one that can go either way takes a sign. Parts come before causes: the order of settings does not matter.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import FieldProblem, OutOfRange, Problems, Questioned, unknown
from evenpour.job.catalogue import catalogue, fitted, plain_name
from evenpour.job.engine_model import car_parameters, cause_on, causes_known
from evenpour.job.sheet.found import form
from evenpour.job.typed_words import whole
from evenpour.job.whatif.data import Settable, whatif_data
from evenpour.job.whatif.words import (
    cause_does,
    cause_words,
    condition_words,
    parameter_words,
    severities_words,
)
from evenpour.machine.control import FULL_VACUUM
from evenpour.machine.faults import Cause, with_fault
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Cars
from evenpour.machine.set_up import is_set_for
from evenpour.machine.situation import Situation
from evenpour.measure.readings import Condition, read_condition
from evenpour.measure.slips import IF_SO, question_odd
from evenpour.measure.unit_table import step_of
from evenpour.measure.units import parse, range_shown
from evenpour.physics.blend import ethanol_share

_FORM = re.compile(r"\s*(?P<name>[^=\[\]]+?)\s*(?:\[(?P<cylinder>[^\]]*)\]\s*)?=(?P<value>.*)", re.DOTALL)
_HOW = "Write it like altitude=2000m, mixture_screw=+0.25turn or injector_restricted[4]=0.5"
_SIGNS = "+-−–"
LISTED = "evenpour whatif --sheet NAME --list"


@dataclass(frozen=True, slots=True)
class Setting:
    """One thing that was set. ``does``: what a cause does to the car's parts, in words."""

    name: str
    cylinder: int | None
    kind: Literal["condition", "parameter", "cause"]
    typed: str
    words: str
    severity: float | None = None
    does: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything that was set, and what it makes of the car and its surroundings.

    Attributes:
        conditions: Those of the surroundings, by name, for limits and readings that state them.
        situation: The surroundings as the model takes them.
        cars: The one car, changed.
        set_up_as: The same with no more wrong than what its screws were set again for.
    """

    told: tuple[Setting, ...]
    conditions: Mapping[str, Condition]
    situation: Situation
    cars: Cars
    set_up_as: Cars


@dataclass(frozen=True, slots=True)
class _Typed:
    """One setting taken apart."""

    full: str  # as it is named in complaints
    name: str
    cylinder: int | None
    value: str


def settings_from(
    texts: Sequence[str], kind: Kind, home: Situation, healthy: Cars, system: str = "metric"
) -> Settings:
    """Understand what was typed, for an engine of *kind* whose healthy car stands at *home*.

    Raises:
        FieldProblem, Problems: all that is wrong, each naming its setting.
    """
    reader = _Reader(kind, healthy, system)
    for text in texts:
        reader.take(text)
    return reader.settings(home)


class _Reader:
    def __init__(self, kind: Kind, healthy: Cars, system: str) -> None:
        self.kind, self.healthy, self.system = kind, healthy, system
        self.found: list[FieldProblem] = []
        self.told: dict[tuple[str, int | None], Setting] = {}
        self.conditions: dict[str, Condition] = {}
        self.parts: dict[tuple[str, int | None], NDArray[np.float64]] = {}
        self.causes: dict[tuple[str, int | None], float] = {}

    def take(self, text: str) -> None:
        try:
            self._take(_taken_apart(text))
        except FieldProblem as problem:
            self.found.append(problem)

    def _take(self, typed: _Typed) -> None:
        settable = whatif_data().settable.get(typed.name)
        known = causes_known().get(typed.name)
        cause = known and cause_on(self.kind, known)
        if settable is None and cause is None:
            raise _no_such(typed, self.kind)
        _is_fitted(typed, settable.only if settable else (cause.only if cause else None) or "", self.kind)
        each = settable.per_cylinder if settable else bool(cause and cause.per_cylinder)
        _is_cylinder(typed, each, self.kind.design.cylinders, needed=settable is None)
        if (typed.name, typed.cylinder) in self.told:
            raise FieldProblem(typed.full, typed.value, "is set twice", remedy="Say it once.")
        if settable is None:
            assert cause is not None
            told = self._cause(typed, cause)
        elif settable.kind == "condition":
            told = self._condition(typed)
        else:
            told = self._part(typed, settable)
        self.told[typed.name, typed.cylinder] = told

    def _condition(self, typed: _Typed) -> Setting:
        kind = catalogue().kinds[typed.name]
        try:
            read = read_condition(kind, typed.value)
        except Questioned as odd:
            raise _out_of_sense(typed, odd) from None
        if "±" in typed.value or "+-" in typed.value:
            raise FieldProblem(typed.full, typed.value, "states a doubt", remedy="A what-if takes one value.")
        self.conditions[typed.name] = replace(read, u=0.0)
        return Setting(typed.name, None, "condition", typed.value, condition_words(kind, read, self.system))

    def _part(self, typed: _Typed, settable: Settable) -> Setting:
        rows = self.kind.blueprint.where(typed.name, typed.cylinder)
        before = self.healthy.values[rows]
        after = _changed(typed, settable, before)
        assert settable.sense is not None
        assert settable.dimension is not None
        low, high = settable.sense
        if not np.all((after >= low) & (after <= high)):
            ends = range_shown(low, high, settable.dimension, self.system)
            raise OutOfRange(
                typed.full, typed.value, "is out of all sense", allowed=f"what it becomes: {ends}"
            )
        self.parts[typed.name, typed.cylinder] = after
        line_map = self.kind.design.line_map
        words = parameter_words(
            settable, typed.cylinder, float(before[0, 0]), float(after[0, 0]), line_map, self.system
        )
        return Setting(typed.name, typed.cylinder, "parameter", typed.value, words)

    def _cause(self, typed: _Typed, cause: Cause) -> Setting:
        severity = _severity(typed, cause)
        self.causes[cause.id, typed.cylinder] = severity
        form_ = cause.form_of(math.copysign(1.0, severity))  # -0 is the least of its form
        titles = {one.id: one for one in car_parameters()}
        return Setting(
            typed.name,
            typed.cylinder,
            "cause",
            typed.value,
            cause_words(cause, typed.cylinder, severity, self.kind.design.line_map),
            severity,
            tuple(cause_does(cause, form_, abs(severity), titles, self.system)),
        )

    def settings(self, home: Situation) -> Settings:
        if len(self.found) == 1:
            raise self.found[0]
        if self.found:
            raise Problems(self.found)
        cars, had = self.healthy.copy(), self.healthy.copy()
        # all cylinders alike first, then those that are set by themselves
        for (name, cylinder), values in sorted(self.parts.items(), key=lambda one: one[0][1] is not None):
            cars.values[self.kind.blueprint.where(name, cylinder)] = values
        for cause in causes_known().values():
            for cylinder in (None, *range(1, self.kind.design.cylinders + 1)):
                severity = self.causes.get((cause.id, cylinder))
                if severity is not None:
                    form_ = cause.form_of(math.copysign(1.0, severity))  # -0 is the least of its form
                    cars = with_fault(self.kind.blueprint, cars, cause, cylinder, abs(severity), form_)
                    if is_set_for(cause.forms[form_]):
                        had = with_fault(self.kind.blueprint, had, cause, cylinder, abs(severity), form_)
        there = surroundings(home, self.conditions)
        return Settings(tuple(self.told.values()), self.conditions, there, cars, had)


def _taken_apart(text: str) -> _Typed:
    match = _FORM.fullmatch(text)
    if match is None:
        raise FieldProblem("set", text, "is not NAME=VALUE", remedy=_HOW)
    name, value, stated = plain_name(match["name"]), match["value"].strip(), match["cylinder"]
    full = name if stated is None else f"{name}[{stated.strip()}]"
    if not value:
        raise FieldProblem(full, None, "is missing", remedy=_HOW)
    if stated is None:
        return _Typed(full, name, None, value)
    cylinder = whole(stated)
    if cylinder is None:
        raise FieldProblem(full, stated, "is no cylinder", remedy=f"{_HOW}.")
    return _Typed(full, name, cylinder, value)


def _no_such(typed: _Typed, kind: Kind) -> FieldProblem:
    known = {one.id: one for one in car_parameters()}
    if typed.name in known:
        changing = [
            cause.id
            for cause in causes_known().values()
            if any(act.parameter == typed.name for acts in cause.forms for act in acts)
        ]
        remedy = f"What changes it: {', '.join(changing)}" if changing else f"{LISTED} says what can be set"
        return FieldProblem(
            typed.full, typed.value, f"({known[typed.name].title}) has no unit to set it in", remedy=remedy
        )
    return unknown(typed.full, typed.name, settable_names(kind), kind="setting", listed_by=LISTED)


def settable_names(kind: Kind) -> list[str]:
    """Everything that can be set on such an engine: surroundings, parts, causes."""
    here = [one.id for one in whatif_data().settable.values() if fitted(one.only, kind.devices)]
    return here + [one.id for one in causes_known().values() if one.only is None or one.only in kind.devices]


def _is_fitted(typed: _Typed, only: str, kind: Kind) -> None:
    if not fitted(only, kind.devices):
        device = form().devices[only.removeprefix("not ")]
        raise FieldProblem(
            typed.full, typed.value, f"cannot be set: {kind.sheet} has no {device.title}",
            remedy="The sheet's devices say what is fitted.",
        )  # fmt: skip


def _is_cylinder(typed: _Typed, each: bool, cylinders: int, *, needed: bool) -> None:
    if not each and typed.cylinder is not None:
        raise FieldProblem(
            typed.full, typed.value, "is of the whole engine", remedy=f"Write {typed.name}={typed.value}"
        )
    if each and needed and typed.cylinder is None:
        raise FieldProblem(
            typed.full, typed.value, "does not say of which cylinder",
            allowed=f"1 to {cylinders}", remedy=f"Write {typed.name}[1]={typed.value}",
        )  # fmt: skip
    if typed.cylinder is not None and not 1 <= typed.cylinder <= cylinders:
        raise OutOfRange(typed.full, typed.value, "is of no cylinder", allowed=f"1 to {cylinders}")


def _changed(typed: _Typed, settable: Settable, before: NDArray[np.float64]) -> NDArray[np.float64]:
    """What a part becomes: by a sign a change, else the value itself."""
    dimension = settable.dimension
    assert dimension is not None
    relative = typed.value[0] in _SIGNS
    share = ("share",) if relative and dimension != "share" else ()
    bare = _unsigned(typed) if relative else typed.value
    quantity = parse(bare, (step_of(dimension) if relative else dimension, *share), field=typed.full)
    if quantity.half_width is not None:
        raise FieldProblem(typed.full, typed.value, "states a doubt", remedy="A what-if takes one value.")
    if not relative:
        if quantity.reference == "absolute":
            raise FieldProblem(typed.full, typed.value, "is an absolute pressure", allowed="gauge pressure")
        try:
            question_odd(typed.full, quantity.value, quantity, dimension, settable.sense, (dimension,))
        except Questioned as odd:
            raise _out_of_sense(typed, odd) from None
        return np.full_like(before, quantity.value)
    size = quantity.value if typed.value[0] == "+" else -quantity.value
    return before * (1.0 + size) if quantity.dimension in share else before + size


def _unsigned(typed: _Typed) -> str:
    """The value without its sign, if it has one."""
    bare = typed.value[1:].strip() if typed.value[0] in _SIGNS else typed.value
    if bare[:1] in tuple(_SIGNS):
        raise FieldProblem(typed.full, typed.value, "has two signs", remedy="Give it one.")
    return bare


def _out_of_sense(typed: _Typed, odd: Questioned) -> OutOfRange:
    """What would be questioned at a reading is refused here: there is nothing that could be so."""
    return OutOfRange(
        typed.full, typed.value, "is out of all sense" if odd.trouble == "is odd" else odd.trouble,
        allowed=odd.allowed.removeprefix("usually "), remedy=odd.remedy.removesuffix(IF_SO).strip(),
    )  # fmt: skip


def _severity(typed: _Typed, cause: Cause) -> float:
    both = len(cause.forms) > 1
    words = severities_words(cause) if both else "0, barely noticeable, to 1, gross"
    sign = -1.0 if typed.value[0] in "-−–" else 1.0
    size = parse(_unsigned(typed), ("count", "share"), field=typed.full)
    if size.half_width is not None or not 0.0 <= size.value <= 1.0 or (sign < 0.0 and not both):
        raise OutOfRange(typed.full, typed.value, "is no severity", allowed=words)
    return sign * size.value


_SAME_NAME = (
    "altitude", "ambient_temperature", "intake_temperature", "pump_voltage", "regulator_temperature",
)  # fmt: skip


def surroundings(home: Situation, conditions: Mapping[str, Condition]) -> Situation:
    """*home* with the conditions that are set."""
    return replace(home, **dict(_fields(conditions)))


def _fields(conditions: Mapping[str, Condition]) -> Iterator[tuple[str, Any]]:
    for name, one in conditions.items():
        if name in _SAME_NAME:
            yield name, one.value
        elif name == "fuel":
            yield name, ethanol_share(str(one.choice))
        elif name == "voltage":
            yield "heater_voltage", one.value
        elif name == "sensor":
            yield name, one.choice
        elif name == "vacuum":
            yield name, one.value if one.choice is None else FULL_VACUUM * (one.choice == "applied")
        elif name in ("breather", "hose"):
            yield name, one.choice not in ("off", "off_capped")
