"""What a what-if shows and what may be set in it, as the shipped data say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from evenpour import data
from evenpour.errors import FieldProblem
from evenpour.job.catalogue import catalogue
from evenpour.job.engine_model import car_parameters, checks_predicted
from evenpour.measure.checks import Check
from evenpour.measure.plain import only, table_of, text_of, texts_of
from evenpour.measure.readings import Condition, read_conditions
from evenpour.measure.units import parse


@dataclass(frozen=True, slots=True)
class ShownReading:
    """A check in one of its usual states.

    Attributes:
        at_air, at_idle: Conditions that are the temperature of the air, or the engine's idle speed.
        words: The state in words, ``{name}`` for a condition's value; may be empty.
        only: The device it belongs to; may be empty.
    """

    check: Check
    group: str
    conditions: Mapping[str, Condition]
    at_air: tuple[str, ...]
    at_idle: tuple[str, ...]
    words: str
    only: str


@dataclass(frozen=True, slots=True)
class Settable:
    """A condition or a car's parameter that may be set. ``sense``, ``slide``: ends, SI; None for a word."""

    id: str
    title: str
    kind: Literal["condition", "parameter"]
    dimension: str | None
    only: str
    per_cylinder: bool
    choices: tuple[str, ...]
    sense: tuple[float, float] | None
    slide: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Shown:
    """The whole of it. ``groups``: title by id; ``settable``: by name."""

    groups: Mapping[str, str]
    readings: tuple[ShownReading, ...]
    settable: Mapping[str, Settable]


@cache
def whatif_data() -> Shown:
    """The shipped data, read once.

    Raises:
        FieldProblem: a name or a value in it is wrong.
    """
    values = data.shipped("whatif.toml").values
    settable = [_settable(table) for table in values["setting"]]
    return Shown(
        {text_of(table, "id"): text_of(table, "title") for table in values["group"]},
        tuple(_reading(table) for table in values["reading"]),
        {one.id: one for one in settable},
    )


def _reading(table: Mapping[str, Any]) -> ShownReading:
    only(table, ("check", "group", "conditions", "at_air", "at_idle", "words", "only"), "a shown reading")
    known = catalogue()
    check = known.check(text_of(table, "check"), field="check")
    if check.id not in checks_predicted():
        raise FieldProblem("check", check.id, "is not something the model can read")
    return ShownReading(
        check,
        text_of(table, "group"),
        read_conditions(check, table_of(table, "conditions"), known.kinds),
        texts_of(table, "at_air"),
        texts_of(table, "at_idle"),
        text_of(table, "words", ""),
        text_of(table, "only", ""),
    )


def _settable(table: Mapping[str, Any]) -> Settable:
    only(table, ("condition", "parameter", "only", "sense", "slide"), "a setting")
    device = text_of(table, "only", "")
    if "condition" in table:
        kind = catalogue().kinds[text_of(table, "condition")]
        sense = kind.sense
        slide = _ends(table, "slide", kind.dimension) or sense
        return Settable(
            kind.id, kind.title, "condition", kind.dimension, device, False, kind.choices, sense, slide
        )
    found = {one.id: one for one in car_parameters()}[text_of(table, "parameter")]
    sense = _ends(table, "sense", found.dimension)
    slide = _ends(table, "slide", found.dimension) or sense
    return Settable(
        found.id, found.title, "parameter", found.dimension, device, found.per_cylinder, (), sense, slide
    )


def _ends(table: Mapping[str, Any], name: str, dimension: str | None) -> tuple[float, float] | None:
    ends = texts_of(table, name)
    if not ends:
        return None
    if len(ends) != 2 or dimension is None:
        raise FieldProblem(name, list(ends), "is no pair of quantities")
    low, high = (signed(end, dimension, name) for end in ends)
    if not low < high:
        raise FieldProblem(name, list(ends), "does not run upwards")
    return low, high


def signed(text: str, dimension: str, field: str) -> float:
    """A quantity that may lie below zero where the thing itself could not: a difference, or an offset."""
    bare = text.strip().lstrip("+-−–")
    less = text.strip()[:1] in ("-", "−", "–")
    if dimension == "temperature" or not less:
        return parse(text, dimension, field=field).value
    return -parse(bare, dimension, field=field).value
