"""Limits of an engine's sheet: what is allowed, under which conditions, and how the limit moves with them.

A limit *holds* only under its ``when``; it *depends* on conditions that move it (and lend it their doubt); it *asks*
for circumstances the reading should have been taken in.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from evenpour.errors import FieldProblem, unknown
from evenpour.measure.checks import Check, ConditionKind, in_sentence, kept_value
from evenpour.measure.plain import flag_of, only, table_of, text_of, texts_of
from evenpour.measure.quantities import parse, parse_rate
from evenpour.measure.readings import Condition
from evenpour.measure.showing import range_shown, shown, unit_for
from evenpour.measure.unit_table import units_named

_ROOT_3 = math.sqrt(3.0)
_EDGE = 1e-9  # relative: 32 degF is 0 degC although the last binary digit differs


@dataclass(frozen=True, slots=True)
class Match:
    """What a condition must be: one of *choices*, or a value in the span. SI; ``None`` is an open side."""

    name: str
    title: str
    dimension: str | None
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    low_open: bool = False  # above, not from
    high_open: bool = False  # below, not to

    def holds(self, condition: Condition) -> bool:
        """Whether *condition* is as asked."""
        if condition.value is None:
            return condition.choice in self.choices
        value, slack = condition.value, _EDGE * max(1.0, abs(condition.value))
        if self.low is None and self.high is None:
            return False
        above = self.low is None or (value > self.low + slack if self.low_open else value >= self.low - slack)
        below = self.high is None or (value < self.high - slack if self.high_open else value <= self.high + slack)
        return above and below

    def words(self, system: str = "metric") -> str:
        """``below 30 °C``, ``from 10 to 20 min``, ``idle_warm``."""
        if self.choices:
            return " or ".join(self.choices)
        assert self.dimension is not None
        return span_words(self.low, self.high, self.dimension, system, self.low_open, self.high_open)


@dataclass(frozen=True, slots=True)
class Depends:
    """How a limit moves with one condition. SI."""

    on: str
    title: str
    dimension: str
    at: float
    kind: Literal["slope", "proportional", "per"]
    rate: float  # slope: check's unit per condition's; per: share per condition's; proportional: not used
    low: float | None  # the range the sheet knows the limit in
    high: float | None
    required: bool
    assume: Condition | None

    def moved(self, side: float, at: float) -> float:
        """One side of the limit at the condition *at*."""
        if self.kind == "slope":
            return side + self.rate * (at - self.at)
        if self.kind == "proportional":
            return side * at / self.at
        return side * (1.0 + self.rate * (at - self.at))


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of a sheet. ``low`` and ``high`` in SI at the conditions' ``at``; ``None`` is an open side."""

    check: str
    low: float | None
    high: float | None
    allowed: tuple[str, ...]
    when: Mapping[str, Match]
    depends: tuple[Depends, ...]
    asks: Mapping[str, Match]
    source: str
    note: str
    dimension: str | None
    unit: str | None = None  # in which metric screens write it


@dataclass(frozen=True, slots=True)
class Doubt:
    """What one condition's doubt does to the band: ``u`` in the check's unit, ``u_condition`` in its own, SI."""

    name: str
    title: str
    dimension: str
    u: float
    u_condition: float
    assumed: bool  # not stated, but assumed


@dataclass(frozen=True, slots=True)
class Band:
    """The limit at the reading's own conditions."""

    low: float | None
    high: float | None
    u_condition: float
    notes: tuple[str, ...]
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True, slots=True)
class NotJudged:
    """Why the limit cannot be held against the reading, and what would change that.

    ``missing``: a condition is not stated. Otherwise the conditions lie where the limit does not hold.
    """

    settle: str
    missing: bool


# ------------------------------------------------------------------------------------------------------ from data


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
        sources: The sheet's short codes for where a value comes from; anything longer than a code is kept as words.
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
        raise FieldProblem("low", None, f"is missing: the limit of {check.id} states nothing", allowed="low, high, or allowed")
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
        raise FieldProblem(name, plain[name], f"does not suit {check.id}, which is a choice", remedy="Use allowed")
    return kept_value(parse(plain[name], _comparable(check), field=name), check.dimension)


def _comparable(check: Check) -> tuple[str, ...]:
    """The kinds of unit that compare with what the check keeps: a weight does not compare with a volume."""
    assert check.dimension is not None
    return tuple(kind for kind in check.dimensions if kind == check.dimension or {kind, check.dimension} == {"lambda", "afr"})


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
        raise FieldProblem(name, value, "is no list of tables", remedy=f"Write it like {name} = [ {{ on = ... }} ]")
    return list(value)


def _kind(field: str, name: str, kinds: Mapping[str, ConditionKind]) -> ConditionKind:
    if name not in kinds:
        raise unknown(field, name, kinds, kind="condition")
    return kinds[name]


def _matches(plain: Mapping[str, object], field: str, kinds: Mapping[str, ConditionKind]) -> Mapping[str, Match]:
    return {
        name: _match(f"{field}.{name}", asked, _kind(field, name, kinds)) for name, asked in table_of(plain, field).items()
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
        raise FieldProblem(field, dict(asked), f"is a span, but {kind.id} is a choice", allowed=", ".join(kind.choices))
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
    low, high = (parse(plain[end], kind.dimension, field=end).value if end in plain else None for end in ("from", "to"))
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
        raise FieldProblem("slope", None, "is missing" if not stated else "is stated twice", allowed="one of slope, proportional, per")
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
        own = "temperature_step" if kind.dimension == "temperature" else kind.dimension
        half_width = parse(plain["assumed_error"], own, field="assumed_error").value
    return Condition(kind.id, value.value, None, half_width / _ROOT_3, value.text)


# ------------------------------------------------------------------------------------------------ at a reading's conditions


def applies(limit: Limit, conditions: Mapping[str, Condition], system: str = "metric") -> NotJudged | None:
    """``None`` if the limit's ``when`` holds; else why not."""
    for match in limit.when.values():
        stated = conditions.get(match.name)
        if stated is None:
            return NotJudged(f"state {asked_for(match)}", missing=True)
        if not match.holds(stated):
            return NotJudged(_holds_words(match, system), missing=False)
    return None


def band(limit: Limit, conditions: Mapping[str, Condition], system: str = "metric") -> Band | NotJudged:
    """The limit at *conditions*, with the doubt they lend it; or why it cannot be held against the reading.

    The doubt is half the change of a side from one standard uncertainty below the condition to one above, the larger of
    both sides; several conditions add in quadrature (JCGM 100:2008, 5.1.2).
    """
    if (not_here := applies(limit, conditions, system)) is not None:
        return not_here
    notes: list[str] = []
    at: dict[str, Condition] = {}
    assumed: set[str] = set()
    for one in limit.depends:
        stated = conditions.get(one.on)
        if stated is not None and stated.value is None:
            return NotJudged(f"state {in_sentence(one.title)} as a value", missing=True)
        if stated is None and one.assume is not None:
            assert one.assume.value is not None
            stated = one.assume
            assumed.add(one.on)
            doubt = shown(one.assume.u * _ROOT_3, _step(one.dimension), system) if one.assume.u else ""
            notes.append(
                f"{in_sentence(one.title)} was not stated: {shown(one.assume.value, one.dimension, system)}"
                f"{f' ± {doubt}' if doubt else ''} is assumed"
            )
        if stated is None:
            if one.required:
                return NotJudged(f"state {in_sentence(one.title)}", missing=True)
            notes.append(f"{in_sentence(one.title)} was not stated and is left out of account")
            continue
        assert stated.value is not None
        slack = _EDGE * max(1.0, abs(stated.value))
        if (one.low is not None and stated.value < one.low - slack) or (
            one.high is not None and stated.value > one.high + slack
        ):
            span = Match(one.on, one.title, one.dimension, (), one.low, one.high)
            return NotJudged(_holds_words(span, system), missing=False)
        at[one.on] = stated
    for match in limit.asks.values():
        stated = conditions.get(match.name)
        if stated is None:
            notes.append(f"{in_sentence(match.title)} was not stated; the sheet asks for {match.words(system)}")
        elif not match.holds(stated):
            return NotJudged(f"{_holds_words(match, system)}; read it again so", missing=False)
    doubts = _doubts(limit, at, assumed)
    low, high = _moved(limit, {name: stated.value for name, stated in at.items() if stated.value is not None})
    return Band(low, high, math.hypot(*(doubt.u for doubt in doubts)), tuple(notes), doubts)


def _moved(limit: Limit, at: Mapping[str, float]) -> tuple[float | None, float | None]:
    """Both sides with every stated condition taken in, in the sheet's order."""
    sides = [limit.low, limit.high]
    for one in limit.depends:
        if one.on in at:
            sides = [None if side is None else one.moved(side, at[one.on]) for side in sides]
    return sides[0], sides[1]


def _doubts(limit: Limit, at: Mapping[str, Condition], assumed: set[str]) -> tuple[Doubt, ...]:
    values = {name: stated.value for name, stated in at.items() if stated.value is not None}
    titles = {one.on: one for one in limit.depends}
    found = []
    for name, stated in at.items():
        if stated.u == 0.0:
            continue
        below = _moved(limit, {**values, name: values[name] - stated.u})
        above = _moved(limit, {**values, name: values[name] + stated.u})
        u = max(abs(a - b) / 2.0 for a, b in zip(above, below, strict=True) if a is not None and b is not None)
        found.append(Doubt(name, titles[name].title, titles[name].dimension, u, stated.u, name in assumed))
    return tuple(found)


# ----------------------------------------------------------------------------------------------------------- in words


def limit_words(limit: Limit, system: str = "metric", conditions: Mapping[str, Condition] | None = None) -> str:
    """The limit as a sentence's part: ``4.70 to 5.20 bar``; at *conditions* if they are given and it can be."""
    if limit.allowed:
        return _with_when(" or ".join(limit.allowed).replace("_", " "), limit, system)
    assert limit.dimension is not None
    unit = unit_for(limit.dimension, system, limit.unit) if limit.unit else None
    if conditions is not None and limit.depends:
        here = band(limit, conditions, system)
        if isinstance(here, Band):
            stated = [
                f"{in_sentence(one.title)} {shown(value, one.dimension, system)}"
                for one in limit.depends
                if one.on in conditions and (value := conditions[one.on].value) is not None
            ]
            span = range_shown(here.low, here.high, limit.dimension, system, unit)
            return f"{span} at {', '.join(stated)}" if stated else span
    text = range_shown(limit.low, limit.high, limit.dimension, system, unit)
    for one in limit.depends:
        text += _depends_words(one, limit.dimension, system, unit)
    return _with_when(text, limit, system)


def _with_when(text: str, limit: Limit, system: str) -> str:
    spans = [f"{in_sentence(m.title)} {m.words(system)}" for m in limit.when.values() if not m.choices]
    states = [m.words(system).replace("_", " ") for m in limit.when.values() if m.choices]
    return ", ".join([text, *states, *spans])


def _depends_words(one: Depends, dimension: str, system: str, unit: str | None) -> str:
    text = f" at {in_sentence(one.title)} {shown(one.at, one.dimension, system)}"
    if one.kind == "proportional":
        text += ", in proportion"
    else:
        step = _unit_step(one, system)
        if one.kind == "per":
            rate = shown(abs(one.rate) * step[0], "share")
        else:
            rate = shown(abs(one.rate) * step[0], _step(dimension), system, unit=unit)
        text += f", {'more' if one.rate > 0 else 'less'} by {rate} for each {step[1]} above"
    if one.low is not None or one.high is not None:
        text += f" (known {span_words(one.low, one.high, one.dimension, system)})"
    return text


def _unit_step(one: Depends, system: str) -> tuple[float, str]:
    """The size of one step of the condition, in SI, and its name."""
    name = unit_for(one.dimension, system, None, max(abs(one.low or 0.0), abs(one.high or 0.0), abs(one.at)))
    unit = next(unit for unit in units_named(name) if unit.dimension == _step(one.dimension))
    return unit.factor, unit.label


def span_words(
    low: float | None,
    high: float | None,
    dimension: str,
    system: str = "metric",
    low_open: bool = False,
    high_open: bool = False,
) -> str:
    """``from 10 to 20 min``, ``below 30 °C``, ``from 11.5 V``."""
    if low is not None and high is not None:
        return f"from {range_shown(low, high, dimension, system)}"
    if low is not None:
        return f"{'above' if low_open else 'from'} {shown(low, dimension, system)}{'' if low_open else ' up'}"
    if high is not None:
        return f"{'below' if high_open else 'up to'} {shown(high, dimension, system)}"
    return "at any value"


def asked_for(match: Match) -> str:
    """What to state: ``how the engine ran (idle_warm)``."""
    if set(match.choices) & {"yes", "no"}:
        return f"{match.title} (yes or no)"
    return f"{in_sentence(match.title)} ({match.words()})" if match.choices else in_sentence(match.title)


def _holds_words(match: Match, system: str) -> str:
    return f"the sheet's limit holds for {in_sentence(match.title)} {match.words(system)}"


def _step(dimension: str) -> str:
    return "temperature_step" if dimension == "temperature" else dimension
