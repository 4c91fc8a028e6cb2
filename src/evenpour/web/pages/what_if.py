"""The what-if bench: turn a screw, climb a pass, clog an injector, and see the machine follow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.responses import JSONResponse, RedirectResponse, Response

from evenpour.errors import Problem
from evenpour.job.sheet.found import Listed, listed
from evenpour.job.sheet.page import in_the_book
from evenpour.job.whatif.bench import USUAL_SEVERITY, Bench, Fault, bench, settings_of_job
from evenpour.job.whatif.parts import Part, bench_data
from evenpour.job.whatif.rows import Block, blocks
from evenpour.job.whatif.typed import settings_typed
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.cutaway import CROWDED, Column, Drawing, columns, drawing, ticks
from evenpour.web.mixture_drawing import MixtureDrawing, mixture_drawing
from evenpour.web.problems import ShownProblem, problems_shown
from evenpour.web.rendering import rendered
from evenpour.web.routes import Page

PATH = "/what-if"
MOST_SETTINGS = 30
PIECES = ("said", "set", "curve", "readings")  # of the page, that are set anew as a whole
TRIED_CYLINDER = 4
AS_THE_JOB = "Height, air and fuel as the job states them, the screw where it was set at home."
BY_ROOT = " for the root of the pressure"  # how a hole's size is stated; here its share alone counts
Form = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class SetLine:
    """Something that is set, and the address without it."""

    words: str
    does: tuple[str, ...]
    without: str


@dataclass(frozen=True, slots=True)
class Try:
    """A link that sets something."""

    title: str
    look: str
    address: str


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part beside its drawing."""

    id: str
    number: int
    title: str
    reads: tuple[str, ...]
    says: tuple[str, ...]
    tries: tuple[Try, ...]


@dataclass(frozen=True, slots=True)
class FigureBlock:
    """One of the drawings, with its parts."""

    id: str
    number: int
    title: str
    parts: tuple[PartLine, ...]


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Everything what_if.html may use. ``numbers``: of the drawn parts, by id."""

    here: str
    sheet: str
    sheets: tuple[Listed, ...]
    bench: Bench
    drawing: Drawing
    columns: tuple[Column, ...]
    crowded: bool
    ticks: tuple[float, ...]
    figures: tuple[FigureBlock, ...]
    numbers: Mapping[str, int]
    curve: MixtureDrawing
    curve_number: int
    blocks: tuple[Block, ...]
    set: tuple[SetLine, ...]
    worth: tuple[Try, ...]
    healthy: str
    problems: tuple[ShownProblem, ...]


def show(ask: Ask) -> Response:
    """The bench with what the address sets."""
    settings = ask.request.query_params.getlist("set")[:MOST_SETTINGS]
    try:
        page = _page(ask, ask.query, settings)
    except Problem as problem:
        return _with_problem(ask, ask.query, problem)
    return ask.page("what_if.html", page, title="What if")


def save(ask: Ask) -> Response:
    """What the form of a page without script says, as an address."""
    try:
        settings = _typed(ask, ask.form)
        bench(_sheet(ask, ask.form), settings, units=ask.preferences.units)
    except Problem as problem:
        return _with_problem(ask, ask.form, problem)
    return RedirectResponse(_address(ask, ask.form, settings), status_code=303)


def live(ask: Ask) -> Response:
    """For a page that is open: where everything moves to, and the pieces that are set anew."""
    try:
        settings = _typed(ask, ask.query)
        page = _page(ask, ask.query, settings)
    except Problem as problem:
        words = " ".join(one.words for one in problems_shown(problem))
        return JSONResponse({"problem": words}, status_code=422)
    fields = {one.name: f"{one.value:g}" for one in page.bench.sliders}
    fields |= {f"rest.{one.name}": f"{one.rest:g}" for one in page.bench.sliders}
    return JSONResponse(
        {
            "address": _address(ask, ask.query, settings),
            "moves": page.drawing.moves,
            "words": page.drawing.words,
            "pieces": {f"bench-{name}": rendered(f"what_if_{name}.html", page=page) for name in PIECES},
            "fields": fields,
        }
    )


def _with_problem(ask: Ask, form: Form, problem: Problem) -> Response:
    """The bench with nothing set, and what was wrong; without a sheet there is no bench."""
    page = _page(ask, form, (), tuple(problems_shown(problem)))
    return ask.page("what_if.html", page, title="What if", status=422)


def _page(ask: Ask, form: Form, settings: Sequence[str], problems: tuple[ShownProblem, ...] = ()) -> WhatIf:
    found = bench(_sheet(ask, form), settings, form.get("state", ""), units=ask.preferences.units)
    figures = tuple(_figures(ask, form, found))
    return WhatIf(
        here=_here(ask),
        sheet=_sheet(ask, form),
        sheets=() if ask.in_job else tuple(one for one in listed() if one.title != "-"),
        bench=found,
        drawing=drawing(found),
        columns=columns(found.cylinders),
        crowded=found.cylinders > CROWDED,
        ticks=ticks(),
        figures=figures,
        numbers={part.id: part.number for figure in figures for part in figure.parts},
        curve=mixture_drawing(found.answer.curve, found.state.state, changed=bool(settings)),
        curve_number=len(figures) + 1,
        blocks=blocks(found.answer),
        set=tuple(_set_lines(ask, form, found)),
        worth=tuple(_worth(ask, form)),
        healthy=_address(ask, form, ()),
        problems=problems,
    )


def _typed(ask: Ask, form: Form) -> list[str]:
    return settings_typed(form, _sheet(ask, form), units=ask.preferences.units)[:MOST_SETTINGS]


def _sheet(ask: Ask, form: Form) -> str:
    """The job's sheet; in the workshop the one of the book that is chosen, or the first."""
    if ask.in_job:
        return ask.job.sheet_name
    return in_the_book(form.get("sheet") or min(one.name for one in listed()))


def _here(ask: Ask) -> str:
    return f"/jobs/{ask.number}{PATH}" if ask.in_job else PATH


def _address(ask: Ask, form: Form, settings: Sequence[str]) -> str:
    """The bench with these settings, in the state and on the sheet of the form."""
    said = [] if ask.in_job else [("sheet", _sheet(ask, form))]
    said += [("state", form["state"])] if form.get("state") else []
    said += [("set", one) for one in settings]
    return f"{_here(ask)}?{urlencode(said)}" if said else _here(ask)


def _worth(ask: Ask, form: Form) -> list[Try]:
    """What is worth trying; first, in a job, the air and the fuel that its car stands in."""
    here = settings_of_job(ask.job) if ask.in_job else []
    first = [Try("Where this car stands", AS_THE_JOB, _address(ask, form, here))] if here else []
    return first + [
        Try(one.title, one.look, _address(ask, {**form, "state": one.state}, one.settings))
        for one in bench_data().worth
    ]


def _set_lines(ask: Ask, form: Form, found: Bench) -> list[SetLine]:
    return [
        SetLine(
            told.words,
            tuple(one.replace(BY_ROOT, "") for one in told.does),
            _address(ask, form, [one for one in found.settings if one != text]),
        )
        for text, told in zip(found.settings, found.answer.settings, strict=True)
    ]


def _figures(ask: Ask, form: Form, found: Bench) -> list[FigureBlock]:
    blocks_, number = [], 0
    for place, (figure, title) in enumerate(bench_data().figures.items(), start=1):
        parts = []
        for part in found.parts:
            if part.figure == figure:
                number += 1
                tries = tuple(_tries(ask, form, part, found))
                reads = tuple(label for label, _ in part.reads)
                parts.append(PartLine(part.id, number, part.title, reads, part.says, tries))
        blocks_.append(FigureBlock(figure, place, title, tuple(parts)))
    return blocks_


def _tries(ask: Ask, form: Form, part: Part, found: Bench) -> list[Try]:
    """What can go wrong in a part, each with the address that sets it."""
    here = [one for faults in found.groups.values() for one in faults if one.part == part.id]
    return [Try(one.title, "", _address(ask, form, [_setting(one, found)])) for one in here]


def _setting(fault: Fault, found: Bench) -> str:
    where = f"[{min(TRIED_CYLINDER, found.cylinders)}]" if fault.each else ""
    sign = "-" if fault.name.startswith("-") else ""
    return f"{fault.name.removeprefix('-')}{where}={sign}{USUAL_SEVERITY:g}"


IN_JOB = (Line("What if", PATH),)
IN_SHOP = (Line("What if", PATH),)
PAGES = (
    Page(PATH, show, save),
    Page(f"{PATH}/live", live),
    Page(f"/jobs/{{number:int}}{PATH}", show, save),
    Page(f"/jobs/{{number:int}}{PATH}/live", live),
)
