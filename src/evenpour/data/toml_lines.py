"""On which line each value of a TOML text stands.

The parser of the standard library gives values without their places. This walks the same text once more,
knowing only as much of TOML as is needed to skip strings, arrays and inline tables correctly. The text must
already have been accepted by ``tomllib``: nothing is validated twice.
"""

from __future__ import annotations

import bisect
import re
import tomllib

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\n]|#[^\n]*)*")  # white space, line ends and comments
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRINGS = {
    # Up to two quotes may stand before the closing three.
    '"""': re.compile(r'"""(?:\\.|[^\\])*?"{3,5}', re.DOTALL),
    "'''": re.compile(r"'''.*?'{3,5}", re.DOTALL),
    '"': re.compile(r'"(?:\\.|[^"\\\n])*"'),
    "'": re.compile(r"'[^'\n]*'"),
}
# Numbers, booleans and dates; a date and its time may be parted by a space.
_SCALAR = re.compile(r"[^,\]}#\n]+")


def toml_lines(text: str) -> dict[Path, int]:
    """Line, counted from 1, of every table, key and array element in *text*.

    Args:
        text: A valid TOML document.
    Returns:
        Line by path; ``("reading", 2, "value")`` is the key ``value`` of the third ``[[reading]]``.
    """
    return _Walk(text.replace("\r\n", "\n")).lines


class _Walk:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self._ends = [match.start() for match in re.finditer("\n", text)]
        self._last: dict[Path, int] = {}  # array of tables -> index of its newest table
        self._document()

    def _document(self) -> None:
        table: Path = ()
        self._skip(_BLANK)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip(_BLANK)

    def _header(self) -> Path:
        line = self._line()
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        *parents, name = self._key()
        self.at = self.text.index("]", self.at) + (2 if many else 1)
        path: Path = ()
        for parent in parents:
            path += (parent,)
            self.lines.setdefault(path, line)
            if path in self._last:
                path += (self._last[path],)
        path += (name,)
        self.lines.setdefault(path, line)
        if many:
            self._last[path] = self._last.get(path, -1) + 1
            path += (self._last[path],)
            self.lines[path] = line
        return path

    def _pair(self, table: Path) -> None:
        line = self._line()
        path = table
        for name in self._key():
            path += (name,)
            self.lines.setdefault(path, line)
        self.at = self.text.index("=", self.at) + 1
        self._value(path)

    def _key(self) -> list[str]:
        names = []
        while True:
            self._skip(_SPACE)
            quote = self.text[self.at]
            if quote in "\"'":
                token = self._take(_STRINGS[quote])
                names.append(str(tomllib.loads(f"k = {token}")["k"]))
            else:
                names.append(self._take(_BARE_KEY))
            self._skip(_SPACE)
            if self.text[self.at] != ".":
                return names
            self.at += 1

    def _value(self, path: Path) -> None:
        self._skip(_SPACE)
        start = self.text[self.at]
        if start == "[":
            self._array(path)
        elif start == "{":
            self._inline_table(path)
        elif start in "\"'":
            thrice = self.text[self.at : self.at + 3]
            self._skip(_STRINGS[thrice if thrice == 3 * start else start])
        else:
            self._skip(_SCALAR)

    def _array(self, path: Path) -> None:
        self.at += 1
        index = 0
        while True:
            self._skip(_BLANK)
            if self.text[self.at] == "]":
                break
            self.lines[(*path, index)] = self._line()
            self._value((*path, index))
            index += 1
            self._comma()
        self.at += 1

    def _inline_table(self, path: Path) -> None:
        self.at += 1
        while True:
            self._skip(_BLANK)
            if self.text[self.at] == "}":
                break
            self._pair(path)
            self._comma()
        self.at += 1

    def _comma(self) -> None:
        self._skip(_BLANK)
        if self.text[self.at] == ",":
            self.at += 1

    def _line(self) -> int:
        return bisect.bisect_left(self._ends, self.at) + 1

    def _take(self, pattern: re.Pattern[str]) -> str:
        start = self.at
        self._skip(pattern)
        return self.text[start : self.at]

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        if match is not None:
            self.at = match.end()
