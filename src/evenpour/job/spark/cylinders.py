"""One figure for each cylinder (compression, leak-down, fall of speed): each judged, and all compared."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from evenpour.errors import FieldProblem
from evenpour.job.answers import Word
from evenpour.job.job import Job
from evenpour.job.judging import own_u, spread_reading
from evenpour.job.spark.answers import CylinderLine, CylindersAnswer, SparkVerdict
from evenpour.job.spark.bench import NO_SHEET, Bench, bench
from evenpour.job.typed_words import listed_amounts, split_pairs
from evenpour.measure.checks import Check
from evenpour.measure.readings import Reading, reading_from
from evenpour.measure.verdicts import Verdict
from evenpour.tune.cylinder_spread import Apart, apart, outstanding


@dataclass(frozen=True, slots=True)
class Kind:
    """What is compared: its check, its step, whether the smaller is the worse, and what one bad one means."""

    check: str
    step: str
    low_is_bad: bool
    spread: str | None
    form: str
    means: str
    side_by_side: str = ""


KINDS: Mapping[str, Kind] = {
    "compression": Kind(
        "compression",
        "compression_test",
        True,
        "compression_spread",
        "10.2 10.4 9.9 10.1 10.3 10.2 bar throttle=wide",
        "A teaspoon of oil in that bore and again: it rises, and the rings or the bore are worn; it stays, "
        "and a valve or the head gasket leaks. A leak-down says which.",
        "If they sit side by side, the gasket between them comes first.",
    ),
    "leak_down": Kind(
        "leak_down",
        "leak_down_test",
        False,
        None,
        "8 9 25 7 10 8 %",
        "Listen where it hisses: intake, inlet valve; exhaust, exhaust valve; oil filler, rings or bore; "
        "bubbles in the coolant, head gasket.",
        "If they sit side by side and each breathes through the other's plug hole, it is the gasket.",
    ),
    "speed_drop": Kind(
        "cylinder_drop",
        "cylinder_drops",
        True,
        None,
        "60 55 65 10 60 58 rpm state=idle_warm",
        "The cylinder that is missed least works least: its spark first, then its injector, then its "
        "compression.",
    ),
}


def cylinders(
    name: str,
    words: Sequence[str] = (),
    *,
    error: str | None = None,
    sure: bool = False,
    sheet: str | None = None,
    job: str | Job | None = None,
    units: str | None = None,
) -> CylindersAnswer:
    """Each cylinder's figure held against the sheet, and how far it lies from the others.

    Args:
        name: One of :data:`KINDS`.
        words: A value for each cylinder from 1 on, ``-`` for one not read, the unit once at the end, and
            conditions. Empty takes what the job has.
        error: Half-width of the gauge's error, as typed; else what such a gauge usually errs by.
        sure: The values are so, odd as they look.
    Raises:
        FieldProblem: no value, or another number of them than there are cylinders.
    """
    at = bench(sheet, job, units=units)
    kind = KINDS[name]
    check = at.known.checks[kind.check]
    read = _typed(at, check, kind, words, error, sure) if words else _of_job(at, check, kind)
    if not read:
        raise FieldProblem(name, None, "has no value yet", remedy=f"Write it like: {kind.form}")
    verdicts = {number: verdict for number, (_, verdict) in read.items()}
    first = next(iter(read.values()))[0]
    values = {number: (_number(verdict), own_u(verdict)) for number, verdict in verdicts.items()}
    spread, allowed = _spread(at, kind, values, first.unit)
    beside = apart(values, low_is_bad=kind.low_is_bad, allowed=allowed)
    worst = outstanding(beside)
    count = at.sheet.cylinders if at.sheet else max(read)
    mean = math.fsum(value for value, _ in values.values()) / len(values)
    settle = next((one.settle for one in verdicts.values() if one.settle), None)
    some = next(iter(verdicts.values()))
    lines = [_line(at, check, number, *read[number], beside.get(number)) for number in sorted(read)]
    size = {line.cylinder: line.worse.shown for line in lines if line.worse}
    return CylindersAnswer(
        **at.common(kind.step),
        notes=[*_uneven(beside, size), *_notes(kind, worst, verdicts, size, first.basis)],
        what=check.id,
        title=check.title,
        cylinders=lines,
        missing=[number for number in range(1, count + 1) if number not in read],
        limit=at.limit(some, str(check.dimension), first.unit, check.prefer),
        settle=settle if at.sheet else NO_SHEET,
        basis=first.basis,
        mean=at.figure(mean, str(check.dimension), unit=first.unit, prefer=check.prefer),
        spread=spread,
        verdict=_together(
            [*(one.verdict for one in verdicts.values()), *([spread.verdict] if spread else [])]
        ),
        stand_out=list(worst),
    )


def _typed(
    at: Bench, check: Check, kind: Kind, words: Sequence[str], error: str | None, sure: bool
) -> dict[int, tuple[Reading, Verdict]]:
    plain, pairs = split_pairs(words)
    texts = listed_amounts(plain, "values", "the line", kind.form)
    if at.sheet and len(texts) != at.sheet.cylinders:
        raise FieldProblem(
            check.id, " ".join(plain), f"holds {len(texts)} values for {at.sheet.cylinders} cylinders",
            remedy="One for each from cylinder 1 on; - for one not read",
        )  # fmt: skip
    conditions = at.conditions(check, pairs)
    found = {}
    for number, text in enumerate(texts, start=1):
        if text:
            stated = f"{text} ± {error}" if error else text
            reading = reading_from(
                check, stated, None, conditions, cylinder=number, sure=sure, system=at.units
            )
            found[number] = (reading, at.judged(reading, check))
    return found


def _of_job(at: Bench, check: Check, kind: Kind) -> dict[int, tuple[Reading, Verdict]]:
    """The newest of each cylinder that still count."""
    if at.job is None:
        raise FieldProblem(
            "values", None, "are missing", remedy=f"Write them like: {kind.form}; or add --job JOB"
        )
    return {
        one.reading.cylinder: (one.reading, one.verdict)
        for one in at.job.judged
        if one.check.id == check.id and one.stands and one.reading.cylinder is not None
    }


def _number(verdict: Verdict) -> float:
    assert isinstance(verdict.value, float)
    return verdict.value


def _spread(
    at: Bench, kind: Kind, values: Mapping[int, tuple[float, float]], unit: str
) -> tuple[SparkVerdict | None, float | None]:
    """The spread with its verdict, and the largest that is allowed."""
    if kind.spread is None or len(values) < 2:
        return None, None
    check = at.known.checks[kind.spread]
    reading = spread_reading(check, values, unit)
    verdict = at.judged(reading, check)
    return at.verdict(check, reading, verdict), verdict.high


def _line(
    at: Bench, check: Check, number: int, reading: Reading, verdict: Verdict, beside: Apart | None
) -> CylinderLine:
    dimension = str(check.dimension)
    return CylinderLine(
        cylinder=number,
        value=at.figure(
            _number(verdict), dimension, u=verdict.u, unit=reading.unit, prefer=check.prefer, dof=verdict.dof
        ),
        verdict=verdict.verdict,
        p_within=verdict.p_within,
        worse=None
        if beside is None
        else at.figure(beside.worse, dimension, u=beside.u, unit=reading.unit, prefer=check.prefer),
        p_stands_out=None if beside is None else beside.p,
    )


def _together(words: Sequence[Word]) -> Word:
    if "outside" in words:
        return "outside"
    return "within" if all(word == "within" for word in words) else "cannot_tell"


def _uneven(beside: Mapping[int, Apart], size: Mapping[int, str]) -> Iterator[str]:
    """Who differs where the sheet does not say how much may be."""
    for number, one in beside.items():
        if one.differs:
            yield (
                f"Cylinder {number} is {size[number]} worse than the middle one of the others. How uneven "
                "they may be the sheet does not say: the engine's manual decides."
            )


def _notes(
    kind: Kind, worst: Sequence[int], verdicts: Mapping[int, Verdict], size: Mapping[int, str], basis: str
) -> Iterator[str]:
    """Who stands out, what that means, and what was assumed."""
    for number in worst:
        yield f"Cylinder {number} stands out: {size[number]} worse than the middle one of the others."
    bad = list(dict.fromkeys([*worst, *(n for n, one in verdicts.items() if _is_bad(one, kind))]))
    if bad:
        yield kind.means
    if len(bad) > 1 and kind.side_by_side:
        yield kind.side_by_side
    yield from dict.fromkeys(note for one in verdicts.values() for note in one.notes if note != basis)


def _is_bad(verdict: Verdict, kind: Kind) -> bool:
    """Outside on the bad side; too good a compression speaks of carbon or of the gauge."""
    if verdict.verdict != "outside":
        return False
    value, side = _number(verdict), verdict.low if kind.low_is_bad else verdict.high
    return side is not None and (value < side if kind.low_is_bad else value > side)
