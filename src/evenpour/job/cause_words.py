"""Causes in words: how grave, what speaks for and against, what would read otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from evenpour.causes.reasons import as_it_is, if_mended
from evenpour.job.cause_facts import Told
from evenpour.job.job import Job
from evenpour.machine.checks import ChoiceCheck, NumberCheck
from evenpour.measure.units import shown

if TYPE_CHECKING:
    from evenpour.job.causes_answer import Case

NOTICEABLE = 3.0  # of a reading's own noise, above which it would read clearly otherwise
MOST = 4  # readings told


def severity_words(severity: float | None) -> str:
    """Barely, slightly, clearly, badly, wholly."""
    if severity is None:
        return "cannot tell"
    for limit, word in ((0.15, "barely"), (0.4, "slightly"), (0.65, "clearly"), (0.85, "badly")):
        if severity < limit:
            return word
    return "wholly"


def strength_of(weight: float) -> str:
    """How strongly a check speaks."""
    size = abs(weight)
    return "strongly" if size > 3.0 else "clearly" if size > 1.0 else "a little"


def reading_words(job: Job, told: Told) -> str:
    """A reading by name, with its value: ``control pressure, warm, 2.10 bar``."""
    name = _named(job, told)
    return f"{name}, {_read(job, told)}"


def _named(job: Job, told: Told) -> str:
    check = job.known.checks[told.observation.check.check]
    query = told.observation.query
    words = check.named
    if told.caught is not None:
        way = "bare lines" if told.caught.through == "lines" else "injectors"
        words = f"fuel caught through {way}, {told.caught.opening}"
    if query.cylinder is not None:
        words += f", {'port' if told.caught is not None else 'cylinder'} {query.cylinder}"
    state = query.stated.get("state")
    if isinstance(state, str):
        words += f" ({state.replace('_', ' ')})"
    after = query.stated.get("after")
    if isinstance(after, float | int) and check.id == "holding_pressure":
        words += f", after {after / 60.0:.0f} min" if after >= 60.0 else f", after {after:.0f} s"
    return words


def _read(job: Job, told: Told) -> str:
    if told.observation.choice is not None:
        return told.observation.choice.replace("_", " ")
    assert told.observation.value is not None
    return value_words(job, told.observation.check.check, told.observation.value)


def value_words(job: Job, check: str, value: float) -> str:
    """A check's value in the user's units."""
    known = job.known.checks[check]
    dimension = known.dimension
    assert dimension is not None
    if dimension == "resistance" and value >= 9e5:
        return "open circuit"
    return shown(value, dimension, job.system)


def foreseen_words(job: Job, told: Told, compared: float) -> str:
    """What the model foresees for a reading, in words."""
    check = told.observation.check
    if isinstance(check, NumberCheck):
        return value_words(job, check.check, float(check.uncompared(compared)))
    assert isinstance(check, ChoiceCheck)
    place = sum(compared > cut for cut in check.cuts)
    return check.word(place, told.observation.query).replace("_", " ")


def reason_words(case: Case, owner: int, rows: Sequence[int], weight: float) -> str:
    """``control pressure, warm, 2.10 bar: with this 2.05 bar, without it 3.60 bar``."""
    job, explained = case.job, case.explanation
    with_it, sound = as_it_is(explained, owner), if_mended(explained, owner)
    row = max(rows, key=lambda one: _apart(case, one, with_it, sound))
    told = case.told[row]
    column = int(explained.seen.columns.column[row])
    mine, theirs = foreseen_words(job, told, with_it[column]), foreseen_words(job, told, sound[column])
    rest = f" (and {len(rows) - 1} more of these)" if len(rows) > 1 else ""
    if mine == theirs:
        return f"{reading_words(job, told)}{rest}: {mine} with it as without"
    return f"{reading_words(job, told)}{rest}: with this {mine}, without it {theirs}"


def _apart(case: Case, row: int, one: Any, two: Any) -> float:
    column = int(case.explanation.seen.columns.column[row])
    return abs(float(one[column] - two[column])) * float(case.explanation.noise.per_sd[row])


def mended_words(case: Case, now: Any, mended: Any) -> list[str]:
    """What would read clearly otherwise with the cause mended, most of all first."""
    explained = case.explanation
    rows = sorted(range(len(case.told)), key=lambda row: -_apart(case, row, now, mended))
    found: dict[str, None] = {}
    for row in rows:
        if _apart(case, row, now, mended) < NOTICEABLE or len(found) == MOST:
            break
        told = case.told[row]
        column = int(explained.seen.columns.column[row])
        words = foreseen_words(case.job, told, mended[column])
        found.setdefault(f"{_named(case.job, told)}: {words} instead of {_read(case.job, told)}")
    return list(found)
