"""Writing the record to a file: all of it or nothing."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from evenpour.errors import FieldProblem
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
    if path.is_dir():
        raise FieldProblem("output", str(path), "is a folder", remedy="Name a file in it")
    if not path.parent.is_dir():
        remedy = f"Make {path.parent} first"
        raise FieldProblem("output", str(path), "lies in a folder that is not there", remedy=remedy)


def write_record(record: Record, path: Path) -> None:
    """Set *record* and write it to *path*, as its ending says.

    The file is written beside its place and then moved there: there is the old one, or the whole new one.

    Raises:
        FieldProblem: the place cannot be written to.
    """
    check_place(path)
    made = ENDINGS[path.suffix.lower()](record)
    try:
        _replace(path, made)
    except OSError as fault:
        raise FieldProblem(
            "output",
            str(path),
            f"cannot be written ({fault.strerror or fault})",
            remedy="Choose another place, or free this one",
        ) from fault


def _replace(path: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(0o666 & ~_umask())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def _umask() -> int:
    """The process's mask for new files, which mkstemp passes over."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
