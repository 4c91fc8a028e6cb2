"""The columns of a file as arrays: in pieces, so that millions of rows take little room, and no row lost in
silence.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import FieldProblem, Place, Problems
from evenpour.job.trace.clock import seconds_of
from evenpour.job.trace.layout import NO_VALUE, Layout, cells_of, is_empty, is_figure

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]
"""Told how many bytes are read, and of how many."""

BLOCK = 1 << 22  # bytes read at a time
FEW = 4 * BLOCK  # bytes read by one thread: others would hardly begin before it ends
SKIPPED_SHARE = 0.01  # of the rows; more that do not fit, and it is another kind of file
LISTED = 3  # lines that a message names one by one


@dataclass(frozen=True, slots=True)
class Table:
    """What was read.

    Attributes:
        values: By number of the column, from 1; seconds for a clock; nan where nothing was read.
        rows: How many there are.
        skipped: Text and line of rows that do not have the file's number of columns.
        sha256: Of the whole file.
        first_line, last_line: Between which lines of the file they stand.
    """

    values: Mapping[int, Array]
    rows: int
    skipped: tuple[tuple[int | None, str], ...]
    sha256: str
    first_line: int
    last_line: int


def read_table(
    path: Path,
    layout: Layout,
    columns: Mapping[int, str],
    *,
    lines: tuple[int, int] | None = None,
    missing: Sequence[str] = (),
    progress: Progress | None = None,
) -> Table:
    """The asked columns of a file.

    Args:
        columns: By number, from 1: "figure", or how a time of day is meant (see ``trace_clock``).
        lines: First and last line that count, as an editor numbers them.
        missing: Further words that stand where nothing was read.
    Raises:
        Problems: cells that are no figures, each column with the first such line.
        FieldProblem: too many rows of another width.
    """
    first, last = _span(layout, lines)
    with ThreadPoolExecutor(1) as beside:
        digest: Future[str] = beside.submit(_sha256, path)
        source = _Lines(path, layout, first, last, progress)
        pieces: dict[int, list[Array]] = {number: [] for number in columns}
        skipped: list[str] = []
        try:
            for batch in _batches(source, layout, columns, missing, skipped):
                for place, (number, kind) in enumerate(columns.items()):
                    cells = batch.column(place)
                    found = (
                        seconds_of(cells, kind) if kind != "figure" else cells.to_numpy(zero_copy_only=False)
                    )
                    pieces[number].append(found)
        except _NoFigure:
            raise Problems(_no_figures(path, layout, columns, first, last, missing)) from None
        finally:
            source.close()
        values = {number: np.concatenate(parts) if parts else np.empty(0) for number, parts in pieces.items()}
        rows = len(next(iter(values.values()))) if values else 0
        if len(skipped) > max(LISTED, SKIPPED_SHARE * rows):
            raise _too_ragged(path, layout, skipped, rows)
        return Table(
            values=values,
            rows=rows,
            skipped=tuple((line_of_text(path, text), text) for text in skipped[:LISTED])
            + tuple((None, text) for text in skipped[LISTED:]),
            sha256=digest.result(),
            first_line=first,
            last_line=source.last_seen,
        )


def line_of(path: Path, layout: Layout, first: int, row: int) -> int:
    """The line of the file on which a row (from 0, counted from line *first* on) stands."""
    seen = -1
    for number, cells in _plain_rows(path, layout, first):
        seen += len(cells) == layout.width
        if seen == row:
            return number
    return first + row


class _NoFigure(Exception):
    """A cell could not be read; which, the careful reading finds out."""


def _span(layout: Layout, lines: tuple[int, int] | None) -> tuple[int, int | None]:
    if lines is None:
        return layout.first_line, None
    first, last = lines
    if last < first:
        raise FieldProblem("rows", f"{first}-{last}", "run backwards", allowed="first line, then last")
    return max(first, layout.first_line), last


def _batches(
    source: _Lines, layout: Layout, columns: Mapping[int, str], missing: Sequence[str], skipped: list[str]
) -> Iterator[Any]:
    import pyarrow as pa  # type: ignore[import-untyped]
    from pyarrow import csv

    names = [str(number) for number in range(1, layout.width + 1)]

    def odd(row: Any) -> str:
        if row.text.strip():
            skipped.append(row.text)
        return "skip"

    kinds = {
        str(number): pa.float64() if kind == "figure" else pa.string() for number, kind in columns.items()
    }
    words = {*NO_VALUE, *missing}
    try:
        with csv.open_csv(
            pa.PythonFile(source, mode="r"),
            csv.ReadOptions(
                column_names=names, block_size=BLOCK, encoding="utf8", use_threads=source.size > FEW
            ),
            csv.ParseOptions(delimiter=layout.delimiter, invalid_row_handler=odd),
            csv.ConvertOptions(
                column_types=kinds,
                include_columns=list(kinds),
                null_values=[
                    *words,
                    *(word.upper() for word in words),
                    *(word.title() for word in words),
                    "NaN",
                ],
                strings_can_be_null=True,
                decimal_point=layout.decimal,
                check_utf8=False,
            ),
        ) as reader:
            yield from reader
    except pa.ArrowInvalid as fault:
        if "Empty CSV file" in str(fault):
            return
        raise _NoFigure from fault


class _Lines:
    """The file's bytes from one line to another, as something that can be read from."""

    closed = False

    def __init__(
        self, path: Path, layout: Layout, first: int, last: int | None, progress: Progress | None
    ) -> None:
        self.file, self.size = _opened(path, layout)
        self.progress, self.mark = progress, layout.newline
        self.before = first - 1  # lines still to be passed over
        self.left = None if last is None else last - first + 1
        self.last_seen = first - 1
        self.open_end = False

    def read(self, size: int = -1) -> bytes:
        """Bytes of the lines asked for; none at their end."""
        part = b""
        while not part and self.left != 0:
            block = self.file.read(BLOCK if size < 0 else size)
            if self.progress is not None:
                self.progress(self.file.tell(), self.size)
            if not block:
                self.last_seen += self.open_end
                self.open_end = False
                return b""
            part = self._of_the_lines(block)
        return part

    def _of_the_lines(self, block: bytes) -> bytes:
        start = 0
        while self.before:
            place = block.find(self.mark, start)
            if place < 0:
                return b""
            start, self.before = place + 1, self.before - 1
        part = block[start:]
        many = part.count(self.mark)
        if self.left is not None:
            end = len(part)
            if many >= self.left:
                end = -1
                for _ in range(self.left):
                    end = part.find(self.mark, end + 1)
                many, end = self.left, end + 1
            part, self.left = part[:end], self.left - many
        self.last_seen += many
        self.open_end = bool(part) and not part.endswith(self.mark)
        return part

    def close(self) -> None:
        """Let go of the file."""
        self.closed = True
        self.file.close()

    def readable(self) -> bool:
        """It is."""
        return True


def _opened(path: Path, layout: Layout) -> tuple[BinaryIO, int]:
    """The file in letters of one byte, columns parted by one sign, and its size.

    Only a file in wide letters, or with runs of blanks, is taken in whole for that.
    """
    if layout.encoding != "utf-16" and layout.delimiter != " ":
        return path.open("rb"), path.stat().st_size
    text = path.read_bytes().decode(layout.encoding, errors="replace")
    if layout.delimiter == " ":
        mark = layout.newline.decode()
        text = mark.join(" ".join(line.split()) for line in text.split(mark))
    content = text.encode()
    return io.BytesIO(content), len(content)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _plain_rows(
    path: Path, layout: Layout, first: int, last: int | None = None
) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every line that holds any; slow, for what a message must name."""
    source = _opened(path, layout)[0]
    with io.TextIOWrapper(
        source, encoding="utf-8", errors="replace", newline=layout.newline.decode()
    ) as lines:
        for number, line in enumerate(lines, start=1):
            if number >= first and line.strip() and (last is None or number <= last):
                yield number, cells_of(line.strip("\r\n"), layout.delimiter)


def _no_figures(
    path: Path,
    layout: Layout,
    columns: Mapping[int, str],
    first: int,
    last: int | None,
    missing: Sequence[str],
) -> list[FieldProblem]:
    """Of each column the first cell that is no figure."""
    found: dict[int, FieldProblem] = {}
    words = {word.lower() for word in missing}
    for number, cells in _plain_rows(path, layout, first, last):
        if len(cells) != layout.width:
            continue
        for column, kind in columns.items():
            cell = cells[column - 1]
            if column in found or kind != "figure" or is_empty(cell) or cell.strip().lower() in words:
                continue
            if not is_figure(cell, layout.decimal):
                place = Place(layout.file, f"column {column}", number)
                found[column] = FieldProblem(
                    layout.names[column - 1] or f"column {column}",
                    cell,
                    "is no number",
                    remedy=f'Mend the line; or, if it stands where nothing was read, say --missing "{cell}"',
                    place=place,
                )
        if len(found) == len(columns):
            break
    return list(found.values())


def _too_ragged(path: Path, layout: Layout, skipped: Sequence[str], rows: int) -> FieldProblem:
    line = line_of_text(path, skipped[0])
    return FieldProblem(
        "file",
        layout.file,
        f"has {len(skipped)} of {len(skipped) + rows} lines that do not hold {layout.width} columns",
        remedy="Are two tables in one file? --rows A-B takes one of them",
        place=Place(layout.file, line=line),
    )


def line_of_text(path: Path, text: str) -> int | None:
    """The first line of the file that holds *text*; ``None`` where it is written otherwise there."""
    wanted, number = text.strip().encode(), 1
    with path.open("rb") as file:
        for line in file:
            if line.strip() == wanted:
                return number
            number += 1
    return None
