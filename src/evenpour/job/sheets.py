"""Where sheets are found: shipped ones, one's own in the user's folder, or a file by its path."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from evenpour import data
from evenpour.errors import FieldProblem, unknown
from evenpour.job.catalogue import catalogue
from evenpour.job.places import home
from evenpour.machine.sheet import Sheet, sheet_from
from evenpour.machine.sheet_form import SheetForm, sheet_form

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
            raise FieldProblem("sheet", name, "is not there", remedy="Is the path right, seen from the job file?")
        return data.decoded(path.read_bytes(), path.name), path.name
    raise unknown("sheet", name, [*data.sheet_names(), *own], kind="sheet")


def find_sheet(name: str, *, beside: Path | None = None) -> Sheet:
    """The sheet of that name or path."""
    if name in data.sheet_names():
        return _shipped(name)
    text, file = sheet_text(name, beside=beside)
    return sheet_read(data.read_toml(text, file))


@cache
def _shipped(name: str) -> Sheet:
    return sheet_read(data.shipped(f"sheets/{name}{ENDING}"))
