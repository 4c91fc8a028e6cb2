"""The last sections: the sheet, the instruments, and what the record itself is good for."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour import __version__
from evenpour.job.sheet.answers import SheetLine
from evenpour.record.asked import Answers
from evenpour.record.blocks import Caution, Cell, Column, Row, Section, Signature, Table, Words, section
from evenpour.record.words import sentence

LAST_CAUTION = (
    "This record tells what was read and done; it is no permit to drive. The engine's manual decides on "
    "every figure and step, local codes on fuel, waste and emissions, and where the law asks for it, work on "
    "fuel, ignition and exhaust belongs in licensed hands."
)
CHAIN = (
    "Each entry of the journal carries a hash over its content and over the hash before it. The last of them "
    "stands here. Whoever holds an export of this job can check that nothing was changed after: the export "
    "must end in the same hash."
)


def sheet_section(asked: Answers) -> Section | None:
    """The sheet the readings were held against: values and limits, each with where it comes from."""
    return section(
        "sheet",
        "The engine's sheet",
        [
            Words(f"{asked.sheet.title} ({asked.sheet.sheet}). {sentence(asked.sheet.notice)}"),
            _lines("Limits", "Limit", asked.sheet.limits),
            _lines("Values", "Value", asked.sheet.values),
        ],
    )


def _lines(caption: str, heading: str, lines: Sequence[SheetLine]) -> Table | None:
    columns = (Column("What", 2.8), Column(heading, 2.9), Column("Where it comes from", 4.3))
    rows = tuple(
        Row((Cell(line.title[:1].upper() + line.title[1:]), Cell(line.shown), Cell("", (line.source,))))
        for line in lines
    )
    return Table(f"{caption} on the sheet", columns, rows) if rows else None


def instruments_section(asked: Answers) -> Section | None:
    """What was measured with, and how far each can be trusted."""
    dates = asked.calibrations
    rows = tuple(
        Row((Cell(name), Cell(sentence(basis), (sentence(dates[name]),) if name in dates else ())))
        for name, basis in asked.instruments
    )
    columns = (Column("Instrument", 2), Column("What its uncertainty rests on", 6))
    table = Table("Instruments and their uncertainty", columns, rows)
    return section("instruments", "Instruments", [table if rows else None])


def about_section(asked: Answers) -> Section:
    """Version, the hash that vouches for the journal, a place to sign, and who decides."""
    chain = (Words(CHAIN), Words(f"Last hash of the journal: {asked.chain_head}"))
    return Section(
        "about",
        "This record",
        (
            Words(f"Made by evenpour {__version__} from the journal of {_job(asked)}."),
            *(chain if asked.chain_head else ()),
            Caution("Who decides", LAST_CAUTION, "", True),
            Signature(("Name", "Signature", "Place and date")),
        ),
    )


def _job(asked: Answers) -> str:
    return f"the job “{asked.name}”" if asked.number is None else f"job {asked.number}, “{asked.name}”"
