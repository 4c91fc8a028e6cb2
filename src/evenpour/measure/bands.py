"""A limit at a reading's own conditions: where it stands, the doubt they lend it, or why it is of no use."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from evenpour.measure.checks import in_sentence
from evenpour.measure.limit_types import EDGE, Limit, Match, asked_for, holds_words
from evenpour.measure.readings import Condition
from evenpour.measure.showing import shown
from evenpour.measure.unit_table import step_of

_ROOT_3 = math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Doubt:
    """What one condition's doubt does to the band: ``u`` in the check's kind, ``u_condition`` in its own."""

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
    needs: Match | None = None  # the condition that is not stated, where it decides which limit holds


# reading's conditions


def applies(limit: Limit, conditions: Mapping[str, Condition], system: str = "metric") -> NotJudged | None:
    """``None`` if the limit's ``when`` holds; else why not."""
    for match in limit.when.values():
        stated = conditions.get(match.name)
        if stated is None:
            return NotJudged(f"state {asked_for(match)}", missing=True, needs=match)
        if not match.holds(stated):
            return NotJudged(holds_words(match, system), missing=False)
    return None


def band(limit: Limit, conditions: Mapping[str, Condition], system: str = "metric") -> Band | NotJudged:
    """The limit at *conditions*, with the doubt they lend it; or why it cannot be held against the reading.

    The doubt is half the change of a side from one standard uncertainty below the condition to one above,
    the larger of both sides; several conditions add in quadrature (JCGM 100:2008, 5.1.2).
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
            doubt = shown(one.assume.u * _ROOT_3, step_of(one.dimension), system) if one.assume.u else ""
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
        slack = EDGE * max(1.0, abs(stated.value))
        if (one.low is not None and stated.value < one.low - slack) or (
            one.high is not None and stated.value > one.high + slack
        ):
            span = Match(one.on, one.title, one.dimension, (), one.low, one.high)
            return NotJudged(holds_words(span, system), missing=False)
        at[one.on] = stated
    for match in limit.asks.values():
        stated = conditions.get(match.name)
        if stated is None:
            notes.append(
                f"not stated: {match.title} (the sheet asks for: {match.words(system).replace('_', ' ')})"
            )
        elif not match.holds(stated):
            return NotJudged(f"{holds_words(match, system)}; read it again so", missing=False)
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
        u = max(
            abs(a - b) / 2.0 for a, b in zip(above, below, strict=True) if a is not None and b is not None
        )
        found.append(Doubt(name, titles[name].title, titles[name].dimension, u, stated.u, name in assumed))
    return tuple(found)
