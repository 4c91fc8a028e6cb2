"""Which checks and conditions take a figure without a unit, as the data says."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, Final

from evenpour.data import shipped

_BARE: Final = frozenset({"lambda", "count"})


@cache
def without_unit() -> frozenset[str]:
    """Names of checks and conditions that take lambda or a count; looked up only when a bare number comes."""
    values = shipped("checks.toml").values
    return frozenset(
        name for table in ("check", "condition") for one in values.get(table, ()) for name in _names(one)
    )


def _names(one: dict[str, Any]) -> Iterator[str]:
    takes = one.get("takes", ())
    if _BARE & {takes} if isinstance(takes, str) else _BARE & set(takes):
        yield one["id"]
        yield from one.get("also", ())
