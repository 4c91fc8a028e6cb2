"""Answers kept as files, each under a name that says all it depends on.

So nothing has to be thrown away when something changes: it is asked for under another name. Files that nobody
asked for longest go first, and the folder may be emptied at any time.
"""

from __future__ import annotations

import hashlib
from contextlib import suppress
from functools import cache
from pathlib import Path

from evenpour.errors import FieldProblem
from evenpour.job.places import home
from evenpour.job.writing_files import write_whole

#: Folders whose code and data answers come from.
SOURCES = ("physics", "measure", "machine", "causes", "path", "data", "job")


def folder() -> Path:
    """Where the answers are kept; it may be emptied at any time."""
    return home() / "answers"


@cache
def model_stamp() -> str:
    """What changes with the model's code or its data."""
    root = Path(__file__).parents[1]
    found = hashlib.sha256()
    for source in SOURCES:
        for path in sorted((root / source).rglob("*")):
            if path.suffix in (".py", ".toml"):
                told = path.stat()
                found.update(f"{path.relative_to(root)} {told.st_size} {told.st_mtime_ns}\n".encode())
    return found.hexdigest()


def found_file(kind: str, key: str) -> bytes | None:
    """What was kept under that name; None if nothing was, or it cannot be read."""
    path = _path(kind, key)
    try:
        content = path.read_bytes()
    except OSError:
        return None
    with suppress(OSError):
        path.touch()  # asked for lately
    return content


def keep_file(kind: str, key: str, content: bytes, most: int) -> None:
    """Keep it if it can be kept, and *most* of its kind: on a full or a locked disk nothing is the worse."""
    path = _path(kind, key)
    with suppress(OSError, FieldProblem):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)
        held = list(path.parent.glob(f"{kind}-*.json"))
        if len(held) > most:
            for old in sorted(held, key=_asked)[: len(held) - most]:
                old.unlink(missing_ok=True)


def _path(kind: str, key: str) -> Path:
    return folder() / f"{kind}-{key}.json"


def _asked(path: Path) -> float:
    """When it was asked for last; one that went away meanwhile is oldest."""
    try:
        return path.stat().st_mtime
    except OSError:
        return float("-inf")
