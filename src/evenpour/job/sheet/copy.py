"""A sheet of one's own, started from another: every value kept, and marked as not yet checked.

The text is changed in place, so that its comments and its order stay, and the owner replaces value by value
from the engine's manual. What comes out is read again and compared with what was meant: a text too odd to be
changed safely is refused, never spoilt.
"""

from __future__ import annotations

import copy
import json
import re
import tomllib
from collections.abc import Mapping
from typing import Any

from evenpour.errors import FieldProblem
from evenpour.machine.sheet import NOT_CHECKED

COPIED, MANUAL = "copied", "manual"  # the short codes of sources in a copy
MANUAL_WORDS = "the engine's own manual"

LONGEST_ID = 60
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_STRING = r"\"(?:\\.|[^\"\\\n])*\"|'[^'\n]*'"
_SOURCE = re.compile(rf"(?<![\w.-])(source\s*=\s*)(?:{_STRING})")
_TABLE = re.compile(r"^[ \t]*\[", re.MULTILINE)
_SOURCES = re.compile(r"^[ \t]*\[[ \t]*sources[ \t]*\][^\n]*\n?", re.MULTILINE)


def copied(text: str, new_id: str, *, title: str | None = None) -> str:
    """The text of a new sheet made from *text*.

    Args:
        text: A sheet's whole TOML text, one that can be read.
        new_id: The new sheet's id.
        title: Its title; the old one stays if none is given.
    Returns:
        TOML. Every value and limit has the source ``"from SHEET, not yet checked against the manual"``.
    Raises:
        FieldProblem: the id will not do, or the text cannot be changed safely.
    """
    if not _ID.fullmatch(new_id) or len(new_id) > LONGEST_ID:
        allowed = f"small letters, digits, single hyphens, {LONGEST_ID} in all at most"
        raise FieldProblem("id", new_id, "is no short name", allowed=allowed)
    plain = tomllib.loads(text.removeprefix("\ufeff"))
    old_id = str(plain["id"])
    if new_id == old_id:
        raise FieldProblem(
            "id", new_id, "is the id of the sheet copied", remedy="Give the copy a name of its own"
        )
    sources = {COPIED: f"from {old_id}, {NOT_CHECKED}", MANUAL: MANUAL_WORDS}
    changed = _changed(text.removeprefix("\ufeff").replace("\r\n", "\n"), new_id, title, sources)
    try:
        right = tomllib.loads(changed) == _meant(plain, new_id, title, sources)
    except tomllib.TOMLDecodeError:
        right = False
    if not right:
        raise FieldProblem(
            "the sheet", old_id, "is written in a way that cannot be copied safely",
            remedy='Write each source as source = "..." on the line of its value, and id at the top',
        )  # fmt: skip
    return _heading(old_id) + changed


def _heading(old_id: str) -> str:
    return (
        f"# Copied from {old_id}. Put in the figures of the engine's own manual one by one, and with each\n"
        f'# source = "{MANUAL}", or better in words: source = "manual, page 12".\n\n'
    )


def _changed(text: str, new_id: str, title: str | None, sources: Mapping[str, str]) -> str:
    first_table = _TABLE.search(text)
    cut = first_table.start() if first_table else len(text)
    head, rest = text[:cut], text[cut:]
    head = _with_text(head, "id", new_id)
    if title is not None:
        head = _with_text(head, "title", title)
    rest = _SOURCE.sub(lambda match: f'{match[1]}"{COPIED}"', rest)
    listed = "[sources]\n" + "".join(f"{code} = {_quoted(words)}\n" for code, words in sources.items()) + "\n"
    found = _SOURCES.search(rest)
    if found is None:
        return head + listed + rest
    following = _TABLE.search(rest, found.end())
    return head + rest[: found.start()] + listed + (rest[following.start() :] if following else "")


def _with_text(head: str, name: str, value: str) -> str:
    line = re.compile(rf"^([ \t]*{name}[ \t]*=[ \t]*)(?:{_STRING})", re.MULTILINE)
    return line.sub(lambda match: match[1] + _quoted(value), head, count=1)


def _quoted(text: str) -> str:
    """A TOML basic string; JSON's escapes are a part of TOML's, but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _meant(
    plain: Mapping[str, Any], new_id: str, title: str | None, sources: Mapping[str, str]
) -> dict[str, Any]:
    meant = copy.deepcopy(dict(plain))
    meant["id"] = new_id
    if title is not None:
        meant["title"] = title
    meant["sources"] = dict(sources)
    for stated in [*meant.get("values", {}).values(), *meant.get("limit", [])]:
        if "source" in stated:
            stated["source"] = COPIED
    return meant
