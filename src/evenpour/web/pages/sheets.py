"""The engine sheets: shipped ones and one's own, each value with where it comes from; and the editor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from starlette.responses import JSONResponse, Response

from evenpour.errors import FieldProblem, Problem, Refused
from evenpour.job.sheet.editor import (
    FURTHER,
    Attempt,
    OwnSheet,
    attempt,
    checks,
    is_own,
    own_sheet,
    parts,
    rows,
    save,
    sources_used,
    waiting,
)
from evenpour.job.sheet.fields import SOURCE_OF_ALL, Row
from evenpour.job.sheet.found import Listed, copy_sheet, find_sheet, own_sheets
from evenpour.job.sheet.limits_told import LimitTold, limits_told
from evenpour.job.sheet.page import SheetShown, book_of_sheets, in_the_book, sheet_shown
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.problems import NOTHING_TYPED, ShownProblem, Typed, problems_shown
from evenpour.web.routes import Page


@dataclass(frozen=True, slots=True)
class Sheets:
    """Everything sheets.html may use."""

    shipped: tuple[Listed, ...]
    own: tuple[Listed, ...]


@dataclass(frozen=True, slots=True)
class SheetPage:
    """Everything sheet.html may use. ``mistakes`` instead of ``sheet`` where it cannot be read."""

    name: str
    sheet: SheetShown | None
    mistakes: tuple[str, ...]
    own: bool
    in_job: bool
    copied: bool
    typed: Typed
    problems: tuple[ShownProblem, ...]


@dataclass(frozen=True, slots=True)
class EditedPart:
    """A section in the list: its address, how much it holds, how much is not yet checked."""

    title: str
    address: str
    count: int
    waiting: int


@dataclass(frozen=True, slots=True)
class Editor:
    """Everything sheet_editor.html may use."""

    name: str
    title: str
    parts: tuple[EditedPart, ...]
    mistakes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EditorPart:
    """Everything sheet_part.html may use.

    ``stands`` says each limit as it stands, ``bound`` if one of these has something that is changed in the
    ``file`` alone; ``checks`` are those that a further limit may be of.
    """

    name: str
    sheet: str
    title: str
    here: str
    rows: tuple[Row, ...]
    stands: Mapping[str, LimitTold]
    file: str
    bound: bool
    source_of_all: str
    suggested: tuple[str, ...]
    stamp: str
    following: EditedPart | None
    saved: str
    further: bool
    check: str
    checks: tuple[tuple[str, str], ...]
    elsewhere: tuple[str, ...]
    typed: Typed
    problems: tuple[ShownProblem, ...]
    at_machine: bool


def show_all(ask: Ask) -> Response:
    """The list."""
    shipped, own = book_of_sheets()
    return ask.page("sheets.html", Sheets(shipped, own), title="Engine sheets")


def show(ask: Ask) -> Response:
    """One sheet, whole."""
    return _sheet(ask, NOTHING_TYPED, (), 200)


def copy(ask: Ask) -> Response:
    """Begin one's own from it."""
    name = in_the_book(ask.word("sheet"))
    new, title = (ask.form.get(field, "").strip() for field in ("id", "title"))
    try:
        copy_sheet(name, new, None, title=title or None)
    except Problem as problem:
        return _sheet(ask, ask.typed(), tuple(_for_the_form(problem)), 422)
    return ask.saved(f"/sheets/{new}?copied=yes#said")


def _for_the_form(problem: Problem) -> list[ShownProblem]:
    """What is wrong with the name, as the field's label says it; a file that is there is a name taken."""
    if isinstance(problem, FieldProblem) and problem.field in ("file", "sheet", "id"):
        value = str(problem.value)
        name = Path(value).name.removesuffix(".toml") if problem.field == "file" else value
        told = type(problem)(
            "its_short_name", name, problem.trouble, allowed=problem.allowed, remedy=problem.remedy
        )
        return [ShownProblem(one.words, "id") for one in problems_shown(told)]
    return problems_shown(problem)


def _sheet(ask: Ask, typed: Typed, problems: tuple[ShownProblem, ...], status: int) -> Response:
    name = ask.job.sheet_name if ask.in_job else in_the_book(ask.word("sheet"))
    system = ask.preferences.units or "metric"
    sheet: SheetShown | None = None
    mistakes: tuple[str, ...] = ()
    try:
        sheet = sheet_shown(ask.job.sheet if ask.in_job else find_sheet(name), name, system)
    except Problem as problem:
        mistakes = tuple(str(problem).splitlines())
    page = SheetPage(
        name=name,
        sheet=sheet,
        mistakes=mistakes,
        own=is_own(name),
        in_job=ask.in_job,
        copied=ask.query.get("copied") == "yes",
        typed=typed,
        problems=problems,
    )
    return ask.page("sheet.html", page, title=sheet.title if sheet else name, status=status)


def edit(ask: Ask) -> Response:
    """The sections of one's own sheet."""
    sheet = own_sheet(ask.word("sheet"))
    page = Editor(sheet.name, sheet.title, _parts(sheet), _mistakes(sheet))
    return ask.page("sheet_editor.html", page, title=f"Edit {sheet.title}")


def _mistakes(sheet: OwnSheet) -> tuple[str, ...]:
    try:
        find_sheet(sheet.name)
    except Problem as problem:
        return tuple(str(problem).splitlines())
    return ()


def _parts(sheet: OwnSheet) -> tuple[EditedPart, ...]:
    start = f"/sheets/{quote(sheet.name, safe='')}/edit"
    return tuple(
        EditedPart(
            part.title,
            f"{start}/{place}",
            0 if part.title == FURTHER else len(part.keys),
            waiting(sheet, part),
        )
        for place, part in enumerate(parts(sheet), start=1)
    )


def show_part(ask: Ask) -> Response:
    """The form of one section."""
    return _part(ask, own_sheet(ask.word("sheet")), NOTHING_TYPED, (), (), 200)


def save_part(ask: Ask) -> Response:
    """Save the section; with ``check`` in the form, only say what is wrong with it."""
    sheet = own_sheet(ask.word("sheet"))
    form = ask.form
    try:
        new = attempt(sheet, _rows(ask, sheet), form)
        if form.get("check") != "yes" and not new.wrong:
            save(sheet, new, form.get("stamp", ""))
    except Problem as problem:
        shown = tuple(problems_shown(problem))
        if form.get("check") == "yes":
            return JSONResponse(_checked(Attempt(sheet.text, 0, (), ()), shown))
        return _part(ask, sheet, ask.typed(), shown, (), 409 if isinstance(problem, Refused) else 422)
    shown = tuple(
        ShownProblem(words.words, field) for field, one in new.wrong for words in problems_shown(one)
    )
    if form.get("check") == "yes":
        return JSONResponse(_checked(new, shown))
    if shown:
        return _part(ask, sheet, ask.typed(), shown, tuple(str(one) for one in new.elsewhere), 422)
    return ask.saved(f"{ask.request.url.path}?saved={new.count}#said")


def _checked(new: Attempt, shown: tuple[ShownProblem, ...]) -> dict[str, object]:
    changes = "1 change" if new.count == 1 else f"{new.count} changes"
    says = "Nothing is changed yet." if not new.count else f"{changes}, no mistake found; not saved yet."
    return {
        "wrong": [{"field": one.field, "words": one.words} for one in shown],
        "says": "Something is not right yet; it is said at its place." if shown else says,
    }


def _place(ask: Ask, sheet: OwnSheet) -> int:
    place = int(ask.word("part"))
    if not 1 <= place <= len(parts(sheet)):
        raise FieldProblem("part", place, "is no section of this sheet")
    return place


def _rows(ask: Ask, sheet: OwnSheet) -> tuple[Row, ...]:
    part = parts(sheet)[_place(ask, sheet) - 1]
    return rows(sheet, part, ask.form.get("of") or ask.query.get("of", ""))


def _part(
    ask: Ask,
    sheet: OwnSheet,
    typed: Typed,
    problems: tuple[ShownProblem, ...],
    elsewhere: tuple[str, ...],
    status: int,
) -> Response:
    place = _place(ask, sheet)
    every = _parts(sheet)
    here = every[place - 1]
    further = here.title == FURTHER
    asked, stands = _rows(ask, sheet), limits_told(sheet, ask.preferences.units or "metric")
    page = EditorPart(
        name=sheet.name,
        sheet=sheet.title,
        title=here.title,
        here=here.address,
        rows=asked,
        stands=stands,
        file=str(own_sheets()[sheet.name]) if ask.at_machine else f"{sheet.name}.toml",
        bound=any(stands[row.id].bound for row in asked if row.id in stands),
        source_of_all=SOURCE_OF_ALL,
        suggested=sources_used(sheet),
        stamp=sheet.stamp,
        following=every[place] if place < len(every) else None,
        saved=ask.query.get("saved", "") if not problems else "",
        further=further,
        check=ask.form.get("of") or ask.query.get("of", ""),
        checks=checks() if further else (),
        elsewhere=elsewhere,
        typed=typed,
        problems=problems,
        at_machine=ask.at_machine,
    )
    return ask.page("sheet_part.html", page, title=here.title, status=status)


IN_SHOP = (Line("Engine sheets", "/sheets"),)
IN_JOB = (Line("The engine's sheet", "/sheet"),)
PAGES = (
    Page("/sheets", show_all),
    Page("/sheets/{sheet}", show, copy),
    Page("/sheets/{sheet}/edit", edit),
    Page("/sheets/{sheet}/edit/{part:int}", show_part, save_part),
    Page("/jobs/{number:int}/sheet", show),
)
