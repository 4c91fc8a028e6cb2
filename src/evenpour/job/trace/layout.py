"""How a file of columns is written: letters, delimiter, decimal mark, heads, units, and where figures begin.

Nothing is taken from the language of the heads. A way of cutting the lines is right when it leaves figures in
columns; what stands above the first line of figures is heads, and a row of units among them is known by its
units.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evenpour.errors import FieldProblem, Place
from evenpour.measure.unit_table import units_named

HEAD = 1 << 18  # bytes that are looked at
LOOKED_AT = 400  # lines of figures from which the way of cutting is told
DELIMITERS = (";", "\t", ",", "|", " ")
MOST_HEADS = 3
BROKEN = re.compile(r"0\d+")  # "2,045" cut in two
SOME = 0.01  # of the cells
NO_VALUE = ("", "-", "--", "---", "----", "nan", "n/a", "na", "null", "none", "#n/a", "#nv", "?")
"""What loggers write where nothing was read, in small letters."""

FIGURE = {
    mark: re.compile(rf"\s*[+\-]?(\d+([{mark}]\d*)?|[{mark}]\d+)([eE][+\-]?\d+)?\s*", re.ASCII)
    for mark in ".,"
}
CLOCK = re.compile(
    r"\s*(\S+[ T])?\d{1,3}:\d{2}(:\d{2}([.,]\d+)?)?\s*([AaPp]\.?[Mm]\.?)?\s*(Z|[+\-]\d\d:?\d\d)?\s*"
)
DATE = re.compile(r"\s*(\d{4}[-./]\d{1,2}[-./]\d{1,2}|\d{1,2}[-./]\d{1,2}[-./]\d{2,4})\s*")


@dataclass(frozen=True, slots=True)
class Layout:
    """How a file is written.

    Attributes:
        first_line: The first line of figures, counted from 1.
        names: Heads of the columns, "" where there is none.
        units: What the row of units says, "" where it says nothing or there is none.
        rows: Cells of some lines of figures from its beginning and its end.
    """

    file: str
    encoding: str
    newline: bytes
    delimiter: str
    decimal: str
    first_line: int
    names: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.names)


def layout_of(path: Path) -> Layout:
    """Find out how a file is written.

    Raises:
        FieldProblem: it is not there, no text, or holds no columns of figures.
    """
    head = _head(path)
    encoding = _encoding(head, path.name)
    text = _text(head, encoding)
    newline = "\n" if "\n" in text else "\r"
    lines = text.split(newline)
    if len(head) == HEAD:
        lines = lines[:-1]  # cut in the middle
    lines = [line.rstrip("\r") for line in lines]
    delimiter, decimal, width = _way_of_cutting(lines, path.name)
    cut = [cells_of(line, delimiter) for line in lines]
    first = _first_of_figures(cut, width, decimal)
    if delimiter == "," and _is_decimal_too(cut[:first], cut[first:], width):
        raise FieldProblem(
            "file", path.name,
            f"has commas both between columns and, it seems, inside figures: {lines[first]!r}",
            remedy="Export it with semicolons between columns, or with decimal points",
            place=Place(path.name, "commas", first + 1),
        )  # fmt: skip
    names, units = _heads(cut[:first], width)
    told = [*cut[first:], *(cells_of(line, delimiter) for line in _last_lines(path, encoding, len(head)))]
    return Layout(
        file=path.name,
        encoding=encoding,
        newline=newline.encode(),
        delimiter=delimiter,
        decimal=decimal,
        first_line=first + 1,
        names=names,
        units=units,
        rows=tuple(tuple(cells) for cells in told if len(cells) == width and any(cells)),
    )


def is_figure(cell: str, decimal: str) -> bool:
    """Whether a cell holds a number with this decimal mark."""
    return FIGURE[decimal].fullmatch(cell) is not None


def is_clock(cell: str) -> bool:
    """Whether a cell holds a time of day, with or without a date."""
    return CLOCK.fullmatch(cell) is not None


def is_empty(cell: str) -> bool:
    """Whether a cell says that nothing was read."""
    return cell.strip().lower() in NO_VALUE


def _head(path: Path) -> bytes:
    if path.is_dir():
        raise FieldProblem("file", str(path), "is a folder", remedy="Name the file in it")
    try:
        with path.open("rb") as file:
            head = file.read(HEAD)
    except FileNotFoundError:
        raise FieldProblem("file", str(path), "is not there", remedy="Is the path right?") from None
    except OSError as fault:
        raise FieldProblem("file", str(path), f"cannot be read ({fault.strerror or fault})") from fault
    if not head.strip():
        raise FieldProblem("file", path.name, "is empty")
    return head


def _last_lines(path: Path, encoding: str, seen: int) -> list[str]:
    """Some lines from the end of a file that is longer than what was *seen* of it."""
    rest = path.stat().st_size - seen
    if rest <= 0 or encoding == "utf-16":
        return []
    with path.open("rb") as file:
        file.seek(-min(rest, HEAD // 4), 2)
        return file.read().decode(encoding, errors="replace").splitlines()[1:]


def _encoding(head: bytes, name: str) -> str:
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if b"\0" in head:
        sheet = head.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0"))
        remedy = "Save it as CSV first" if sheet else "Export the log as CSV, or as text with columns"
        raise FieldProblem("file", name, "is no text", remedy=remedy)
    if head.startswith(b"PK\x03\x04"):
        raise FieldProblem("file", name, "is no text", remedy="Unpack it, or save the table as CSV first")
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "latin-1"  # any byte is a letter in it; figures are the same in all of them
    return "utf-8"


def _text(head: bytes, encoding: str) -> str:
    return codecs.getincrementaldecoder(encoding)(errors="replace").decode(head)


def cells_of(line: str, delimiter: str) -> list[str]:
    """The cells of a line."""
    if delimiter == " ":
        return line.split()
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error:
        return []  # a field without an end, or a return within the line: no columns here


def _way_of_cutting(lines: Sequence[str], name: str) -> tuple[str, str, int]:
    """Delimiter, decimal mark and number of columns that leave most figures in most lines."""
    there = [line for line in lines if line.strip()]
    told = there[max(0, len(there) - LOOKED_AT) :]
    best: tuple[float, str, str, int] = (0.0, "", "", 0)
    for delimiter in DELIMITERS:
        cut = [cells_of(line, delimiter) for line in told]
        width, many = max(Counter(map(len, cut)).items(), key=lambda each: each[1], default=(0, 0))
        if width < 2:
            continue
        body = [cell for cells in cut if len(cells) == width for cell in cells if not is_empty(cell)]
        for decimal in (".", ","):
            good = sum(
                is_figure(cell, decimal) or is_clock(cell) or bool(DATE.fullmatch(cell)) for cell in body
            )
            score = many / len(told) * good / max(1, len(body))
            if score > best[0] + 1e-9:
                best = (score, delimiter, decimal, width)
    if best[0] < 0.3:
        raise FieldProblem(
            "file",
            name,
            "holds no columns of figures",
            allowed="text with a time and at least one reading in every line",
            remedy="Export it as CSV",
        )
    return best[1:]


def _first_of_figures(cut: Sequence[Sequence[str]], width: int, decimal: str) -> int:
    """The first line that holds figures, as does the next: a unit or a serial number is no figure."""

    def holds(cells: Sequence[str]) -> bool:
        full = [cell for cell in cells if not is_empty(cell)]
        good = sum(is_figure(cell, decimal) or is_clock(cell) for cell in full)
        return len(cells) == width and bool(full) and good >= max(1.0, 0.5 * len(full))

    there = [number for number, cells in enumerate(cut) if any(cells)]
    for number, following in zip(there, [*there[1:], there[-1]], strict=True):
        if holds(cut[number]) and holds(cut[following]):
            return number
    return there[0]


def _is_decimal_too(above: Sequence[Sequence[str]], body: Sequence[Sequence[str]], width: int) -> bool:
    """Whether commas look like decimal marks as well: no point anywhere, and heads for fewer columns, or
    cells such as 045 that are the end of a figure.
    """
    cells = [cell for row in body if len(row) == width for cell in row if not is_empty(cell)]
    if width < 3 or any("." in cell for cell in cells):
        return False
    heads = next((len(row) for row in reversed(above) if len(row) > 1 and any(row)), width)
    broken = sum(BROKEN.fullmatch(cell) is not None for cell in cells)
    return heads < width <= 2 * heads or broken > SOME * len(cells)


def _heads(above: Sequence[Sequence[str]], width: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names and units from the rows right above the figures."""
    rows: list[list[str]] = []
    for cells in reversed(above):
        if not any(cells):
            if rows:
                break
            continue
        if abs(len(cells) - width) > 1 or len(rows) == MOST_HEADS:
            break
        rows.insert(0, [*cells, ""][:width] if len(cells) < width else list(cells[:width]))
    units = [""] * width
    if len(rows) > 1:
        shares = [_units_share(row) for row in rows]
        best = max(range(1, len(rows)), key=lambda row: shares[row])
        if shares[best] >= 0.5:
            units = [cell.strip("[](){}<> ") for cell in rows.pop(best)]
    names = (
        [" ".join(dict.fromkeys(filter(None, column))) for column in zip(*rows, strict=True)] if rows else []
    )
    return tuple(names or [""] * width), tuple(units)


def _units_share(row: Sequence[str]) -> float:
    full = [cell.strip("[](){}<> ") for cell in row if cell.strip("[](){}<>- ")]
    return sum(bool(units_named(cell)) for cell in full) / len(full) if full else 0.0
