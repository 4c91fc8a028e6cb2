"""Plain values from TOML or JSON, each with its place in the file.

Nothing here knows what the values mean. Whoever checks them asks :meth:`Located.place` where one stands, so
that every complaint names file, line and entry.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path as FilePath
from typing import Any

from evenpour.data.toml_lines import Path, toml_lines
from evenpour.errors import FieldProblem, Place

MAX_BYTES = 20_000_000  # far above any job typed by hand; a larger file is a trace or a slip
MAX_DEPTH = 40  # tables within tables; our own forms need five

_AT_LINE = re.compile(r"\s*\(at line (\d+), column (\d+)\)$")


class Located:
    """The values of one file, and where each of them stands.

    Attributes:
        values: What the file says, as plain dicts, lists, texts, numbers, booleans and dates.
        file: The file's name as it is shown to people.
    """

    __slots__ = ("_lines", "_text", "file", "values")

    def __init__(self, values: dict[str, Any], file: str, toml: str | None = None) -> None:
        self.values = values
        self.file = file
        self._text = toml
        self._lines: dict[Path, int] | None = None

    def place(self, path: Sequence[str | int]) -> Place:
        """Where the value at *path* stands; for one that is missing, where its parent stands.

        Args:
            path: Keys and indices (from 0) from the top: ``("reading", 2, "value")``.
        """
        known = self._known(tuple(path))
        return Place(self.file, in_words(known), self._line(known))

    def _known(self, path: Path) -> Path:
        found: Any = self.values
        for depth, step in enumerate(path):
            named = isinstance(step, str) and isinstance(found, dict) and step in found
            counted = isinstance(step, int) and isinstance(found, list) and 0 <= step < len(found)
            if not (named or counted):
                return path[:depth]
            found = found[step]
        return path

    def _line(self, path: Path) -> int | None:
        if self._text is None or not path:
            return None
        if self._lines is None:  # only a file with a mistake in it pays for the second walk
            self._lines = toml_lines(self._text)
        while path and path not in self._lines:
            path = path[:-1]
        return self._lines.get(path)


def in_words(path: Sequence[str | int]) -> str:
    """``("reading", 2, "value")`` as people count: ``reading 3, value``."""
    words: list[str] = []
    for step in path:
        if isinstance(step, str):
            words.append(step)
        elif words:
            words[-1] += f" {step + 1}"
        else:
            words.append(str(step + 1))
    return ", ".join(words)


def read_toml(text: str, file: str) -> Located:
    """Reads a TOML document.

    Args:
        text: The whole document; a byte order mark in front is no fault.
        file: Its name for complaints.
    Raises:
        FieldProblem: it is no TOML (with the line), too large, too deeply nested, or holds NUL characters.
    """
    text = _sound(text, file)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        at = _AT_LINE.search(message)
        line = int(at.group(1)) if at else _opened(text, message)
        column = f" (column {at.group(2)})" if at else ""
        message = _AT_LINE.sub("", message).removesuffix(" (at end of document)")
        raise FieldProblem(
            "the file",
            None,
            f"is no valid TOML here: {message[:1].lower()}{message[1:]}{column}",
            remedy='A value is written name = "12 bar"; a name may stand once in each table.',
            place=Place(file, "", line),
        ) from None
    except RecursionError:
        raise _too_deep(file) from None
    except ValueError as error:  # a number of thousands of digits
        raise FieldProblem("the file", None, f"cannot be read: {error}", place=Place(file)) from None
    _refuse_depth(values, file)
    return Located(values, file, text)


def read_json(text: str, file: str) -> Located:
    """Reads a JSON document whose top is an object; otherwise as :func:`read_toml`."""
    text = _sound(text, file)
    try:
        values = json.loads(text, object_pairs_hook=_once_each, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        raise FieldProblem(
            "the file",
            None,
            f"is no valid JSON here: {error.msg} (column {error.colno})",
            place=Place(file, "", error.lineno),
        ) from None
    except RecursionError:
        raise _too_deep(file) from None
    except FieldProblem as problem:
        raise problem.at(Place(file)) from None
    except ValueError as error:
        raise FieldProblem("the file", None, f"cannot be read: {error}", place=Place(file)) from None
    if not isinstance(values, dict):
        raise FieldProblem(
            "the file", None, "holds no names at its top", allowed="one object, { ... }", place=Place(file)
        )
    _refuse_depth(values, file)
    return Located(values, file)


def decoded(data: bytes, file: str) -> str:
    """The text of *data*, which must be UTF-8; a byte order mark is dropped.

    Raises:
        FieldProblem: it is larger than :data:`MAX_BYTES` or not UTF-8 (with the line).
    """
    if len(data) > MAX_BYTES:
        raise _too_large(file)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FieldProblem(
            "the file",
            None,
            "is not written in UTF-8",
            remedy="Save it again from the editor with the encoding UTF-8.",
            place=Place(file, "", data.count(b"\n", 0, error.start) + 1),
        ) from None


def read_file(path: FilePath | str) -> Located:
    """Reads a file of the user's, as JSON if its name ends so and as TOML otherwise.

    Raises:
        FieldProblem: there is no such file, it is a folder, may not be read, or its content is refused.
    """
    path = FilePath(path)
    name = path.name or str(path)
    try:
        if path.is_dir():
            raise FieldProblem("the file", str(path), "is a folder")
        if path.is_file() and path.stat().st_size > MAX_BYTES:
            raise _too_large(name)
        data = path.read_bytes()
    except FileNotFoundError:
        raise FieldProblem("the file", str(path), "does not exist", remedy="Is the path right?") from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the path itself
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FieldProblem("the file", str(path), f"cannot be read: {reason}") from None
    text = decoded(data, name)
    return read_json(text, name) if path.suffix.lower() == ".json" else read_toml(text, name)


def _opened(text: str, message: str) -> int:
    """The line of the quote that is never closed, or the last one: the parser says "end of document"."""
    quote = next((quote for quote in ("'''", "'", '"""') if message.startswith(f"Expected {quote!r}")), None)
    if quote is None and message.startswith("Unterminated string"):
        quote = '"""'
    return text.count("\n", 0, text.rfind(quote) if quote else len(text)) + 1


def _sound(text: str, file: str) -> str:
    if len(text) > MAX_BYTES:
        raise _too_large(file)
    nul = text.find("\0")
    if nul >= 0:
        raise FieldProblem(
            "the file",
            None,
            "holds NUL characters, so it is no text file",
            remedy="Save it as plain text in UTF-8.",
            place=Place(file, "", text.count("\n", 0, nul) + 1),
        )
    return text.removeprefix("\ufeff")


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise FieldProblem(name, None, "stands twice in one object", remedy="Keep one of them.")
        found[name] = value
    return found


def _no_number(word: str) -> float:
    raise FieldProblem("the file", word, "is no number in JSON")


def _refuse_depth(values: Mapping[str, Any], file: str) -> None:
    level: list[Any] = [values]
    for _ in range(MAX_DEPTH):
        level = [inner for outer in level for inner in _inside(outer)]
        if not level:
            return
    raise _too_deep(file)


def _inside(value: Any) -> Iterator[Any]:
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return (item for item in inner if isinstance(item, (dict, list)))


def _too_deep(file: str) -> FieldProblem:
    return FieldProblem(
        "the file", None, "nests tables or lists too deeply", allowed=f"{MAX_DEPTH} deep", place=Place(file)
    )


def _too_large(file: str) -> FieldProblem:
    return FieldProblem(
        "the file",
        None,
        "is too large",
        allowed=f"up to {MAX_BYTES // 1_000_000} MB",
        remedy="A long recording belongs in a CSV file of its own.",
        place=Place(file),
    )
