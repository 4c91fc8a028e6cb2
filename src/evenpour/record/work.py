"""The sections on work at the car: screws, corrections, overrides, put-back list, cautions, the journal."""

from __future__ import annotations

from collections.abc import Mapping

from evenpour.job.answers import HistoryLine, ScrewMove
from evenpour.measure.units import shown
from evenpour.record.asked import Answers
from evenpour.record.blocks import Block, Caution, Cell, Column, Row, Section, Table, Words, section
from evenpour.record.front_page import put_back_cell
from evenpour.record.photos import photo_words
from evenpour.record.words import direction, sentence, when

# From which side a setting was reached says on which flank of the thread the play lies.
LAST_BIT = {
    "lean": Cell("clockwise", ("from the lean side",)),
    "rich": Cell("anticlockwise", ("from the rich side",)),
}


def screws_section(asked: Answers) -> Section | None:
    """Every screw's moves, with the running total."""
    by_part: dict[str, list[ScrewMove]] = {}
    for move in asked.ledger:
        by_part.setdefault(move.part, []).append(move)
    columns = (
        Column("When", 2.4),
        Column("Turned", 2.4, "value"),
        Column("In all", 2.4, "value"),
        Column("Last bit", 1.8),
        Column("By", 1),
        Column("Note", 2.4),
    )
    return section(
        "screws",
        "Screws",
        [Table(_screw(part), columns, tuple(map(_move, moves))) for part, moves in by_part.items()],
    )


def _screw(part: str) -> str:
    return part.replace("_", " ").capitalize()


def _move(move: ScrewMove) -> Row:
    return Row(
        (
            Cell(when(move.at)),
            _turned(move.turns, move.typed),
            _turned(move.total),
            LAST_BIT[move.approach] if move.approach else Cell("–"),
            Cell(move.who),
            Cell(move.note, (f"mark: {move.mark}",) if move.mark else ()),
        )
    )


def _turned(turns: float, typed: str = "") -> Cell:
    small = (direction(turns), f"typed: {typed}" if typed else "")
    return Cell(shown(abs(turns), "angle"), tuple(filter(None, small)))


def corrections_section(asked: Answers) -> Section | None:
    """What was corrected or withdrawn: nothing entered is thrown away."""
    made = {line.entry: line for line in asked.corrections}
    rows = tuple(_corrected(line, made) for line in asked.history if line.corrected_by or line.withdrawn)
    columns = (Column("Entry", 4, struck=True), Column("What became of it", 4), Column("By, when", 2.4))
    table = Table("Entries that were corrected (as they stand now) or withdrawn", columns, rows)
    return section("corrections", "Corrected or withdrawn", [table if rows else None])


def _corrected(line: HistoryLine, made: Mapping[str, HistoryLine]) -> Row:
    found = [made[entry] for entry in line.corrected_by if entry in made]
    # A correction's words begin with the id of the entry it mends, which tells a reader nothing.
    reasons = tuple(sentence(one.words.partition(": ")[2] or one.words) for one in found)
    became = Cell("withdrawn", (sentence(line.withdrawn),)) if line.withdrawn else Cell("corrected", reasons)
    by = tuple(", ".join(filter(None, (one.who, when(one.at or one.entered)))) for one in found)
    first = Cell(sentence(line.words), (when(line.at or line.entered),))
    return Row((first, became, Cell("", by)), "replaced" if line.withdrawn else "")


def overrides_section(asked: Answers) -> Section | None:
    """Who went on without proof, and why."""
    rows = tuple(
        Row((Cell(sentence(one.says)), Cell(one.who), Cell(sentence(one.reason)), Cell(when(one.at))))
        for one in asked.overrides
    )
    columns = (
        Column("What was passed over", 4),
        Column("By", 1.2, "mark"),
        Column("Reason", 4),
        Column("When", 2.2),
    )
    table = Table("Passed over, by name and reason", columns, rows)
    return section("overrides", "Overrides", [table if rows else None])


def put_back_section(asked: Answers) -> Section:
    """The put-back list; it is said also when it is empty."""
    block: Block = Words(
        "Empty. Everything that was disconnected, removed, fitted or left in has been put back."
    )
    if asked.path.put_back:
        columns = (Column("Thing", 2.4), Column("What is left to do", 6))
        rows = tuple(
            Row((Cell(sentence(item.name).rstrip(".")), put_back_cell(item))) for item in asked.path.put_back
        )
        block = Table("Disconnected, removed, fitted or left in, and not yet put back", columns, rows)
    return Section("put-back", "Put-back list", (block,))


def cautions_section(asked: Answers) -> Section | None:
    """Every caution of this job's steps, and who read it."""
    return section(
        "cautions",
        "Cautions",
        [
            Caution(
                one.title,
                one.text,
                f"Read by {one.read_by or 'somebody unnamed'}, {when(one.read_at)}"
                if one.read_at
                else "Not read",
                one.read_at is not None,
            )
            for one in asked.cautions
        ],
    )


def journal_section(asked: Answers) -> Section | None:
    """Every entry of the journal in words, in order."""
    rows = tuple(_line(line) for line in asked.history)
    columns = (Column("When", 2.2), Column("By", 1), Column("Entry", 7, struck=True))
    table = Table("The journal, entry by entry", columns, rows)
    return section("journal", "Journal", [table if rows else None])


def _line(line: HistoryLine) -> Row:
    small = [line.note] if line.note else []
    small += [photo_words(photo) for photo in line.photos]
    small += [f"withdrawn: {line.withdrawn}"] if line.withdrawn else []
    small += ["as corrected later"] if line.corrected_by and not line.withdrawn else []
    struck = "replaced" if line.withdrawn else ""
    at = line.at or line.entered
    cells = (Cell(when(at) if at else "–"), Cell(line.who), Cell(sentence(line.words), tuple(small)))
    return Row(cells, struck)
