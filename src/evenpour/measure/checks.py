"""What can be read, and under which conditions: the kinds of check and of condition, made from data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evenpour.errors import FieldProblem, unknown
from evenpour.measure.instruments import AFR_AT_LAMBDA_1
from evenpour.measure.plain import flag_of, number_of, only, text_of, texts_of
from evenpour.measure.quantities import Quantity, parse
from evenpour.measure.unit_table import DIMENSIONS, step_of, unit_named


@dataclass(frozen=True, slots=True)
class ConditionKind:
    """One kind of condition a reading may carry. Numbers in SI."""

    id: str
    title: str
    dimension: str | None
    choices: tuple[str, ...]
    sense: tuple[float, float] | None
    assumed_error: float  # half-width taken where the reading states none; 0 is none
    everywhere: bool = False  # every check may carry it
    also: tuple[tuple[str, str], ...] = ()  # other words people use, and the choice they mean
    other_words: bool = False  # a word of one's own is kept as it is, unless it is nearly a choice

    @property
    def named(self) -> str:
        """Its title inside a sentence: "the regulator's temperature"."""
        return in_sentence(self.title)


@dataclass(frozen=True, slots=True)
class Check:
    """One kind of check. Numbers in SI; a lambda check's in lambda."""

    id: str
    title: str
    dimensions: tuple[str, ...]
    choices: tuple[str, ...]
    per_cylinder: bool
    sense: tuple[float, float] | None
    assumed_error: float
    conditions: tuple[str, ...]
    reads: tuple[str, ...]
    also: tuple[str, ...]
    minutes: float
    tools: tuple[str, ...]
    prefer: str | None
    spread_of: str | None
    assumed_relative: float = 0.0  # share of the reading, where the assumed error was given in per cent
    same: tuple[
        tuple[str, str], ...
    ] = ()  # conditions that mean another one here: pump voltage is the voltage

    @property
    def dimension(self) -> str | None:
        """The kind its values are kept in; ``None`` for a choice."""
        return self.dimensions[0] if self.dimensions else None

    @property
    def named(self) -> str:
        """Its title inside a sentence."""
        return in_sentence(self.title)


_OF_CONDITION = (
    "id",
    "title",
    "takes",
    "choices",
    "sense",
    "assumed_error",
    "everywhere",
    "also",
    "other_words",
)


def condition_from(plain: Mapping[str, object]) -> ConditionKind:
    """A condition's kind as the data states it."""
    only(plain, _OF_CONDITION, "a condition")
    name = text_of(plain, "id")
    dimensions = _dimensions(plain)
    choices = texts_of(plain, "choices")
    if not dimensions and not choices:
        raise FieldProblem("takes", None, f"is missing in condition {name}", remedy="State takes or choices")
    width, relative = _assumed(plain, dimensions)
    if relative:
        raise FieldProblem("assumed_error", plain["assumed_error"], "must carry the condition's own unit")
    return ConditionKind(
        name,
        text_of(plain, "title"),
        dimensions[0] if dimensions else None,
        choices,
        _sense(plain, dimensions),
        width,
        flag_of(plain, "everywhere", False),
        _also(plain, choices),
        flag_of(plain, "other_words", False),
    )


def check_from(plain: Mapping[str, object]) -> Check:
    """A check as the data states it."""
    only(
        plain,
        (
            "id",
            "title",
            "takes",
            "choices",
            "per_cylinder",
            "sense",
            "assumed_error",
            "conditions",
            "reads",
            "also",
            "minutes",
            "tools",
            "prefer",
            "spread_of",
            "same",
            "note",
            "traps",
        ),
        "a check",
    )
    name = text_of(plain, "id")
    dimensions, choices = _dimensions(plain), texts_of(plain, "choices")
    if bool(dimensions) == bool(choices):
        raise FieldProblem("takes", None, f"or choices: check {name} needs one of the two")
    width, relative = _assumed(plain, dimensions)
    prefer = text_of(plain, "prefer", "") or None
    if prefer is not None:
        try:
            unit_named(prefer, dimensions[0] if dimensions else None)
        except KeyError:
            raise FieldProblem("prefer", prefer, f"is no unit of check {name}") from None
    return Check(
        id=name,
        title=text_of(plain, "title"),
        dimensions=dimensions,
        choices=choices,
        per_cylinder=flag_of(plain, "per_cylinder", False),
        sense=_sense(plain, dimensions),
        assumed_error=width,
        conditions=texts_of(plain, "conditions"),
        reads=texts_of(plain, "reads"),
        also=texts_of(plain, "also"),
        minutes=number_of(plain, "minutes", 0.0),
        tools=texts_of(plain, "tools"),
        prefer=prefer,
        spread_of=text_of(plain, "spread_of", "") or None,
        assumed_relative=relative,
        same=_same(plain),
    )


def _also(plain: Mapping[str, object], choices: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Other words for a condition's choices: ``{ on = "plugged" }``."""
    stated = plain.get("also", {})
    if not isinstance(stated, Mapping):
        raise FieldProblem("also", stated, "is no table", allowed='like { on = "plugged" }')
    for word, choice in stated.items():
        if choice not in choices or word in choices:
            raise FieldProblem("also", f"{word} = {choice}", "does not lead from a new word to a choice")
    return tuple((str(word), str(choice)) for word, choice in stated.items())


def _same(plain: Mapping[str, object]) -> tuple[tuple[str, str], ...]:
    stated, carried = plain.get("same", {}), texts_of(plain, "conditions")
    if not isinstance(stated, Mapping):
        raise FieldProblem("same", stated, "is no table", allowed='like { pump_voltage = "voltage" }')
    for pair in stated.items():
        for name in pair:
            if name not in carried:
                raise unknown("same", str(name), carried, kind="condition of this check")
    return tuple((str(name), str(means)) for name, means in stated.items())


def kept_value(quantity: Quantity, dimension: str, scale: float | None = None) -> float:
    """The value in the kind a check keeps: an AFR becomes lambda by the display's *scale*."""
    if quantity.dimension == "afr" and dimension == "lambda":
        return quantity.value / (scale or AFR_AT_LAMBDA_1)
    if quantity.dimension == "lambda" and dimension == "afr":
        return quantity.value * (scale or AFR_AT_LAMBDA_1)
    return quantity.value


def in_sentence(title: str) -> str:
    """``Regulator's temperature; or`` -> ``the regulator's temperature``; CO and O2 keep their capitals."""
    title = title.partition(";")[0].strip()
    first = title.split(" ", 1)[0]
    lowered = (
        title
        if len(first) > 1 and any(letter.isupper() or letter.isdigit() for letter in first[1:])
        else (title[:1].lower() + title[1:])
    )
    return lowered if lowered.startswith(("the ", "how ", "what ", "which ", "where")) else f"the {lowered}"


def _dimensions(plain: Mapping[str, object]) -> tuple[str, ...]:
    dimensions = texts_of(plain, "takes")
    for dimension in dimensions:
        if dimension not in DIMENSIONS:
            raise unknown("takes", dimension, DIMENSIONS, kind="kind of quantity")
    return dimensions


def _sense(plain: Mapping[str, object], dimensions: tuple[str, ...]) -> tuple[float, float] | None:
    if "sense" not in plain:
        return None
    ends = texts_of(plain, "sense")
    if len(ends) != 2 or not dimensions:
        raise FieldProblem(
            "sense", plain["sense"], "is no pair of quantities", allowed='like ["0 bar", "7 bar"]'
        )
    low, high = (kept_value(parse(end, dimensions, field="sense"), dimensions[0]) for end in ends)
    if not low < high:
        raise FieldProblem("sense", plain["sense"], "does not run upwards")
    return low, high


def _assumed(plain: Mapping[str, object], dimensions: tuple[str, ...]) -> tuple[float, float]:
    """The assumed half-width, and its share of the reading where it is given in per cent."""
    if "assumed_error" not in plain or not dimensions:
        return 0.0, 0.0
    own = tuple(map(step_of, dimensions))
    width = parse(
        plain["assumed_error"], (*own, *(("share",) if "share" not in own else ())), field="assumed_error"
    )
    if width.value <= 0.0:
        raise FieldProblem("assumed_error", plain["assumed_error"], "has no width", allowed="more than 0")
    if width.dimension == "share" and "share" not in own:
        return 0.0, width.value
    return kept_value(width, own[0]), 0.0
