"""Limits from a sheet's plain tables, with every problem naming its field."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from evenpour.errors import FieldProblem, unknown
from evenpour.measure.checks import Check, ConditionKind, kept_value
from evenpour.measure.limit_types import Depends, Limit, Match
from evenpour.measure.plain import flag_of, only, table_of, text_of, texts_of
from evenpour.measure.quantities import parse, parse_rate
from evenpour.measure.readings import Condition
from evenpour.measure.unit_table import step_of

_ROOT_3 = math.sqrt(3.0)

# from data


def limit_from(
    plain: Mapping[str, object],
    check: Check,
    kinds: Mapping[str, ConditionKind],
    sources: Mapping[str, str],
) -> Limit:
    """A limit as a sheet states it.

    Args:
        plain: The table under ``[[limit]]``.
        check: The check it names.
        kinds: All kinds of condition.
        sources: The sheet's short codes for where a value comes from; anything longer than a code is kept
            as words.
    Raises:
        FieldProblem: naming the field.
    """
    only(plain, ("check", "low", "high", "allowed", "when", "depends", "asks", "source", "note"), "a limit")
    allowed = texts_of(plain, "allowed")
    low, high = _side(plain, "low", check), _side(plain, "high", check)
    if allowed and not check.choices:
        raise FieldProblem("allowed", plain["allowed"], f"does not suit {check.id}, which is measured")
    for choice in allowed:
        if choice not in check.choices:
            raise unknown("allowed", choice, check.choices, kind=f"choice of {check.id}")
    if not allowed and low is None and high is None:
        raise FieldProblem(
            "low",
            None,
            f"is missing: the limit of {check.id} states nothing",
            allowed="low, high, or allowed",
        )
    if low is not None and high is not None and low > high:
        raise FieldProblem("low", plain["low"], f"is above high {plain['high']!r}")
    depends = tuple(_depends(one, check, kinds) for one in _tables(plain, "depends"))
    if depends and allowed:
        raise FieldProblem("depends", None, f"cannot move the choices of {check.id}", remedy="Use when")
    return Limit(
        check=check.id,
        low=low,
        high=high,
        allowed=allowed,
        when=_matches(plain, "when", kinds),
        depends=depends,
        asks=_matches(plain, "asks", kinds),
        source=_source(plain, sources),
        note=text_of(plain, "note", ""),
        dimension=check.dimension,
        unit=_unit(plain, check),
    )


def _side(plain: Mapping[str, object], name: str, check: Check) -> float | None:
    if name not in plain:
        return None
    if check.dimension is None:
        raise FieldProblem(
            name, plain[name], f"does not suit {check.id}, which is a choice", remedy="Use allowed"
        )
    return kept_value(parse(plain[name], _comparable(check), field=name), check.dimension)


def _comparable(check: Check) -> tuple[str, ...]:
    """The kinds of unit that compare with what the check keeps: a weight does not compare with a volume."""
    assert check.dimension is not None
    return tuple(
        kind
        for kind in check.dimensions
        if kind == check.dimension or {kind, check.dimension} == {"lambda", "afr"}
    )


def _unit(plain: Mapping[str, object], check: Check) -> str | None:
    if check.prefer or check.dimension is None:
        return check.prefer
    typed = parse(plain.get("low", plain.get("high")), _comparable(check))
    return typed.unit if typed.dimension == check.dimension else None


def _source(plain: Mapping[str, object], sources: Mapping[str, str]) -> str:
    stated = text_of(plain, "source")
    if stated in sources:
        return sources[stated]
    if " " in stated:
        return stated
    raise unknown("source", stated, sources, kind="source of this sheet")


def _tables(plain: Mapping[str, object], name: str) -> list[Mapping[str, object]]:
    value = plain.get(name, [])
    if isinstance(value, Mapping):
        return [value]
    if not isinstance(value, (list, tuple)) or not all(isinstance(one, Mapping) for one in value):
        raise FieldProblem(
            name, value, "is no list of tables", remedy=f"Write it like {name} = [ {{ on = ... }} ]"
        )
    return list(value)


def _kind(field: str, name: str, kinds: Mapping[str, ConditionKind]) -> ConditionKind:
    if name not in kinds:
        raise unknown(field, name, kinds, kind="condition")
    return kinds[name]


def _matches(
    plain: Mapping[str, object], field: str, kinds: Mapping[str, ConditionKind]
) -> Mapping[str, Match]:
    return {
        name: _match(f"{field}.{name}", asked, _kind(field, name, kinds))
        for name, asked in table_of(plain, field).items()
    }


def _match(field: str, asked: object, kind: ConditionKind) -> Match:
    if not isinstance(asked, Mapping):
        choices = texts_of({field: asked}, field)
        for choice in choices:
            if choice not in kind.choices:
                raise unknown(field, choice, kind.choices, kind=f"choice of {kind.id}")
        return Match(kind.id, kind.title, kind.dimension, choices)
    only(asked, ("from", "to", "above", "below"), field)
    if kind.dimension is None:
        raise FieldProblem(
            field, dict(asked), f"is a span, but {kind.id} is a choice", allowed=", ".join(kind.choices)
        )
    sides = {side: parse(text, kind.dimension, field=f"{field}.{side}").value for side, text in asked.items()}
    if not sides or {"from", "above"} <= set(sides) or {"to", "below"} <= set(sides):
        raise FieldProblem(field, dict(asked), "is no span", allowed="one of from, above; one of to, below")
    low, high = sides.get("from", sides.get("above")), sides.get("to", sides.get("below"))
    if low is not None and high is not None and low > high:
        raise FieldProblem(field, dict(asked), "does not run upwards")
    return Match(kind.id, kind.title, kind.dimension, (), low, high, "above" in sides, "below" in sides)


def _depends(plain: Mapping[str, object], check: Check, kinds: Mapping[str, ConditionKind]) -> Depends:
    only(
        plain,
        ("on", "at", "slope", "proportional", "per", "from", "to", "required", "assume", "assumed_error"),
        "depends",
    )
    kind = _kind("on", text_of(plain, "on"), kinds)
    if kind.dimension is None or check.dimension is None:
        raise FieldProblem("on", kind.id, "is a choice and moves no limit", remedy="Use when")
    if "at" not in plain:
        raise FieldProblem("at", None, "is missing", remedy=f"State the {kind.id} at which low and high hold")
    at = parse(plain["at"], kind.dimension, field="at").value
    way, rate = _way(plain, check.dimension, kind.dimension)
    if way == "proportional" and not at > 0.0:
        raise FieldProblem("at", plain["at"], "is zero or less: nothing is in proportion to it")
    low, high = (
        parse(plain[end], kind.dimension, field=end).value if end in plain else None for end in ("from", "to")
    )
    if low is not None and high is not None and low > high:
        raise FieldProblem("from", plain["from"], f"is above to {plain['to']!r}")
    return Depends(
        on=kind.id,
        title=kind.title,
        dimension=kind.dimension,
        at=at,
        kind=way,
        rate=rate,
        low=low,
        high=high,
        required=flag_of(plain, "required", True),
        assume=_assumption(plain, kind),
    )


def _way(
    plain: Mapping[str, object], over: str, under: str
) -> tuple[Literal["slope", "proportional", "per"], float]:
    stated = [way for way in ("slope", "proportional", "per") if way in plain]
    if len(stated) != 1:
        raise FieldProblem(
            "slope",
            None,
            "is missing" if not stated else "is stated twice",
            allowed="one of slope, proportional, per",
        )
    if "slope" in plain:
        return "slope", parse_rate(plain["slope"], over, under, field="slope")
    if "per" in plain:
        return "per", parse_rate(plain["per"], "share", under, field="per")
    if not flag_of(plain, "proportional", False):
        raise FieldProblem("proportional", False, "says nothing", remedy="Leave it out, or say true")
    return "proportional", 1.0


def _assumption(plain: Mapping[str, object], kind: ConditionKind) -> Condition | None:
    if "assume" not in plain:
        if "assumed_error" in plain:
            raise FieldProblem("assumed_error", plain["assumed_error"], "stands without assume")
        return None
    assert kind.dimension is not None
    value = parse(plain["assume"], kind.dimension, field="assume")
    half_width = kind.assumed_error
    if "assumed_error" in plain:
        half_width = parse(plain["assumed_error"], step_of(kind.dimension), field="assumed_error").value
    return Condition(kind.id, value.value, None, half_width / _ROOT_3, value.text)
