"""The section on readings: value and doubt, verdict, limit and its source, and what a newer reading replaced."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from evenpour.job.answers import JudgedReading
from evenpour.record.asked import Answers
from evenpour.record.blocks import Cell, Column, Row, Section, Table, Words, section
from evenpour.record.words import VERDICTS, conditions, cylinders, sentence, signs, sureness, when

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
    listed = dict(asked.instruments)
    rows = tuple(_row(group, readings, listed) for group in _alike(readings))
    table = Table("Every reading with its verdict", _COLUMNS, rows)
    return section("readings", "Readings", [Words(_EXPLAINED, small=True), table])


def _alike(readings: Sequence[JudgedReading]) -> list[list[JudgedReading]]:
    """Readings, each by itself; but the same choice found at one cylinder after the other goes in one row."""
    groups: list[list[JudgedReading]] = []
    for reading in readings:
        if groups and isinstance(reading.value, str) and _same(groups[-1][-1]) == _same(reading):
            groups[-1].append(reading)
        else:
            groups.append([reading])
    return groups


def _same(reading: JudgedReading) -> dict[str, object]:
    day_only = {"at": (reading.at or "")[:10]}
    return reading.model_dump(exclude={"cylinder", "entries", "typed", "at"}) | day_only


def _row(group: Sequence[JudgedReading], readings: Sequence[JudgedReading], instruments: Mapping[str, str]) -> Row:
    reading = group[0]
    state = "replaced" if not reading.stands else "loud" if reading.verdict == "outside" else ""
    cells = (_what(group), _value(reading), _verdict(reading, readings), _limit(reading, instruments))
    return Row(cells, state)


def _what(group: Sequence[JudgedReading]) -> Cell:
    reading = group[0]
    times = list(dict.fromkeys(when(one.at) for one in group if one.at))
    small = [" to ".join((times[0], times[-1])) if len(times) > 1 else times[0]] if times else []
    if reading.conditions:
        small.append(conditions(reading.conditions))
    small += [*reading.comments, *(f"photo: {photo}" for photo in reading.photos)]
    which = cylinders(one.cylinder for one in group)
    return Cell(f"{reading.title}, {which}" if which else reading.title, tuple(small))


def _value(reading: JudgedReading) -> Cell:
    typed = ", ".join(signs(text) for text in reading.typed)
    if reading.n > 1:
        return Cell(signs(reading.shown), (f"mean of {reading.n}: {typed}",))
    again = isinstance(reading.value, str) or not typed or _figure(typed) == _figure(reading.shown)
    return Cell(signs(reading.shown), () if again else (f"read: {typed}",))


def _figure(text: str) -> tuple[str, str]:
    """Figure and unit of ``3.30 ± 0.08 bar`` and of ``3.3 bar``: both ("3.3", "bar")."""
    number, _, unit = text.replace(",", ".").partition(" ")
    trimmed = number.rstrip("0").rstrip(".") if "." in number else number
    return trimmed, unit.rpartition("±")[2].strip().rpartition(" ")[2] if "±" in unit else unit


def _verdict(reading: JudgedReading, all_of_them: Sequence[JudgedReading]) -> Cell:
    sure = "" if isinstance(reading.value, str) else sureness(reading.verdict, reading.p_within)
    small = [sure] if sure else []
    if not reading.stands:
        was = ", ".join((f"was {VERDICTS[reading.verdict]}", *small))
        return Cell("replaced", (was, _replaced_by(reading, all_of_them)))
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


def _limit(reading: JudgedReading, instruments: Mapping[str, str]) -> Cell:
    # What is said of an instrument in its own section is not said again at every reading.
    own = reading.basis if reading.basis != instruments.get(reading.instrument or "") else ""
    gauge = ": ".join(filter(None, (reading.instrument and f"measured with {reading.instrument}", own)))
    notes = [sentence(note) for note in reading.notes if note != reading.basis]
    small = [*([sentence(gauge)] if gauge else []), *notes]
    if reading.limit is None:
        return Cell("no limit to hold it against", tuple(small))
    source = [f"source: {reading.limit.source}"] if reading.limit.source else []
    return Cell(reading.limit.words, (*source, *small))
