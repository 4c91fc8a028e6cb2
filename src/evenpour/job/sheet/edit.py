"""A sheet's text changed in place: the lines of what changes are written anew, all others stay as they are.

Comments, order and everything that no form shows survive. What comes out is read again and compared with what
was meant: a text too odd to be changed safely is refused, never spoilt.
"""

from __future__ import annotations

import copy
import json
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from evenpour.data.toml_lines import Path, toml_lines
from evenpour.errors import FieldProblem

Key = tuple[str | int, ...]
"""What stands on a sheet: ``("title",)``, ``("devices", "catalyst")``, ``("values", "dwell")``,
``("limit", 3)``."""
Changes = Mapping[Key, Any]
"""What shall stand there: a plain value or table; ``None`` takes it out."""

_ORDER = ("check", "when", "low", "high", "allowed", "depends", "asks", "source", "note")


def changed(text: str, changes: Changes) -> str:
    """The text of a sheet with *changes* in it.

    Args:
        text: A sheet's whole TOML text.
        changes: Only what differs. A limit beyond the last one is written at the end.
    Raises:
        FieldProblem: the text cannot be changed safely.
    """
    old = text.removeprefix("\ufeff").replace("\r\n", "\n")
    plain = tomllib.loads(old)
    new = _Lines(old, plain).with_changes(changes)
    try:
        right = tomllib.loads(new) == _meant(plain, changes)
    except tomllib.TOMLDecodeError:
        right = False
    if not right:
        raise FieldProblem(
            "the sheet", str(plain.get("id", "")), "is written in a way that cannot be changed safely here",
            remedy="Edit its file, each value on a line of its own",
        )  # fmt: skip
    return new.replace("\n", "\r\n") if "\r\n" in text else new


def statement_end(lines: Sequence[str], start: int) -> tuple[int, str]:
    """Where the statement that begins on line *start* ends (the line behind it), and the comment it ends in.

    Returns:
        Index and comment; the comment with the blanks before it, empty where there is none.
    """
    for end in range(start + 1, len(lines) + 1):
        if _reads("\n".join(lines[start:end])):
            last = lines[end - 1]
            head = "\n".join(lines[start : end - 1])
            for place in (place for place, sign in enumerate(last) if sign == "#"):
                if _reads(f"{head}\n{last[:place]}"):
                    bare = last[:place].rstrip()
                    return end, last[len(bare) :]
            return end, ""
    return start + 1, ""


class _Lines:
    """The lines of a text, and where each thing stands (counted from 0)."""

    def __init__(self, text: str, plain: Mapping[str, Any]) -> None:
        self.lines = text.split("\n")
        self.plain = plain
        self.at: dict[Path, int] = {path: line - 1 for path, line in toml_lines(text).items()}
        self.edits: list[tuple[int, int, list[str]]] = []

    def with_changes(self, changes: Changes) -> str:
        for key, value in changes.items():
            if key[0] == "limit":
                self._limit(key, value)
            else:
                self._statement(key, value, after=self._last_of(key[:-1]))
        # Of two things put in at one place, the one meant first stands first.
        numbered = [(start, end, number, lines) for number, (start, end, lines) in enumerate(self.edits)]
        for start, end, _, lines in sorted(numbered, reverse=True):
            self.lines[start:end] = lines
        return "\n".join(self.lines)

    def _statement(self, key: Key, value: Any, *, after: int) -> None:
        start = self.at.get(key)
        if start is None:
            if value is not None:
                self.edits.append((after, after, [f"{key[-1]} = {_toml(value)}"]))
            return
        end, comment = statement_end(self.lines, start)
        indent = self.lines[start][: len(self.lines[start]) - len(self.lines[start].lstrip())]
        written = [] if value is None else [f"{indent}{key[-1]} = {_toml(value)}{comment}"]
        self.edits.append((start, end, written))

    def _last_of(self, table: Key) -> int:
        """The line behind the last statement of a table; the top of the file ends before its first table."""
        within = [
            line for path, line in self.at.items() if path[:-1] == table and len(path) == len(table) + 1
        ]
        if not table:
            within = [line for path, line in self.at.items() if path in (("id",), ("title",), ("notice",))]
        if within:
            return statement_end(self.lines, max(within))[0]
        return self.at[table] + 1 if table in self.at else len(self.lines)

    def _limit(self, key: Key, table: Mapping[str, Any] | None) -> None:
        if key not in self.at:
            if table is not None:
                written = [f"{name} = {_toml(table[name])}" for name in _ORDER if name in table]
                end = len(self.lines)
                while end and not self.lines[end - 1].strip():
                    end -= 1
                self.edits.append((end, len(self.lines), ["", "[[limit]]", *written, ""]))
            return
        if table is None:
            end = self._last_of(key)
            while end < len(self.lines) and not self.lines[end].strip():
                end += 1
            self.edits.append((self.at[key], end, []))
            return
        before = self.plain["limit"][key[1]]
        for name in _ORDER:
            if before.get(name) != table.get(name):
                self._statement((*key, name), table.get(name), after=self._before(key, name))

    def _before(self, key: Key, name: str) -> int:
        """Where a new line *name* of a limit belongs: behind the last of those that stand before it."""
        earlier = [
            self.at[path] for path in ((*key, one) for one in _ORDER[: _ORDER.index(name)]) if path in self.at
        ]
        return statement_end(self.lines, max(earlier))[0] if earlier else self.at[key] + 1


def _reads(text: str) -> bool:
    try:
        return bool(tomllib.loads(text))
    except tomllib.TOMLDecodeError:
        return False


def _meant(plain: Mapping[str, Any], changes: Changes) -> dict[str, Any]:
    meant = copy.deepcopy(dict(plain))
    gone = []
    for key, value in changes.items():
        if key[0] == "limit":
            limits, place = meant.setdefault("limit", []), int(key[1])
            if value is None:
                gone.append(place)
            else:
                limits[place : place + 1] = [value]
            continue
        table = meant if len(key) == 1 else meant.setdefault(str(key[0]), {})
        if value is None:
            table.pop(str(key[-1]), None)
        else:
            table[str(key[-1])] = value
    for place in sorted(gone, reverse=True):
        del meant["limit"][place]
    return meant


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{name} = {_toml(inner)}" for name, inner in value.items()) + " }"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_toml(one) for one in value)}]"
    if isinstance(value, int | float):
        return repr(value)
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


__all__ = ["Changes", "Key", "changed", "statement_end"]
