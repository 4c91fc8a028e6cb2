"""A limit in words, in the user's units."""

from __future__ import annotations

from collections.abc import Mapping

from evenpour.measure.bands import Band, band
from evenpour.measure.checks import in_sentence
from evenpour.measure.choice_words import choice_words
from evenpour.measure.limit_types import Depends, Limit
from evenpour.measure.readings import Condition
from evenpour.measure.showing import range_shown, shown, span_words, unit_for
from evenpour.measure.unit_table import step_of, unit_named

# in words


def limit_words(
    limit: Limit, system: str = "metric", conditions: Mapping[str, Condition] | None = None
) -> str:
    """The limit as part of a sentence: ``4.70 to 5.20 bar``; at *conditions* where they are given."""
    if limit.allowed:
        return _with_when(" or ".join(map(choice_words, limit.allowed)), limit, system)
    assert limit.dimension is not None
    size = max(abs(side or 0.0) for side in (limit.low, limit.high))
    unit = unit_for(limit.dimension, system, limit.unit, size) if limit.unit else None
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
    moves = [_depends_words(one, limit.dimension, system, unit) for one in limit.depends]
    text = " ".join([text, "; ".join(moves)]).strip()
    return _with_when(text, limit, system)


def _with_when(text: str, limit: Limit, system: str) -> str:
    moved_by = {one.on for one in limit.depends if one.low is not None or one.high is not None}
    spans = [
        f"{in_sentence(match.title)} {match.words(system)}"
        for match in limit.when.values()
        if not match.choices and match.name not in moved_by  # said already where the limit is known
    ]
    states = [match.words(system).replace("_", " ") for match in limit.when.values() if match.choices]
    return ", ".join([text, *states, *spans])


def _depends_words(one: Depends, dimension: str, system: str, unit: str | None) -> str:
    """``at 0 °C (the regulator's temperature), 0.05 bar more for each °C above, known from 0 to 50 °C``."""
    size = max(abs(side or 0.0) for side in (one.low, one.high, one.at))
    name = unit_for(one.dimension, system, None, size)
    text = f"at {shown(one.at, one.dimension, system, unit=name)} ({in_sentence(one.title)})"
    if one.kind == "proportional":
        text += ", in proportion"
    else:
        step = unit_named(name, step_of(one.dimension))
        kind, chosen = ("share", "%") if one.kind == "per" else (step_of(dimension), unit)
        seen = unit_named(chosen or unit_for(kind, system), kind)
        many = _steps(abs(one.rate) * step.factor / seen.factor, seen.decimals)
        rate = shown(abs(one.rate) * step.factor * many, kind, system, unit=chosen)
        above = f"{many} {step.label}" if many > 1 else step.label
        text += f", {rate} {'more' if one.rate > 0 else 'less'} for each {above} above"
    if one.low is not None or one.high is not None:
        text += f", known {span_words(one.low, one.high, one.dimension, system, unit=name)}"
    return text


def _steps(rate: float, decimals: int) -> int:
    """How many steps of the condition to name, so that the rate shows a digit: 0.012 bar for each 100 m."""
    return next((many for many in (1, 10, 100) if rate * many >= 10.0**-decimals * 0.95), 1000)
