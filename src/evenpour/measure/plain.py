"""Plain mappings (from TOML, JSON or a form) read key by key, with problems that name the field.

Shared by everything in this folder that is made from data: instruments, checks, conditions, limits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from evenpour.errors import FieldProblem, unknown


def only(plain: Mapping[str, object], names: Iterable[str], kind: str) -> None:
    """Refuse a key that is none of *names*: a misspelt key must not be passed over."""
    known = tuple(names)
    for key in plain:
        if key not in known:
            raise unknown(str(key), str(key), known, kind=f"field of {kind}")


def text_of(plain: Mapping[str, object], name: str, default: str | None = None) -> str:
    """The text under *name*; missing and without default is a problem."""
    value = plain.get(name, default)
    if value is None or value == "":
        if default is not None:
            return default
        raise FieldProblem(name, None, "is missing")
    if not isinstance(value, str):
        raise FieldProblem(name, value, "is no text", remedy=f'Write it in quotes, like {name} = "..."')
    return value


def flag_of(plain: Mapping[str, object], name: str, default: bool) -> bool:
    """True or false under *name*."""
    value = plain.get(name, default)
    if not isinstance(value, bool):
        raise FieldProblem(name, value, "is neither true nor false")
    return value


def number_of(plain: Mapping[str, object], name: str, default: float) -> float:
    """A plain number under *name*, finite and not negative."""
    value = plain.get(name, default)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0.0 <= value < float("inf"):
        raise FieldProblem(name, value, "is no number", allowed="a number from 0 up")
    return float(value)


def texts_of(plain: Mapping[str, object], name: str) -> tuple[str, ...]:
    """A list of texts, or one text alone, under *name*; missing is empty."""
    value = plain.get(name, ())
    if isinstance(value, str):
        return (value,)
    if not isinstance(value, Sequence) or not all(isinstance(item, str) for item in value):
        raise FieldProblem(
            name, value, "is no list of texts", remedy=f'Write it like {name} = ["...", "..."]'
        )
    return tuple(str(item) for item in value)


def table_of(plain: Mapping[str, object], name: str) -> Mapping[str, object]:
    """A table under *name*; missing is empty."""
    value = plain.get(name, {})
    if not isinstance(value, Mapping):
        raise FieldProblem(
            name, value, "is no table", remedy=f'Write it like {name} = {{ state = "idle_warm" }}'
        )
    return value
