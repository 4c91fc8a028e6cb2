"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from evenpour.errors import FieldProblem


def write_whole(target: Path, content: bytes, *, replace: bool = True) -> None:
    """Write *content* to *target* so that nobody ever finds half of it.

    Raises:
        FieldProblem: the folder is not there, cannot be written, or the file is there and may not be
        replaced.
    """
    if not replace and target.exists():
        raise FieldProblem(
            "file", str(target), "is there already", remedy="Choose another name; nothing was overwritten."
        )
    if target.is_dir():
        raise FieldProblem("file", str(target), "is a folder", remedy="Name a file in it.")
    if not target.parent.is_dir():
        raise FieldProblem(
            "file", str(target), "lies in a folder that is not there", remedy="Make the folder first."
        )
    try:
        handle, part = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
    except OSError as error:
        raise FieldProblem("file", str(target), f"cannot be written: {error.strerror}") from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.chmod(part, 0o644)
        os.replace(part, target)
    except OSError as error:
        os.unlink(part)
        raise FieldProblem("file", str(target), f"cannot be written: {error.strerror}") from error
