"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from evenpour.errors import FieldProblem


def check_target(target: Path, *, replace: bool = True) -> None:
    """Refuse a place that could not be written to, before any work is done.

    Raises:
        FieldProblem: a folder's name, a folder that is not there, or a file that may not be replaced.
    """
    try:
        folder = target.is_dir()
    except OSError as fault:  # a name longer than the disk takes
        raise _unwritable(target, fault) from fault
    if folder:
        raise FieldProblem("file", str(target), "is a folder", remedy="Name a file in it")
    if not target.parent.is_dir():
        remedy = "Make the folder first"
        raise FieldProblem("file", str(target), "lies in a folder that is not there", remedy=remedy)
    if not replace and target.exists():
        remedy = "Choose another name; nothing was overwritten"
        raise FieldProblem("file", str(target), "is there already", remedy=remedy)


def write_whole(target: Path, content: bytes, *, replace: bool = True) -> None:
    """Write *content* beside *target* and move it there: there is the old file, or the whole new one.

    Raises:
        FieldProblem: the place cannot be written to; see :func:`check_target`.
    """
    check_target(target, replace=replace)
    try:
        _moved_there(target, content)
    except OSError as fault:
        raise _unwritable(target, fault) from fault


def _unwritable(target: Path, fault: OSError) -> FieldProblem:
    return FieldProblem(
        "file",
        str(target),
        f"cannot be written ({fault.strerror or fault})",
        remedy="Choose another place, or free this one",
    )


def _moved_there(target: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(0o666 & ~_umask())
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)


def _umask() -> int:
    """The process's mask for new files, which mkstemp passes over."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
