"""Where sheets are found: shipped ones, one's own in the user's folder, or a file by its path."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from evenpour import data
from evenpour.errors import FieldProblem, Problem, unknown
from evenpour.job.catalogue import catalogue
from evenpour.job.history import sheet_answer
from evenpour.job.places import home
from evenpour.job.sheet.answers import SheetAnswer
from evenpour.job.sheet.copy import copied
from evenpour.job.writing_files import write_whole
from evenpour.machine.sheet import Sheet, sheet_from
from evenpour.machine.sheet_form import SheetForm, sheet_form
from evenpour.measure.checks import Check, ConditionKind

ENDING = ".toml"


@cache
def form() -> SheetForm:
    """What a sheet may state."""
    return sheet_form(data.shipped("sheet_values.toml").values)


def sheet_folder() -> Path:
    """The folder of one's own sheets."""
    return home() / "sheets"


def sheet_read(located: data.Located) -> Sheet:
    """A sheet from its file.

    Raises:
        Problems: everything that is wrong with it.
    """
    known = catalogue()
    return sheet_from(located.values, form(), known.checks, known.kinds, located.place)


def own_sheets() -> dict[str, Path]:
    """One's own sheets by name; the shipped names are not taken by them."""
    folder = sheet_folder()
    found = sorted(folder.glob(f"*{ENDING}")) if folder.is_dir() else []
    return {path.name.removesuffix(ENDING): path for path in found}


def sheet_text(name: str, *, beside: Path | None = None) -> tuple[str, str]:
    """The text of a sheet and the name of its file.

    Args:
        name: A shipped sheet's id, one of one's own, or a path (read from *beside*, a job file's folder).
    Raises:
        FieldProblem: there is no such sheet; the nearest names are listed.
    """
    if name in data.sheet_names():
        file = f"sheets/{name}{ENDING}"
        return data.shipped_text(file), file
    own = own_sheets()
    if name in own:
        return data.decoded(own[name].read_bytes(), own[name].name), own[name].name
    if name.endswith(ENDING) or "/" in name or "\\" in name:
        path = (beside or Path()) / Path(name).expanduser()
        if not path.is_file():
            raise FieldProblem(
                "sheet", name, "is not there", remedy="Is the path right, seen from the job file?"
            )
        return data.decoded(path.read_bytes(), path.name), path.name
    raise unknown("sheet", name, [*data.sheet_names(), *own], kind="sheet", listed_by="evenpour sheet list")


def find_sheet(name: str, *, beside: Path | None = None) -> Sheet:
    """The sheet of that name or path."""
    if name in data.sheet_names():
        return _shipped(name)
    own = own_sheets()
    if name in own:
        return _own(own[name], own[name].stat().st_mtime_ns)
    text, file = sheet_text(name, beside=beside)
    return sheet_read(data.read_toml(text, file))


def sheet_stamp(name: str) -> float:
    """What changes when the file of a sheet does; nought for a shipped one."""
    if name in data.sheet_names():
        return 0.0
    file = own_sheets().get(name, Path(name).expanduser())
    return file.stat().st_mtime if file.is_file() else 0.0


def known_checks() -> tuple[Mapping[str, Check], Mapping[str, ConditionKind]]:
    """All checks and all kinds of condition, by id."""
    return catalogue().checks, catalogue().kinds


@dataclass(frozen=True, slots=True)
class Listed:
    """A sheet in the list."""

    name: str
    title: str
    origin: str


def listed() -> list[Listed]:
    """The shipped sheets, then one's own; one that cannot be read says so."""
    found = [Listed(name, _shipped(name).title, "shipped, typical values") for name in data.sheet_names()]
    for name in own_sheets():
        try:
            found.append(Listed(name, find_sheet(name).title, "your own"))
        except Problem:
            found.append(Listed(name, "-", f"your own; has mistakes, see: evenpour sheet check {name}"))
    return found


def sheet_told(name: str, system: str) -> SheetAnswer:
    """A sheet with the provenance of every value."""
    return sheet_answer_of(find_sheet(name), system)


def sheet_answer_of(sheet: Sheet, system: str) -> SheetAnswer:
    """The same of a sheet that is at hand."""
    return sheet_answer(sheet, catalogue(), system)


def copy_sheet(
    name: str, new: str, target: Path | None, *, title: str | None = None
) -> tuple[Path, tuple[str, ...]]:
    """Start one's own sheet; where it was written, and which values and limits wait for the manual."""
    text, _ = sheet_text(name)
    written = copied(text, new, title=title)
    if target is None:
        if new in data.sheet_names():
            raise FieldProblem("sheet", new, "is a shipped sheet's name", remedy="Choose another name.")
        target = sheet_folder() / f"{new}{ENDING}"
        target.parent.mkdir(parents=True, exist_ok=True)
    write_whole(target, written.encode(), replace=False)
    return target, sheet_read(data.read_toml(written, target.name)).unchecked


@cache
def _shipped(name: str) -> Sheet:
    return sheet_read(data.shipped(f"sheets/{name}{ENDING}"))


@lru_cache(maxsize=64)
def _own(path: Path, stamp: int) -> Sheet:
    """One of one's own as its file stood when it was changed last."""
    return sheet_read(data.read_toml(data.decoded(path.read_bytes(), path.name), path.name))
