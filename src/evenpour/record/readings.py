"""The section on readings: value and doubt, verdict, limit and its source, and what replaced what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise

from evenpour.job.answers import JudgedReading
from evenpour.job.condition_words import stated_words
from evenpour.record.asked import Answers
from evenpour.record.blocks import Cell, Column, Row, Section, Table, Words, section
from evenpour.record.photos import photo_words
from evenpour.record.words import VERDICTS, cylinders, sentence, span, sureness, when

_EXPLAINED = (
    "Behind ± stands the doubt: about 19 times in 20 the true value lies that close or closer. A reading is "
    "within when the chance that the true value meets the limit is 95 % or more, outside when it is 5 % or "
    "less; between, it cannot tell."
)
_COLUMNS = (
    Column("Reading", 2.9, struck=True),
    Column("Value", 2.4, "value", struck=True),
    Column("Verdict", 2.0, "mark"),
    Column("Limit, and where it comes from", 3.6),
)


def readings_section(asked: Answers) -> Section | None:
    """Every reading, in order; one that a newer one replaced stands struck through, and says so."""
    readings = asked.judge.readings
    if not readings:
        return None
    listed, general = dict(asked.instruments), _general(readings)
    rows = _limits_once([_row(group, readings, listed, general) for group in _alike(readings)])
    table = Table("Every reading with its verdict", _COLUMNS, rows)
    everywhere = f"Unless a reading says otherwise: {stated_words(general)}." if general else ""
    explained = [Words(words, small=True) for words in (_EXPLAINED, everywhere) if words]
    return section("readings", "Readings", [*explained, table])


def _general(readings: Sequence[JudgedReading]) -> dict[str, str]:
    """The conditions most readings share, which are said once."""
    count = Counter(stated for reading in readings for stated in reading.conditions.items())
    return {name: text for (name, text), times in count.items() if times >= max(3, len(readings) // 2)}


def _limits_once(rows: Sequence[Row]) -> tuple[Row, ...]:
    """Source and gauge, where they are those of the row above, are said by reference; the limit stands."""
    found: list[Row] = []
    for before, row in pairwise((None, *rows)):
        assert row is not None
        last = row.cells[-1]
        if before is not None and before.cells[-1] == last and len(last.small) > 1:
            last = Cell(last.text, ("source and gauge as above",))
        found.append(Row((*row.cells[:-1], last), row.state))
    return tuple(found)


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


def _row(
    group: Sequence[JudgedReading],
    readings: Sequence[JudgedReading],
    instruments: Mapping[str, str],
    general: Mapping[str, str],
) -> Row:
    reading = group[0]
    state = "replaced" if not reading.stands else "loud" if reading.verdict == "outside" else ""
    cells = (
        _what(group, general),
        _value(reading),
        _verdict(reading, readings),
        _limit(reading, instruments),
    )
    return Row(cells, state)


def _what(group: Sequence[JudgedReading], general: Mapping[str, str]) -> Cell:
    reading = group[0]
    times = [one.at for one in group if one.at]
    small = [span(times)] if times else []
    own = {name: text for name, text in reading.conditions.items() if general.get(name) != text}
    if own:
        small.append(stated_words(own))
    small += [*reading.comments, *map(photo_words, reading.photos)]
    which = cylinders(one.cylinder for one in group)
    return Cell(f"{reading.title}, {which}" if which else reading.title, tuple(small))


def _value(reading: JudgedReading) -> Cell:
    typed = ", ".join(text for text in reading.typed)
    if reading.n > 1:
        return Cell(reading.shown, (f"mean of {reading.n}: {typed}",))
    if len(reading.typed) > 1:
        return Cell(reading.shown, (f"worked out from {typed}",))
    again = isinstance(reading.value, str) or not typed or _figure(typed) == _figure(reading.shown)
    return Cell(reading.shown, () if again else (f"read: {typed}",))


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
        newer = None if reading.overtaken == "part_changed" else _newer(reading, all_of_them)
        if newer is None:
            return Cell("no longer counts", (was, "What was read has been changed since."))
        return Cell("replaced", (was, f"A newer reading counts: {newer.shown}, {when(newer.at)}."))
    if reading.settle:
        small.append(sentence(reading.settle))
    return Cell(VERDICTS[reading.verdict], tuple(small))


def _newer(reading: JudgedReading, all_of_them: Sequence[JudgedReading]) -> JudgedReading | None:
    """The reading that took its place."""
    later = all_of_them[all_of_them.index(reading) + 1 :]
    same = [
        one for one in later if one.what == reading.what and one.cylinder == reading.cylinder and one.stands
    ]
    return same[-1] if same else None


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
