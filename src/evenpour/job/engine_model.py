"""The physical model for a sheet: its data read once, its kinds of engine kept."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType

from evenpour import data
from evenpour.errors import FieldProblem, unknown
from evenpour.job.catalogue import catalogue
from evenpour.job.sheet.found import find_sheet, known_checks, sheet_stamp
from evenpour.machine.checks import Predicted, not_predicted, not_presumed, predicted_checks, says_nothing
from evenpour.machine.faults import Cause, cause_from
from evenpour.machine.kind import Kind, kind_of
from evenpour.machine.parameters import Parameter, parameter_from
from evenpour.machine.sheet import Sheet
from evenpour.measure.readings import Condition


@lru_cache(maxsize=1)
def car_parameters() -> tuple[Parameter, ...]:
    """What one car is made of."""
    return tuple(parameter_from(table) for table in data.shipped("car.toml").values["parameter"])


@lru_cache(maxsize=1)
def causes_known() -> Mapping[str, Cause]:
    """All causes, by id.

    Raises:
        FieldProblem: one names a cause that is not there.
        UnknownName: one names a part that is not there.
    """
    parameters = {one.id: one for one in car_parameters()}
    found = [cause_from(table, parameters) for table in data.shipped("causes.toml").values["cause"]]
    by_id = {one.id: one for one in found}
    for one in found:
        if one.same_as is not None and one.same_as not in by_id:
            raise FieldProblem("same_as", one.same_as, f"of {one.id} is no cause")
        for field, part in (("part", one.part), *(("mended_by", part) for part in one.mended_by)):
            if part not in catalogue().parts:
                raise unknown(f"{field} of {one.id}", part, catalogue().parts, kind="part")
    return MappingProxyType(by_id)


@lru_cache(maxsize=1)
def checks_predicted() -> Mapping[str, Predicted]:
    """All checks the model can read, by id."""
    checks, _ = known_checks()
    return MappingProxyType(predicted_checks(data.shipped("predictions.toml").values, checks))


@lru_cache(maxsize=1)
def checks_not_predicted() -> Mapping[str, str]:
    """The checks the model cannot read, and why, by id."""
    checks, _ = known_checks()
    return MappingProxyType(not_predicted(data.shipped("predictions.toml").values, checks))


@lru_cache(maxsize=1)
def _not_presumed() -> Mapping[str, tuple[str, ...]]:
    checks, _ = known_checks()
    return MappingProxyType(not_presumed(data.shipped("predictions.toml").values, checks))


@lru_cache(maxsize=1)
def _says_nothing() -> Mapping[tuple[str, str], Mapping[str, str]]:
    checks, _ = known_checks()
    return MappingProxyType(says_nothing(data.shipped("predictions.toml").values, checks))


def why_nothing(check: str, stated: Mapping[str, Condition]) -> str | None:
    """Why a reading with these conditions tells nothing of what the model reads; None where it does."""
    for name, one in stated.items():
        why = _says_nothing().get((check, name), {}).get(one.choice or "")
        if why is not None:
            return why
    return None


def unstated(sheet: Sheet, check: str, stated: Collection[str]) -> tuple[str, ...]:
    """The conditions without which nobody can say what such a reading should be, and that are not *stated*:
    all limits of the sheet ask for them, and none of their choices is the usual one.
    """
    limits = sheet.limits_for(check)
    return tuple(
        name
        for name in _not_presumed().get(check, ())
        if name not in stated and limits and all(name in limit.when for limit in limits)
    )


def kind_for(sheet: str) -> Kind:
    """The kind of engine of a sheet, by the sheet's name; kept until its file changes."""
    return _kind(sheet, sheet_stamp(sheet))


@lru_cache(maxsize=16)
def _kind(sheet: str, stamp: float) -> Kind:
    return kind_of_sheet(find_sheet(sheet))


@lru_cache(maxsize=16)
def kind_of_sheet(sheet: Sheet) -> Kind:
    """The kind of engine of a sheet already read; kept as long as the sheet may be asked for again."""
    return kind_of(sheet, car_parameters())


def causes_of(kind: Kind) -> tuple[Cause, ...]:
    """The causes such an engine can have, in the order of the data."""
    fitting = (one for one in causes_known().values() if one.only is None or one.only in kind.devices)
    return tuple(cause_on(kind, one) for one in fitting)


def cause_on(kind: Kind, cause: Cause) -> Cause:
    """A cause as such an engine has it: with its first form alone where the second would be the same."""
    both = cause.also_only is None or cause.also_only in kind.devices
    return cause if both else _first_form(cause.id)


@lru_cache(maxsize=128)
def _first_form(cause: str) -> Cause:
    one = causes_known()[cause]
    return replace(one, forms=one.forms[:1], ways=())
