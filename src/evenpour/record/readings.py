"""The section on readings: value and doubt, verdict, limit and its source, and what a newer reading replaced."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour.job.answers import JudgedReading
from evenpour.record.asked import Answers
from evenpour.record.blocks import Cell, Column, Row, Section, Table, Words, section
from evenpour.record.words import VERDICTS, conditions, named, sentence, signs, sureness, when

_EXPLAINED = (
    "Behind ± stands the expanded uncertainty (k = 2: about 95 %). A reading is within when the chance that the true "
    "value meets the limit is 95 % or more, outside when it is 5 % or less; anything between cannot tell."
)
_COLUMNS = (
    Column("Reading", 3.1),
    Column("Value", 2.5, "value"),
    Column("Verdict", 2.3, "mark"),
    Column("Limit, and where it comes from", 3.1),
)


def readings_section(asked: Answers) -> Section | None:
    """Every reading, in order; one that a newer one replaced stands struck through, and says so."""
    readings = asked.judge.readings
    if not readings:
        return None
    rows = tuple(_row(reading, readings) for reading in readings)
    table = Table("Every reading with its verdict", _COLUMNS, rows)
    return section("readings", "Readings", [Words(_EXPLAINED, small=True), table])


def _row(reading: JudgedReading, all_of_them: Sequence[JudgedReading]) -> Row:
    state = "replaced" if not reading.stands else "loud" if reading.verdict == "outside" else ""
    return Row((_what(reading), _value(reading), _verdict(reading, all_of_them), _limit(reading)), state)


def _what(reading: JudgedReading) -> Cell:
    small = [when(reading.at)] if reading.at else []
    if reading.conditions:
        small.append(conditions(reading.conditions))
    small += [*reading.comments, *(f"photo: {photo}" for photo in reading.photos)]
    return Cell(named(reading), tuple(small))


def _value(reading: JudgedReading) -> Cell:
    typed = ", ".join(signs(text) for text in reading.typed)
    if reading.n > 1:
        return Cell(reading.shown, (f"mean of {reading.n}: {typed}",))
    return Cell(reading.shown, (f"read: {typed}",) if typed and typed != reading.shown else ())


def _verdict(reading: JudgedReading, all_of_them: Sequence[JudgedReading]) -> Cell:
    sure = "" if isinstance(reading.value, str) else sureness(reading.verdict, reading.p_within)
    small = [sure] if sure else []
    if not reading.stands:
        return Cell(f"replaced, was {VERDICTS[reading.verdict]}", (*small, _replaced_by(reading, all_of_them)))
    if reading.settle:
        small.append(sentence(reading.settle))
    return Cell(VERDICTS[reading.verdict], tuple(small))


def _replaced_by(reading: JudgedReading, all_of_them: Sequence[JudgedReading]) -> str:
    newer = [
        other
        for other in all_of_them
        if other.stands and other.what == reading.what and other.cylinder == reading.cylinder
    ]
    return f"A newer reading counts: {newer[-1].shown}, {when(newer[-1].at)}." if newer else "A newer one counts."


def _limit(reading: JudgedReading) -> Cell:
    gauge = f"{reading.instrument}: {reading.basis}" if reading.instrument else reading.basis
    notes = [sentence(note) for note in reading.notes if note != reading.basis]
    small = [*([sentence(gauge)] if gauge else []), *notes]
    if reading.limit is None:
        return Cell("no limit to hold it against", tuple(small))
    source = [f"source: {reading.limit.source}"] if reading.limit.source else []
    return Cell(reading.limit.words, (*source, *small))
