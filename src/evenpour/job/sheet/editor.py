"""A sheet of one's own, edited section by section: checked as a whole, saved whole or not at all."""

from __future__ import annotations

import hashlib
import threading
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from evenpour import data
from evenpour.errors import FieldProblem, Place, Problems, Refused, unknown
from evenpour.job.catalogue import catalogue
from evenpour.job.sheet.edit import Key, changed
from evenpour.job.sheet.fields import Form, Row, Wrong, changes_in, name_of, row_of
from evenpour.job.sheet.found import form as sheet_form
from evenpour.job.sheet.found import own_sheets, sheet_text
from evenpour.job.sheet.sections import Section, sections
from evenpour.job.writing_files import write_whole
from evenpour.machine.sheet import NOT_CHECKED, sheet_from

HEAD, MORE, FURTHER = "The engine and what is fitted", "Not on this sheet yet", "A further limit"
ANYBODYS = (
    "the engine's own manual",
    "measured on this car",
    "typical value, common practice, no source",
)
_saving = threading.Lock()  # one at a time, so that nobody writes over what another has just saved
_PART = "\x1f"


@dataclass(frozen=True, slots=True)
class OwnSheet:
    """A sheet of one's own as its file stands now. ``stamp`` changes with every character of it."""

    name: str
    text: str
    plain: Mapping[str, Any]
    stamp: str

    @property
    def sources(self) -> Mapping[str, Any]:
        """The words for its short codes."""
        found = self.plain.get("sources")
        return found if isinstance(found, Mapping) else {}

    @property
    def title(self) -> str:
        """Its title; its name where it has none."""
        return str(self.plain.get("title") or self.name)


@dataclass(frozen=True, slots=True)
class Attempt:
    """What a form would make of a sheet: the new text, how much changes, and what is wrong with it.

    ``elsewhere`` is what is wrong on the sheet but was so before and is not asked on this form.
    """

    text: str
    count: int
    wrong: tuple[Wrong, ...]
    elsewhere: tuple[FieldProblem, ...]


def is_own(name: str) -> bool:
    """Whether a sheet of one's own has that name; shipped names are not taken by them."""
    return name in own_sheets() and name not in data.sheet_names()


def own_sheet(name: str) -> OwnSheet:
    """One's own sheet of that name.

    Raises:
        FieldProblem: there is none, or its file is no TOML.
    """
    if not is_own(name):
        raise unknown("sheet", name, own_sheets(), kind="sheet of your own", listed_by="evenpour sheet list")
    text, file = sheet_text(name)
    plain = data.read_toml(text, file).values
    return OwnSheet(name, text, plain, hashlib.sha256(text.encode()).hexdigest()[:16])


def parts(sheet: OwnSheet) -> tuple[Section, ...]:
    """The sections in which it is edited: what is fitted first, what it does not state yet last."""
    own = sections(sheet.text, sheet.plain)
    devices = tuple(("devices", name) for name in sheet_form().devices)
    head = Section(HEAD, (("title",), ("notice",), *devices))
    rest = tuple(part for part in own if part.keys[0][0] != "devices")
    values = sheet.plain.get("values", {})
    fitted = sheet.plain.get("devices", {})
    missing: tuple[Key, ...] = tuple(
        ("values", name)
        for name, kind in sheet_form().values.items()
        if name not in values and (kind.only is None or fitted.get(kind.only) is True)
    )
    more = (Section(MORE, missing),) if missing else ()
    return (head, *rest, *more, Section(FURTHER, (("limit", len(sheet.plain.get("limit", []))),)))


def rows(sheet: OwnSheet, part: Section, check: str = "") -> tuple[Row, ...]:
    """What is asked of a section; *check* is what a further limit is of."""
    found = []
    for key in part.keys:
        stated = _stated(sheet.plain, key)
        if stated is None and key[0] == "limit":
            if check not in catalogue().checks:
                continue
            row = row_of(key, {"check": check}, sheet.sources)
            found.append(replace(row, stated={"check": check}, may_go=False))
        else:
            found.append(row_of(key, stated, sheet.sources))
    return tuple(found)


def checks() -> tuple[tuple[str, str], ...]:
    """Every check that a limit may be of, and its title."""
    return tuple((one.id, one.title) for one in catalogue().checks.values())


def attempt(sheet: OwnSheet, asked: tuple[Row, ...], form: Form) -> Attempt:
    """What *form* makes of the sheet; nothing is written."""
    changes, wrong = changes_in(form, asked, sheet.sources)
    text = changed(sheet.text, changes) if changes else sheet.text
    fields = _fields(asked)
    before = {_same(key, problem) for key, problem in mistakes(sheet.plain)}
    elsewhere = []
    for key, problem in mistakes(tomllib.loads(text.removeprefix("\ufeff"))):
        ways = (key, (*key[:1], problem.field), key[:2])
        field = next((fields[path] for path in map(_path, ways) if path in fields), None)
        if field is not None:
            title, name = field
            wrong.append((_at(name, problem), _plainly(problem, title)))
        elif _same(key, problem) in before:
            elsewhere.append(problem)
        else:
            wrong.append(("", problem))
    return Attempt(text, len(changes), tuple(wrong), tuple(elsewhere))


def mistakes(plain: Mapping[str, Any]) -> list[tuple[Key, FieldProblem]]:
    """Everything that is wrong with a sheet, and where: the same that ``evenpour sheet check`` finds."""
    known = catalogue()
    try:
        sheet_from(plain, sheet_form(), known.checks, known.kinds, _coded)
    except Problems as problems:
        return [
            (_key(problem.place), _bare(problem))
            for problem in problems.all
            if isinstance(problem, FieldProblem)
        ]
    return []


def save(sheet: OwnSheet, new: Attempt, stamp: str) -> None:
    """Write what was attempted, if the file is still the one that was looked at.

    Raises:
        Refused: it was changed meanwhile.
        FieldProblem: the file cannot be written.
    """
    with _saving:
        if stamp != own_sheet(sheet.name).stamp or stamp != sheet.stamp:
            raise Refused(
                "The sheet was changed meanwhile, on another device or in its file.",
                ["What you typed is still here: look through it, and save again."],
            )
        write_whole(own_sheets()[sheet.name], new.text.encode())


def sources_used(sheet: OwnSheet) -> tuple[str, ...]:
    """The sources this sheet names so far, in words, and those that anybody may name."""
    values, limits = sheet.plain.get("values", {}), sheet.plain.get("limit", [])
    stated = [*(values.values() if isinstance(values, Mapping) else ()), *limits]
    named = [str(one["source"]) for one in stated if isinstance(one, Mapping) and "source" in one]
    words = [str(sheet.sources.get(one, one)) for one in named]
    own = sorted({one for one in words if NOT_CHECKED not in one})
    return tuple(dict.fromkeys((*own, *ANYBODYS)))


def waiting(sheet: OwnSheet, part: Section) -> int:
    """How many of a section still stand as they were copied."""
    return sum(row.unchecked for row in rows(sheet, part))


def _stated(plain: Mapping[str, Any], key: Key) -> Any:
    found: Any = plain
    for step in key:
        if isinstance(found, list) and isinstance(step, int):
            found = found[step] if step < len(found) else None
        else:
            found = found.get(step) if isinstance(found, Mapping) else None
    return found


def _coded(path: Sequence[str | int]) -> Place:
    return Place(path=_path(path))


def _path(steps: Sequence[str | int]) -> str:
    return _PART.join(str(one) for one in steps)


def _key(place: Place | None) -> Key:
    steps = place.path.split(_PART) if place else []
    return tuple(int(one) if one.isdigit() else one for one in steps)


def _bare(problem: FieldProblem) -> FieldProblem:
    return problem.at(Place())


def _same(key: Key, problem: FieldProblem) -> tuple[str, str]:
    return name_of(key), str(problem)


def _fields(asked: tuple[Row, ...]) -> dict[str, tuple[str, str]]:
    """Title and input by the path at which a problem stands."""
    found: dict[str, tuple[str, str]] = {}
    for row in asked:
        path = _path(row.key)
        found[path] = (row.title, row.inputs[0].name if row.inputs else row.id)
        for one in row.inputs:
            if row.key[0] == "limit":
                found[f"{path}{_PART}{one.name.rpartition('.')[2]}"] = (
                    f"{row.title}: {one.label.lower()}",
                    one.name,
                )
        found[f"{path}{_PART}source"] = (f"{row.title}: where it is from", f"{row.id}-source")
    return found


def _at(name: str, problem: FieldProblem) -> str:
    """The input of a value's source, where it is the source that is wrong."""
    return f"{name}-source" if problem.field.endswith(", source") else name


def _plainly(problem: FieldProblem, title: str) -> FieldProblem:
    """The problem in the words of a form: its title, and nothing on how a file is written."""
    if problem.trouble == "has two limits for the same conditions":
        return FieldProblem(
            title, None, "has a limit for the same conditions already",
            remedy="Change that one; or choose below when alone this one holds.",
        )  # fmt: skip
    remedy = "" if problem.remedy.startswith("Write ") else problem.remedy
    return type(problem)(title, problem.value, problem.trouble, allowed=problem.allowed, remedy=remedy)
