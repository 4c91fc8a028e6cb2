"""Predicted readings as they are answered: beside the healthy car's, the limit and what others show."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.job.answers import ShownLimit
from evenpour.job.port_words import read_at
from evenpour.job.whatif.answers import HealthyCars, PredictedReading
from evenpour.job.whatif.readings import Line, Readings, Usual, why_not
from evenpour.job.wording import likelihood
from evenpour.machine.checks import ChoiceCheck
from evenpour.machine.sheet import Sheet
from evenpour.measure.checks import Check
from evenpour.measure.choice_words import choice_words
from evenpour.measure.limits import Band, band
from evenpour.measure.unit_table import step_of
from evenpour.measure.units import from_unit, in_unit, label, range_shown, shown, unit_for

CHANGED = 0.5  # of a careful person's repeats, from which a number counts as changed
CHANCE_CHANGED = 0.1  # by which a choice's probability must move to count
SELDOM = 0.1  # share of healthy cars that show a choice, below which it stands out
_FIGURE = re.compile(r"−?[0-9]+(?:\.[0-9]+)?")
_BY_SHARE = frozenset({"volume", "volume_flow", "resistance"})  # changes that are told in per cent


@dataclass(frozen=True, slots=True)
class Told:
    """An answered line, and how telling it is: by how many repeats it lies outside what healthy cars show."""

    reading: PredictedReading
    telling: float


def told(line: Line, now: Readings, before: Readings, healthy: Usual, sheet: Sheet, system: str) -> Told:
    """One line of the one car, as it is now and as it was."""
    if isinstance(line.predicted, ChoiceCheck):
        return _choice(line, line.predicted, now, before, healthy, sheet)
    return _number(line, now, before, healthy, sheet, system)


def _number(line: Line, now: Readings, before: Readings, healthy: Usual, sheet: Sheet, system: str) -> Told:
    check, was = line.check, float(before.values[line.key][0])
    holds = bool(now.holds[line.key][0])
    value = float(now.values[line.key][0]) if holds else None
    unit = unit_of(check, system)
    limit, within = _span_limit(line, value, sheet, unit, system)
    away = 0.0 if value is None else _outside(line, value, healthy)
    moved = 0.0 if value is None else abs(float(line.compared(value) - line.compared(was))) / line.repeats
    same, usual = moved < CHANGED, _range(healthy, check, system)
    # a car whose parts are all alike has no spread, and no car is so: what healthy cars show stands for it
    spread = not healthy.low <= was <= healthy.high
    shown_now = "no reading" if value is None else _shown(value, check, system)
    reading = PredictedReading(
        **_named(line),
        value=None if value is None else _in(value, unit, check),
        unit=label(unit),
        p=None,
        shown=usual if spread and same and value is not None else shown_now,
        healthy=_in(was, unit, check),
        healthy_p=None,
        healthy_shown=usual if spread else _shown(was, check, system),
        change=None if value is None else _rounded(_in(value, unit, check) - _in(was, unit, check)),
        change_shown="" if same or spread or value is None else change_words(line, value, was, system),
        healthy_cars=HealthyCars(
            low=_in(healthy.low, unit, check), high=_in(healthy.high, unit, check), p=None, words=usual
        ),
        limit=limit,
        within=within,
        changed=value is None or moved >= CHANGED,
        stands_out=value is None or (away > 1.0 and moved >= CHANGED),
        why=None if holds else why_not(line),
    )
    return Told(reading, away if moved >= CHANGED else 0.0)


def _choice(
    line: Line, predicted: ChoiceCheck, now: Readings, before: Readings, healthy: Usual, sheet: Sheet
) -> Told:
    chances, were = now.chances[line.key][0], before.chances[line.key][0]
    place, was = int(np.argmax(chances)), int(np.argmax(were))
    holds = bool(now.holds[line.key][0])
    word = predicted.word(place, line.asked) if holds else None
    limit, within = _choice_limit(line, predicted, place, sheet)
    common = healthy.chances[place]
    changed = not holds or place != was or abs(float(chances[was] - were[was])) > CHANCE_CHANGED
    reading = PredictedReading(
        **_named(line),
        value=word,
        unit=None,
        p=float(chances[place]) if holds else None,
        shown="no reading" if word is None else _likely(word, float(chances[place])),
        healthy=predicted.word(was, line.asked),
        healthy_p=float(were[was]),
        healthy_shown=_likely(predicted.word(was, line.asked), float(were[was])),
        change=None,
        change_shown="",
        healthy_cars=HealthyCars(low=None, high=None, p=common, words=_share_words(word, common)),
        limit=limit,
        within=within if holds else None,
        changed=changed,
        stands_out=not holds or (changed and common < SELDOM),
        why=None if holds else why_not(line),
    )
    # a choice that healthy cars show once in e^4 is about as telling as a number four repeats away
    return Told(reading, -math.log(max(common, 1e-3)) if changed and holds and common < SELDOM else 0.0)


def _named(line: Line) -> dict[str, Any]:
    return {
        "what": line.check.id,
        "title": line.check.title,
        "cylinder": line.cylinder,
        "port": line.port,
        "group": line.group,
        "state": line.words,
        "conditions": {name: at.choice or at.text for name, at in line.conditions.items()},
    }


def unit_of(check: Check, system: str) -> str:
    """The unit in which a check's number is answered."""
    assert check.dimension is not None
    return unit_for(check.dimension, system, check.prefer)


def _in(value: float, unit: str, check: Check) -> float:
    return _rounded(in_unit(value, unit, check.dimension))


def _rounded(number: float) -> float:
    return float(f"{number:.10g}") + 0.0


def _shown(value: float, check: Check, system: str) -> str:
    assert check.dimension is not None
    unit = _written(check, system, value)
    if unit == "%":  # a model's figure: beyond three, digits say nothing
        value = float(f"{value:.3g}")
    return shown(value, check.dimension, system, unit=unit)


def _written(check: Check, system: str, value: float) -> str:
    """The unit a screen writes: that of the answer, so that a row compares; of megohms no ohms."""
    assert check.dimension is not None
    sized = value if check.dimension == "resistance" else None
    return unit_for(check.dimension, system, check.prefer, sized)


def _range(healthy: Usual, check: Check, system: str) -> str:
    """What healthy cars show: ``4.88 to 5.03 bar``; two ends that are written alike are one."""
    assert check.dimension is not None
    unit = _written(check, system, healthy.high)
    low, high = (shown(end, check.dimension, unit=unit) for end in (healthy.low, healthy.high))
    return low if low == high else range_shown(healthy.low, healthy.high, check.dimension, system, unit)


def change_words(line: Line, value: float, was: float, system: str) -> str:
    """``+0.35 bar``, or ``−37 %`` of amounts."""
    check = line.check
    assert check.dimension is not None
    sign = "+" if value > was else "−"
    if check.dimension in _BY_SHARE and was > 0.0:
        if value > 3.0 * was:
            return f"{value / was:.3g} times"
        share = 100.0 * abs(value / was - 1.0)
        return f"{sign}{share:.{0 if share >= 10.0 else 1}f} %"
    kind = step_of(check.dimension)
    unit = unit_for(kind, system, None if kind != check.dimension else check.prefer)
    size = abs(_as_shown(value, check, system) - _as_shown(was, check, system)) or abs(value - was)
    return f"{sign}{shown(size, kind, system, unit=unit).removeprefix('lambda ')}"


def _as_shown(value: float, check: Check, system: str) -> float:
    """The value to the digits in which it is shown, SI: the change is that of the figures that one sees."""
    figure = _FIGURE.search(_shown(value, check, system))
    if figure is None or check.dimension == "angle":  # turns are fractions
        return value
    number = float(figure[0].replace("−", "-"))
    return from_unit(number, _written(check, system, value), check.dimension)


def _outside(line: Line, value: float, healthy: Usual) -> float:
    """By how many repeats a value lies outside what healthy cars show."""
    at, low, high = (float(line.compared(one)) for one in (value, healthy.low, healthy.high))
    return max(low - at, at - high, 0.0) / line.repeats


def _span_limit(
    line: Line, value: float | None, sheet: Sheet, unit: str, system: str
) -> tuple[ShownLimit | None, bool | None]:
    """The sheet's limit at the line's conditions; several that hold at once: the narrowest counts."""
    check = line.check
    assert check.dimension is not None
    held = [(limit, band(limit, line.conditions, system)) for limit in sheet.limits_for(check.id)]
    bands = [(limit, found) for limit, found in held if isinstance(found, Band)]
    if not bands:
        return None, None
    low = max((found.low for _, found in bands if found.low is not None), default=None)
    high = min((found.high for _, found in bands if found.high is not None), default=None)
    size = max(abs(side) for side in (low, high) if side is not None)
    words = range_shown(low, high, check.dimension, system, _written(check, system, size))
    limit = ShownLimit(
        low=None if low is None else _in(low, unit, check),
        high=None if high is None else _in(high, unit, check),
        source="; ".join(dict.fromkeys(one.source for one, _ in bands)),
        words=words,
    )
    if value is None:
        return limit, None
    return limit, (low is None or value >= low) and (high is None or value <= high)


def _choice_limit(
    line: Line, predicted: ChoiceCheck, place: int, sheet: Sheet
) -> tuple[ShownLimit | None, bool | None]:
    held = [
        limit for limit in sheet.limits_for(line.check.id) if isinstance(band(limit, line.conditions), Band)
    ]
    if not held:
        return None, None
    allowed = [word for word in held[0].allowed if all(word in limit.allowed for limit in held)]
    limit = ShownLimit(
        allowed=allowed,
        source="; ".join(dict.fromkeys(one.source for one in held)),
        words=" or ".join(map(choice_words, allowed)),
    )
    said = {predicted.word(place, line.asked)} if predicted.right else set(predicted.order[place])
    return limit, bool(said & set(allowed))


def _likely(word: str, p: float) -> str:
    return f"{choice_words(word)} ({likelihood(p)})"


def _share_words(word: str | None, p: float) -> str:
    return "" if word is None else f"{choice_words(word)}: {likelihood(p)}"


def telling_words(found: Sequence[Told], most: int) -> list[str]:
    """The readings that stand out most, one for each check and state, in sentences."""
    states: dict[tuple[str, str], list[Told]] = {}
    for one in sorted(found, key=lambda one: -one.telling):
        if one.telling > 0.0 and one.reading.stands_out:
            states.setdefault((one.reading.what, one.reading.state), []).append(one)
    cylinders = max((one.reading.cylinder or 0 for one in found), default=0)
    return [_sentence([one.reading for one in own], cylinders) for own in list(states.values())[:most]]


def _sentence(alike: Sequence[PredictedReading], cylinders: int) -> str:
    """Of one check in one state; the most telling of its cylinders speaks for those that stand out too."""
    reading = alike[0]
    places = [(one.cylinder, one.port) for one in alike if one.cylinder is not None]
    where = [read_at(places)] if 0 < len(places) < cylinders else []
    named = ", ".join([reading.title, *([reading.state] if reading.state else []), *where])
    limit = f"; limit {reading.limit.words}" if reading.limit is not None and reading.within is False else ""
    return f"{named}: {reading.shown} instead of {reading.healthy_shown}{limit}"
