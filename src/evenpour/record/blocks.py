"""What a page of the record is made of: one content, from which both the PDF and the HTML are set.

A block says what something is (a table of readings, a caution), never how it looks. Texts are ready to print:
rounded, with their units, in the user's system.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Cell:
    """One field of a table: its text, and below it what explains it, in small type."""

    text: str = ""
    small: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, its share of the width, what it carries, and if a replaced row is struck in it.

    ``kind`` is "words"; "value" (large figures); "number" (figures, aligned right); "mark" (bold words); or
    "verdict" (bold words, the small type beside them).
    """

    title: str
    share: float = 1.0
    kind: str = "words"
    struck: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table. The first cell is its heading."""

    cells: tuple[Cell, ...]
    state: str = ""  # "loud" (outside, stale), "replaced" (struck through), or nothing


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headings; the caption says what they are."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    block: str = "table"


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph; ``small`` for what explains."""

    text: str
    small: bool = False
    block: str = "words"


@dataclass(frozen=True, slots=True)
class Points:
    """Sentences one under the other, each with what belongs to it in small type."""

    title: str
    items: tuple[Cell, ...]
    loud: bool = False
    block: str = "points"


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing as SVG, what it shows in words for those who cannot see it, and its caption."""

    svg: str
    alt: str
    caption: str
    block: str = "figure"


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt, and who read it. Set apart from everything else."""

    title: str
    text: str
    read: str
    is_read: bool
    block: str = "caution"


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading below that of the section."""

    text: str
    block: str = "heading"


@dataclass(frozen=True, slots=True)
class Signature:
    """Lines to write on by hand."""

    lines: tuple[str, ...]
    block: str = "signature"


Block = Table | Words | Points | Figure | Caution | Heading | Signature


@dataclass(frozen=True, slots=True)
class Section:
    """A numbered part of the record; it has at least one block."""

    id: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class FrontPage:
    """The first page: what the car is, and where the job stands."""

    car: str
    engine: str
    facts: tuple[tuple[str, str], ...]  # label and words
    status: str  # "Handed over", "Not finished" ...
    sentence: str
    loud: bool
    blocks: tuple[Block, ...]
    notice: str


@dataclass(frozen=True, slots=True)
class Record:
    """The whole printed record of one job.

    ``seconds`` is the job's last moment as seconds since 1970: the only time a file made of this may carry,
    so that the same job always gives the same bytes.
    """

    title: str
    running: str  # what every page says of the job
    standing: str  # the status, for the foot of every page
    front: FrontPage
    sections: tuple[Section, ...]
    seconds: int
    version: str


# Units as they are typed, and the signs of print for them.
_SIGNS = {"degC": "°C", "degF": "°F", "kohm": "kΩ", "ohm": "Ω", " deg": "°"}
_TYPED_SIGN = re.compile(r"(?<=[\d /])(?:degC|degF|kohm|ohm)\b|(?<=\d) deg\b")
# A minus as it is typed, before a figure and behind nothing that it could join to it.
_TYPED_MINUS = re.compile(r"(?<![\w.,:/)-])-(?=\.?\d)")
# A figure and its unit stay on one line.
_UNIT = re.compile(
    r"(?<=\d) (?=(?:±|%|bar|mbar|kPa|psi|ml|cl|l|US|imp|fl|g|kg|oz|s|min|h|d|V|A|mA|Ω|kΩ|°"
    r"|mm|cm|in|turns?|clicks?|rpm|ppm|km|miles)(?![a-z]))|(?<=[±≤≥]) (?=\d)|(?<=lambda) (?=\d)"
    r"|(?<=US|mp) (?=fl)|(?<=fl) (?=oz)"
)


def plain(value: Any) -> Any:
    """The record, or a part of it, as lists, texts and dicts by field; no unit is torn from its figure."""
    if isinstance(value, str):
        value = _TYPED_SIGN.sub(lambda found: _SIGNS[found[0]], value)
        return _UNIT.sub("\u00a0", _TYPED_MINUS.sub("−", value))
    if is_dataclass(value) and not isinstance(value, type):
        parts = {one.name: getattr(value, one.name) for one in fields(value)}
        return {name: part if name == "svg" else plain(part) for name, part in parts.items()}
    if isinstance(value, (tuple, list)):
        return [plain(one) for one in value]
    if isinstance(value, Mapping):
        return {key: plain(one) for key, one in value.items()}
    return value


def section(id: str, title: str, blocks: Iterable[Block | None]) -> Section | None:
    """A section, or ``None`` where there is nothing to say."""
    there = tuple(block for block in blocks if block is not None)
    return Section(id, title, there) if there else None
