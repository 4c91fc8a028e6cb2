"""Verdicts as they are answered: in the unit they were typed in, or in the user's own units."""

from __future__ import annotations

import math

from evenpour.job.answers import JudgeAnswer, JudgedReading, ShownLimit
from evenpour.job.judging import Judged
from evenpour.machine.sheet import Sheet
from evenpour.measure.checks import Check
from evenpour.measure.choice_words import choice_words
from evenpour.measure.uncertainty import coverage
from evenpour.measure.units import in_unit, label, range_shown, shown, unit_for


def judge_answer(judged: tuple[Judged, ...], sheet: Sheet, system: str | None) -> JudgeAnswer:
    """Every reading with its verdict. *system* None leaves each in the unit it was typed in."""
    return JudgeAnswer(
        sheet=sheet.id, notice=sheet.notice, readings=[judged_reading(group, system) for group in judged]
    )


def judged_reading(group: Judged, system: str | None) -> JudgedReading:
    """One row of the answer."""
    verdict, reading, told = group.verdict, group.reading, group.facts[-1].told
    unit = _unit(group, system)
    value = verdict.value
    finite = isinstance(value, float) and math.isfinite(value)
    u = verdict.u * _step(group.check, unit) if finite and verdict.u is not None else None
    notes = list(dict.fromkeys([*verdict.notes, *(note for fact in group.facts for note in fact.notes)]))
    return JudgedReading(
        what=group.check.id,
        title=group.check.title,
        cylinder=reading.cylinder,
        value=_value(value, unit, group.check),
        unit=label(unit) if unit else None,
        u=u,
        dof=verdict.dof,
        doubt=None if u is None else coverage(verdict.dof) * u,
        limit=_limit(group, unit),
        p_within=verdict.p_within,
        verdict=verdict.verdict,
        settle=verdict.settle,
        shown=_shown(group, unit),
        at=told.at or None,
        n=max(1, len(reading.values)),
        typed=[text for fact in group.facts for text in fact.typed],
        conditions={
            name: one.choice if one.choice is not None else one.text
            for name, one in reading.conditions.items()
        },
        instrument=group.facts[-1].instrument,
        basis=reading.basis,
        notes=notes,
        stands=group.stands,
        overtaken=group.overtaken,
        entries=[fact.told.entry for fact in group.facts],
        comments=[fact.told.note for fact in group.facts if fact.told.note],
    )


def _unit(group: Judged, system: str | None) -> str | None:
    check = group.check
    if check.dimension is None:
        return None
    if system is None:
        return group.reading.unit or unit_for(check.dimension, "metric", check.prefer)
    return unit_for(check.dimension, system, check.prefer)


def _value(value: float | str | None, unit: str | None, check: Check) -> float | str | None:
    """An open circuit is answered in the word that enters it."""
    if isinstance(value, float) and math.isinf(value):
        return "open"
    return value if isinstance(value, str) else _in(value, unit, check)


def _in(value: float | str | None, unit: str | None, check: Check) -> float | None:
    if not isinstance(value, float) or unit is None:
        return None
    return float(f"{in_unit(value, unit, check.dimension):.10g}")


def _step(check: Check, unit: str | None) -> float:
    """From SI to *unit* for a width, which has no zero point."""
    if unit is None:
        return 1.0
    return in_unit(1.0, unit, check.dimension) - in_unit(0.0, unit, check.dimension)


def _limit(group: Judged, unit: str | None) -> ShownLimit | None:
    verdict, check = group.verdict, group.check
    if verdict.source is None:
        return None
    if verdict.allowed or check.dimension is None:
        words = " or ".join(map(choice_words, verdict.allowed))
        return ShownLimit(allowed=list(verdict.allowed), source=verdict.source, words=words)
    return ShownLimit(
        low=_in(verdict.low, unit, check),
        high=_in(verdict.high, unit, check),
        source=verdict.source,
        words=range_shown(verdict.low, verdict.high, check.dimension, unit=unit),
    )


def _shown(group: Judged, unit: str | None) -> str:
    value = group.verdict.value
    if isinstance(value, str):
        return choice_words(value)
    if value is None or group.check.dimension is None:
        return ""
    k = coverage(group.verdict.dof)
    return shown(value, group.check.dimension, u=group.verdict.u, k=k, unit=unit)
