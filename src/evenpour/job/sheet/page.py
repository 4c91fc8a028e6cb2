"""A sheet to be looked at: every value and limit in its section, and where each comes from."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass

from evenpour import data
from evenpour.errors import unknown
from evenpour.job.sheet.editor import is_own
from evenpour.job.sheet.found import Listed, form, listed, own_sheets, sheet_answer_of, sheet_text
from evenpour.job.sheet.sections import sections
from evenpour.machine.sheet import NOT_CHECKED, Sheet


@dataclass(frozen=True, slots=True)
class SheetLineShown:
    """A value or limit; ``mark`` is the number of its source in the margin."""

    title: str
    shown: str
    mark: int
    note: str
    unchecked: bool


@dataclass(frozen=True, slots=True)
class SheetPart:
    """A section of a sheet. ``sources`` are those of its lines, each with its mark."""

    title: str
    lines: tuple[SheetLineShown, ...]
    sources: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class SheetShown:
    """A whole sheet, told. ``waiting`` of ``count`` values and limits stand as they were copied."""

    name: str
    title: str
    notice: str
    own: bool
    cylinders: int
    fitted: tuple[str, ...]
    missing: tuple[str, ...]
    parts: tuple[SheetPart, ...]
    count: int
    waiting: int


def in_the_book(name: str) -> str:
    """The name of a sheet that is shipped or one's own: a page opens no file by its path.

    Raises:
        FieldProblem: there is no such sheet.
    """
    known = [*data.sheet_names(), *own_sheets()]
    if name not in known:
        raise unknown("sheet", name, known, kind="sheet", listed_by="evenpour sheet list")
    return name


def book_of_sheets() -> tuple[tuple[Listed, ...], tuple[Listed, ...]]:
    """The shipped sheets, and one's own."""
    shipped = data.sheet_names()
    found = listed()
    own = tuple(one for one in found if one.name not in shipped)
    return tuple(one for one in found if one.name in shipped), own


def sheet_shown(sheet: Sheet, name: str, system: str) -> SheetShown:
    """The sheet *name*, read as *sheet*, in the user's units."""
    text, _ = sheet_text(name)
    plain = tomllib.loads(text.removeprefix("\ufeff"))
    answer = sheet_answer_of(sheet, system)
    values = {line.name: line for line in answer.values}
    marks: dict[str, int] = {}
    parts = []
    for part in sections(text, plain):
        if part.keys[0][0] == "devices":
            continue
        lines = [
            values[str(key[1])] if key[0] == "values" else answer.limits[int(key[1])] for key in part.keys
        ]
        shown = tuple(
            SheetLineShown(
                title=f"{one.title[:1].upper()}{one.title[1:]}",
                shown=one.shown,
                mark=marks.setdefault(one.origin, len(marks) + 1),
                note=one.note,
                unchecked=NOT_CHECKED in one.origin,
            )
            for one in lines
        )
        used = {line.mark for line in shown}
        sources = tuple((mark, words) for words, mark in marks.items() if mark in used)
        parts.append(SheetPart(part.title, shown, sources))
    everything = [line for part in parts for line in part.lines]
    devices = form().devices
    return SheetShown(
        name=name,
        title=sheet.title,
        notice=sheet.notice,
        own=is_own(name),
        cylinders=sheet.cylinders,
        fitted=tuple(kind.title for one, kind in devices.items() if one in sheet.devices),
        missing=tuple(kind.title for one, kind in devices.items() if one not in sheet.devices),
        parts=tuple(parts),
        count=len(everything),
        waiting=sum(line.unchecked for line in everything),
    )
