"""What the tests of checks and sheets share: the shipped tables, read once."""

from __future__ import annotations

from functools import cache
from typing import Any

from evenpour import data
from evenpour.machine.sheet import Sheet, sheet_from
from evenpour.machine.sheet_form import SheetForm, sheet_form
from evenpour.measure.checks import Check, ConditionKind, check_from, condition_from
from evenpour.measure.readings import Condition, read_conditions

CONDITIONS: list[dict[str, Any]] = data.shipped("checks.toml").values["condition"]
EVERYWHERE = tuple(table["id"] for table in CONDITIONS if table.get("everywhere"))
CHECKS: dict[str, Check] = {
    table["id"]: check_from(table) for table in data.shipped("checks.toml").values["check"]
}
KINDS: dict[str, ConditionKind] = {table["id"]: condition_from(table) for table in CONDITIONS}
FORM: SheetForm = sheet_form(data.shipped("sheet_values.toml").values)


@cache
def shipped_sheet(name: str) -> Sheet:
    """A shipped sheet."""
    return sheet(data.shipped_text(f"sheets/{name}.toml"), f"{name}.toml")


def sheet(text: str, file: str = "own.toml") -> Sheet:
    """A sheet from its text."""
    located = data.read_toml(text, file)
    return sheet_from(located.values, FORM, CHECKS, KINDS, located.place)


def conditions(check: str, **stated: str) -> dict[str, Condition]:
    """The conditions of a reading of *check*, as typed."""
    return dict(read_conditions(CHECKS[check], stated, KINDS))
