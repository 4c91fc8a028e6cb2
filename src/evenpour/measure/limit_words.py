"""A limit in words, in the user's units."""

from __future__ import annotations

from collections.abc import Mapping

from evenpour.measure.bands import Band, band
from evenpour.measure.checks import in_sentence
from evenpour.measure.limit_types import Depends, Limit
from evenpour.measure.readings import Condition
from evenpour.measure.showing import range_shown, shown, span_words, unit_for
from evenpour.measure.unit_table import step_of, units_named

# in words


def limit_words(
    limit: Limit, system: str = "metric", conditions: Mapping[str, Condition] | None = None
) -> str:
    """The limit as part of a sentence: ``4.70 to 5.20 bar``; at *conditions* where they are given."""
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
            rate = shown(abs(one.rate) * step[0], step_of(dimension), system, unit=unit)
        text += f", {'more' if one.rate > 0 else 'less'} by {rate} for each {step[1]} above"
    if one.low is not None or one.high is not None:
        text += f" (known {span_words(one.low, one.high, one.dimension, system)})"
    return text


def _unit_step(one: Depends, system: str) -> tuple[float, str]:
    """The size of one step of the condition, in SI, and its name."""
    name = unit_for(one.dimension, system, None, max(abs(one.low or 0.0), abs(one.high or 0.0), abs(one.at)))
    unit = next(unit for unit in units_named(name) if unit.dimension == step_of(one.dimension))
    return unit.factor, unit.label
