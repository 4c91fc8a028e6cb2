"""Faults that the forms find, as problems in our own words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from evenpour.data.located import in_words
from evenpour.errors import FieldProblem, OutOfRange, UnknownName, unknown
from evenpour.job.forms import FORMS, form_names

Path = tuple[str | int, ...]
Fault = tuple[Path, FieldProblem]

_TYPES = {
    "string_type": ("is no text", 'text in quotes, like "4.8 bar"'),
    "bool_type": ("is neither yes nor no", "true or false, without quotes"),
    "int_type": ("is no whole number", "a whole number, without quotes"),
    "int_from_float": ("is no whole number", "a whole number, without quotes"),
    "float_type": ("is no number", "a number, without quotes"),
    "list_type": ("is no list", "a list in square brackets"),
    "dict_type": ("is no table", 'a table like { regulator_temperature = "18 degC" }'),
    "model_type": ("is no table", "a table"),
}
_BOUNDS = {
    "greater_than": "above",
    "greater_than_equal": "from",
    "less_than_equal": "up to",
    "less_than": "below",
}
_KEYS = {"greater_than": "gt", "greater_than_equal": "ge", "less_than_equal": "le", "less_than": "lt"}


def form_faults(kind: str, content: Mapping[str, Any]) -> list[Fault]:
    """Every fault of one content against its form, with the path to it inside the content."""
    try:
        FORMS[kind].model_validate(dict(content))
    except ValidationError as error:
        return [_fault(kind, details) for details in error.errors(include_url=False)]
    return []


def field_at(path: Path) -> str:
    """The field's name for a message: ``regulator_temperature``, ``amounts 3``."""
    return in_words(path[-2:]) if isinstance(path[-1], int) else path[-1]


def article(kind: str) -> str:
    """``a reading``, ``an instrument``; ``conditions`` have none."""
    if kind == "conditions":
        return kind
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def _fault(kind: str, details: ErrorDetails) -> Fault:
    path: Path = tuple(details["loc"]) or (kind,)
    return path, _problem(kind, path, details)


def _problem(kind: str, path: Path, details: ErrorDetails) -> FieldProblem:
    field, value, what = field_at(path), details["input"], details["type"]
    more = details.get("ctx", {})
    if what == "missing":
        return FieldProblem(field, None, f"is missing from {article(kind)}")
    if what == "extra_forbidden":
        return no_such_field(kind, field)
    if what == "ours":
        return FieldProblem(
            field, value, details["msg"], allowed=more.get("allowed", ""), remedy=more.get("remedy", "")
        )
    if what == "no_such_name":
        return unknown(field, value, more["names"], kind=more["kind"])
    if what in _BOUNDS:
        return OutOfRange(field, value, "is out of range", allowed=f"{_BOUNDS[what]} {more[_KEYS[what]]:g}")
    if what == "finite_number":
        return OutOfRange(field, value, "is no finite number")
    if what == "too_short":
        return FieldProblem(field, None, "is an empty list", allowed=f"at least {more['min_length']}")
    if what == "too_long":
        return FieldProblem(field, None, "is too long a list", allowed=f"at most {more['max_length']}")
    if what in _TYPES:
        told, allowed = _TYPES[what]
        return FieldProblem(field, value, told, allowed=allowed)
    return FieldProblem(field, value, f"is not right: {details['msg']}")


def no_such_field(kind: str, name: str) -> UnknownName:
    """For a misspelt field: the nearest ones, and all where they are few."""
    found = unknown(name, name, form_names(kind), kind=f"field of {article(kind)}")
    return UnknownName(
        name or '""', None, found.trouble, allowed=", ".join(form_names(kind)), remedy=found.remedy
    )
