"""Sheets, parts, steps, checks and cautions as TOML that a mechanic can read, and the one reader for them."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import resources
from importlib.resources.abc import Traversable

from evenpour.data.located import Located, decoded, read_file, read_json, read_toml
from evenpour.errors import unknown

__all__ = [
    "Located",
    "decoded",
    "read_file",
    "read_json",
    "read_toml",
    "sheet_names",
    "shipped",
    "shipped_names",
    "shipped_text",
]


def shipped(name: str) -> Located:
    """The shipped file *name*: ``"checks.toml"``, ``"sheets/flat-six.toml"``.

    Raises:
        UnknownName: no such file is shipped.
    """
    return read_toml(shipped_text(name), name)


def shipped_text(name: str) -> str:
    """The text of the shipped file *name*, as it stands."""
    files = dict(_files())
    if name not in files:
        raise unknown("shipped file", name, files, kind="shipped file")
    return decoded(files[name].read_bytes(), name)


def shipped_names() -> tuple[str, ...]:
    """The names of all shipped TOML files, sorted."""
    return tuple(sorted(name for name, _ in _files()))


def sheet_names() -> tuple[str, ...]:
    """The ids of the shipped engine sheets, sorted: ``("flat-six", "flat-six-oxygen", ...)``."""
    return tuple(
        name.removeprefix("sheets/").removesuffix(".toml")
        for name in shipped_names()
        if name.startswith("sheets/")
    )


def _files() -> Iterator[tuple[str, Traversable]]:
    root = resources.files(__name__)
    for prefix, folder in (("", root), ("sheets/", root / "sheets")):
        if folder.is_dir():
            for file in folder.iterdir():
                if file.name.endswith(".toml"):
                    yield f"{prefix}{file.name}", file
