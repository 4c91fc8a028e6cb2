"""Within, outside, or cannot tell: a reading against its limits, with the probability.

Source: JCGM 106:2012, clause 7: p = F((TU - y)/u) - F((TL - y)/u), an open side counting as 1 or 0. F is
    normal, or Student's t with the effective degrees of freedom where few repeats carry u (JCGM 100:2008,
    G.4). What is known of the part beforehand is not used here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from evenpour.errors import OutOfRange
from evenpour.measure.checks import in_sentence
from evenpour.measure.limit_types import Match, asked_for
from evenpour.measure.limits import Band, Doubt, Limit, NotJudged, band
from evenpour.measure.readings import Condition, Reading
from evenpour.measure.settle import WITHIN_AT_ALL, Doubted, instrument_that_does, what_settles
from evenpour.measure.showing import shown, unit_for
from evenpour.measure.uncertainty import combine, student_below
from evenpour.measure.unit_table import step_of

Word = Literal["within", "outside", "cannot_tell"]
SURE, SURE_NOT = 0.95, 0.05
NO_LIMIT = "the sheet has no limit for this: the engine's manual decides"  # what a verdict settles by then


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a reading says about its limit. Values in SI.

    ``p_within`` is ``None`` where nothing could be compared.
    ``budget`` holds each cause's standard uncertainty. ``settle`` says, where the verdict is cannot_tell,
    what would settle it.
    """

    verdict: Word
    p_within: float | None
    value: float | str | None
    u: float | None
    dof: int | None
    low: float | None
    high: float | None
    allowed: tuple[str, ...]
    source: str | None
    settle: str | None
    notes: tuple[str, ...]
    budget: Mapping[str, float] = field(default_factory=dict)


def p_conform(y: float, u: float, low: float | None, high: float | None, dof: int | None = None) -> float:
    """Probability that the true value lies within the limits.

    Args:
        y: Measured value; infinite is an open circuit.
        u: Standard uncertainty, 0 or more.
        low, high: The limits; ``None`` is an open side.
        dof: Effective degrees of freedom; ``None`` is normal.
    Raises:
        OutOfRange: nan, or a negative uncertainty.
    """
    if math.isnan(y) or not 0.0 <= u < math.inf:
        raise OutOfRange("u" if not math.isnan(y) else "y", u, "is no measured value with its uncertainty")
    if u == 0.0 or math.isinf(y):
        return float((low is None or y >= low) and (high is None or y <= high))
    if low is not None and high is None:
        return _below((y - low) / u, dof)  # the same as 1 - F, without losing a small tail
    above = 1.0 if high is None else _below((high - y) / u, dof)
    return max(0.0, above - (0.0 if low is None else _below((low - y) / u, dof)))


def _below(x: float, dof: int | None) -> float:
    """F(x) of the normal distribution, or of Student's t."""
    return 0.5 * math.erfc(-x / math.sqrt(2.0)) if dof is None else student_below(x, dof)


def word_for(p: float) -> Word:
    """The verdict for a probability."""
    return "within" if p >= SURE else "outside" if p <= SURE_NOT else "cannot_tell"


def judge(reading: Reading, limits: Sequence[Limit], system: str = "metric") -> Verdict:
    """Hold *reading* against those of *limits* that are its check's and hold at its conditions.

    Several that hold at once count together: the narrowest band decides.
    """
    held: list[tuple[Limit, Band]] = []
    refused: list[NotJudged] = []
    for limit in (limit for limit in limits if limit.check == reading.check):
        found = band(limit, reading.conditions, system)
        if isinstance(found, Band):
            held.append((limit, found))
        else:
            refused.append(found)
    notes = _assumption_notes(reading)
    if not held:
        return _not_judged(reading, refused, notes)
    notes += tuple(dict.fromkeys(note for _, found in held for note in found.notes))
    notes += tuple(f"a further limit was not held against it: {one.settle}" for one in refused if one.missing)
    source = "; ".join(dict.fromkeys(limit.source for limit, _ in held))
    if reading.choice is not None:
        return _judge_choice(reading.choice, [limit for limit, _ in held], source, notes)
    return _judge_value(reading, held, source, notes, system)


def _judge_choice(choice: str, limits: Sequence[Limit], source: str, notes: tuple[str, ...]) -> Verdict:
    allowed = tuple(one for one in limits[0].allowed if all(one in limit.allowed for limit in limits))
    p = 1.0 if choice in allowed else 0.0
    verdict = Verdict(word_for(p), p, choice, None, None, None, None, allowed, source, None, notes)
    return verdict if allowed else _contradicts(verdict)


def _judge_value(
    reading: Reading, held: Sequence[tuple[Limit, Band]], source: str, notes: tuple[str, ...], system: str
) -> Verdict:
    low = max((found.low for _, found in held if found.low is not None), default=None)
    high = min((found.high for _, found in held if found.high is not None), default=None)
    doubts: dict[str, Doubt] = {}
    for doubt in (doubt for _, found in held for doubt in found.doubts):
        if doubt.name not in doubts or doubts[doubt.name].u < doubt.u:
            doubts[doubt.name] = doubt
    notes += _condition_notes(reading, doubts.values(), system)
    estimate = combine(reading.values, reading.u_b, {name: doubt.u for name, doubt in doubts.items()})
    p = p_conform(estimate.value, estimate.u, low, high, estimate.dof)
    word = word_for(p)
    verdict = Verdict(
        word, p, estimate.value, estimate.u, estimate.dof, low, high, (), source, None, notes, estimate.budget
    )
    if low is not None and high is not None and low > high:
        return _contradicts(verdict)
    if word != "cannot_tell":
        return verdict
    limit = held[0][0]
    assert limit.dimension is not None
    settle = what_settles(
        Doubted(estimate, tuple(doubts.values()), low, high, limit.dimension, limit.unit),
        lambda u, dof: word_for(p_conform(estimate.value, u, low, high, dof)) != "cannot_tell",
        system,
    )
    return replace(verdict, settle=settle)


def _not_judged(reading: Reading, refused: Sequence[NotJudged], notes: tuple[str, ...]) -> Verdict:
    settle = _what_is_missing(refused) if refused else NO_LIMIT
    if reading.choice is not None:
        return Verdict("cannot_tell", None, reading.choice, None, None, None, None, (), None, settle, notes)
    estimate = combine(reading.values, reading.u_b)
    return Verdict(
        "cannot_tell",
        None,
        estimate.value,
        estimate.u,
        estimate.dof,
        None,
        None,
        (),
        None,
        settle,
        notes,
        estimate.budget,
    )


def _what_is_missing(refused: Sequence[NotJudged]) -> str:
    """What is missing can be stated now; where the limit does not hold, the reading must be taken again.

    Several limits that ask for one condition make one question of all its choices.
    """
    missing = [one for one in refused if one.missing]
    choices: dict[str, Match] = {}
    for match in (one.needs for one in missing if one.needs is not None and one.needs.choices):
        known = choices.get(match.name, replace(match, choices=()))
        choices[match.name] = replace(known, choices=tuple(dict.fromkeys(known.choices + match.choices)))
    reasons = [
        f"state {asked_for(choices[one.needs.name])}"
        if one.needs is not None and one.needs.name in choices
        else one.settle
        for one in missing or refused
    ]
    first, *others = dict.fromkeys(reasons)
    return "; or ".join([first, *(other.removeprefix("the sheet's limit holds ") for other in others)])


def _contradicts(verdict: Verdict) -> Verdict:
    """No value at all could satisfy the sheet's limits here: then the sheet is at fault, not the part."""
    settle = "the sheet's limits contradict each other under these conditions: mend the sheet"
    return replace(verdict, verdict="cannot_tell", p_within=None, settle=settle)


def _assumption_notes(reading: Reading) -> tuple[str, ...]:
    """What was assumed of the instrument is said aloud."""
    assumed = reading.basis.endswith("assumed") or "is taken as" in reading.basis
    return (reading.basis,) if assumed else ()


def _condition_notes(reading: Reading, doubts: Iterable[Doubt], system: str) -> tuple[str, ...]:
    """So is what was assumed of a condition that was stated without its error, and that counts."""
    return tuple(
        f"no error stated for {in_sentence(doubt.title)}:"
        f" ± {shown(math.sqrt(3.0) * doubt.u_condition, step_of(doubt.dimension), system)} assumed"
        for doubt in doubts
        if not doubt.assumed and doubt.u > 0.0 and not _states_error(reading.conditions[doubt.name].text)
    )


def _states_error(text: str) -> bool:
    return "±" in text or "+" in text[1:]


def foresee(
    limit: Limit, u: float, conditions: Mapping[str, Condition] | None = None, system: str = "metric"
) -> str | None:
    """Said before a reading is taken: with this instrument no value at all could be called within.

    Args:
        limit: The limit the reading will be held against.
        u: The instrument's standard uncertainty, SI.
        conditions: What is known of the conditions already.
    Returns:
        A sentence, with the instrument that would do; ``None`` where a reading can be called within.
    """
    found = band(limit, conditions or {}, system)
    if isinstance(found, NotJudged) and not found.missing:
        return None  # it will not be this limit that judges
    here = found if isinstance(found, Band) else Band(limit.low, limit.high, 0.0, ())
    if here.low is None or here.high is None or limit.dimension is None:
        return None
    width = here.high - here.low
    if width >= WITHIN_AT_ALL * math.hypot(u, here.u_condition):
        return None
    kind = step_of(limit.dimension)
    unit = unit_for(limit.dimension, system, limit.unit)
    start = (
        f"The limit is {shown(width, kind, system, unit=unit)} wide and the reading good to"
        f" ± {shown(2.0 * math.hypot(u, here.u_condition), kind, system, unit=unit)}:"
        " no value at all could be called within."
    )
    does = instrument_that_does(width, here.u_condition, u, here.high, limit.dimension, system, limit.unit)
    if does is not None:
        return f"{start} {does[:1].upper()}{does[1:]} would do."
    if here.doubts and here.u_condition > u:
        worst = max(here.doubts, key=lambda doubt: doubt.u)
        return f"{start} What is in doubt most is {in_sentence(worst.title)}: measure that better."
    return f"{start} No ordinary instrument would do."
