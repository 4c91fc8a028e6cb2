"""Writing the record to a file: all of it or nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from evenpour.errors import FieldProblem
from evenpour.job.writing_files import check_target, write_whole
from evenpour.record.blocks import Record


def _pdf(record: Record) -> bytes:
    from evenpour.record.pdf import pdf_of

    return pdf_of(record)


def _html(record: Record) -> bytes:
    from evenpour.record.html import html_of

    return html_of(record).encode()


ENDINGS: Mapping[str, Callable[[Record], bytes]] = {".pdf": _pdf, ".html": _html}


def check_place(path: Path) -> None:
    """Refuse a place that could not be written to, before any work is done.

    Raises:
        FieldProblem: an ending that is neither .pdf nor .html, no such folder, or a folder's name.
    """
    if path.suffix.lower() not in ENDINGS:
        raise FieldProblem(
            "output",
            str(path),
            "is no kind of file the record can be",
            allowed=" or ".join(ENDINGS),
            remedy=f"Write for instance: -o {path.stem or 'record'}.pdf",
        )
    check_target(path)


def write_record(record: Record, path: Path) -> None:
    """Set *record* and write it to *path*, as its ending says: all of it or nothing.

    Raises:
        FieldProblem: the place cannot be written to.
    """
    check_place(path)
    write_whole(path, ENDINGS[path.suffix.lower()](record))
