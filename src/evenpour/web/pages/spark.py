"""The spark calculators, a page each: what is typed stands in the address, nothing is kept."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from starlette.responses import Response

from evenpour.errors import FieldProblem, Problem, unknown
from evenpour.job.answers import CautionLine
from evenpour.job.asking import AskedReading
from evenpour.job.job import Job
from evenpour.job.sheet.found import Listed, listed
from evenpour.job.sheet.page import in_the_book
from evenpour.job.spark.answers import OrderAnswer, SparkAnswer, SparkVerdict
from evenpour.job.spark.centre import dead_centre
from evenpour.job.spark.cylinders import cylinders
from evenpour.job.spark.order import dwell, order
from evenpour.job.spark.page import (
    CALCULATORS,
    Calculator,
    asked,
    bare_job,
    calculators,
    cautions,
    on_a_page,
    on_the_sheet,
)
from evenpour.job.spark.timing import timing
from evenpour.record.words import VERDICTS, sureness
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.entry_forms import amount, conditions_in
from evenpour.web.problems import NOTHING_TYPED, ShownProblem, Typed, problems_shown
from evenpour.web.routes import Page

FORM = "spark"
LENGTHS = (("mm", "mm"), ("in", "in"), ("cm", "cm"))
INCHES_FIRST = (("in", "in"), *(one for one in LENGTHS if one[0] != "in"))
DEGREES = ("deg", "°")
MIDDLE, RIM, NAMES = 120.0, 84.0, 62.0  # of the drawn cap
Form = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Judged:
    """A figure held against the sheet, as it is set."""

    title: str
    value: str
    word: str
    outside: bool
    sure: str
    limit: str
    source: str
    settle: str
    basis: str


@dataclass(frozen=True, slots=True)
class Post:
    """A post of the cap in the drawing."""

    cylinder: int
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Contents:
    """Everything spark.html may use."""

    here: str
    sheet: str
    sheets: tuple[Listed, ...]
    engine: str
    values: Mapping[str, str]
    calculators: tuple[Calculator, ...]


@dataclass(frozen=True, slots=True)
class CalculatorPage:
    """Everything spark_calculator.html may use. ``step`` begins the work that it belongs to, in a job."""

    here: str
    up: str
    sheet: str
    engine: str
    one: Calculator
    cautions: tuple[CautionLine, ...]
    asked: AskedReading | None
    cylinders: tuple[int, ...]
    angles: tuple[tuple[str, str], ...]
    lengths: tuple[tuple[str, str], ...]
    answer: Any
    judged: Judged | None
    rows: tuple[Judged, ...]
    notes: tuple[str, ...]
    posts: tuple[Post, ...]
    step: str
    step_title: str
    typed: Typed
    problems: tuple[ShownProblem, ...]


def show(ask: Ask) -> Response:
    """Which calculators there are."""
    job = _job(ask)
    page = Contents(
        here=_here(ask),
        sheet="" if ask.in_job else job.sheet_name,
        sheets=() if ask.in_job else tuple(one for one in listed() if one.title != "-"),
        engine=job.sheet.title,
        values=on_the_sheet(job),
        calculators=calculators(job),
    )
    return ask.page("spark.html", page, title="Spark")


def show_one(ask: Ask) -> Response:
    """One calculator, with the answer to what the address says."""
    job, name = _job(ask), ask.word("calculator")
    one = next((one for one in CALCULATORS if one.name == name), None)
    if one is None:
        raise unknown("calculator", name, [one.name for one in CALCULATORS], kind="calculator")
    answer: SparkAnswer | None = None
    problems: tuple[ShownProblem, ...] = ()
    try:
        answer = WORKED_OUT[name](ask.query, job, ask.preferences.units)
    except Problem as problem:
        problems = tuple(_on_a_page(shown) for shown in problems_shown(problem))
    lengths = INCHES_FIRST if ask.preferences.units == "us" else LENGTHS
    step = answer.step if answer else one.step
    in_path = ask.in_job and step in job.plan.step
    page = CalculatorPage(
        here=f"{_here(ask)}/{name}",
        up=f"{_here(ask)}{'' if ask.in_job else f'?sheet={job.sheet_name}'}",
        sheet="" if ask.in_job else job.sheet_name,
        engine=job.sheet.title,
        one=one,
        cautions=tuple(answer.cautions if answer else cautions(job, one)),
        asked=asked(job, one),
        cylinders=job.plan.all_cylinders,
        angles=(DEGREES, *lengths),
        lengths=lengths,
        answer=answer,
        judged=_judged(getattr(answer, "reading", None) or getattr(answer, "spread", None)),
        rows=tuple(_rows(answer)),
        notes=tuple(on_a_page(words) for words in answer.notes) if answer else (),
        posts=tuple(_posts(answer)) if isinstance(answer, OrderAnswer) else (),
        step=step if in_path else "",
        step_title=job.plan.step[step].title if in_path else "",
        typed=Typed(FORM, ask.query) if set(ask.query) - {"sheet"} else NOTHING_TYPED,
        problems=problems,
    )
    return ask.page("spark_calculator.html", page, title=one.title, status=422 if problems else 200)


def _here(ask: Ask) -> str:
    return f"/jobs/{ask.number}/spark" if ask.in_job else "/spark"


def _job(ask: Ask) -> Job:
    """The job; in the workshop the sheet chosen, as if one had just begun on it."""
    if ask.in_job:
        return ask.job
    sheet = in_the_book(ask.query.get("sheet") or min(one.name for one in listed()))
    return bare_job(sheet, ask.preferences.units)


def _on_a_page(one: ShownProblem) -> ShownProblem:
    return ShownProblem(on_a_page(one.words), one.field, one.odd)


def _words(form: Form, *values: str) -> list[str]:
    """What a calculator takes: values first, conditions behind them."""
    pairs = [f"{name}={text}" for name, text in conditions_in(form)]
    said = [text for text in values if text]
    return [*said, *pairs] if said else []


def _timing(form: Form, job: Job, units: str | None) -> SparkAnswer:
    words, rim = _words(form, amount(form, "value")), amount(form, "diameter") or None
    return timing(words, diameter=rim, sure=form.get("sure") == "yes", job=job, units=units)


def _lamp(form: Form, job: Job, units: str | None) -> SparkAnswer:
    if amount(form, "value") and not amount(form, "c.speed"):
        raise FieldProblem("speed", None, "is missing", remedy="Read by lamp, a timing holds at its speed.")
    return _timing(form, job, units)


def _dead_centre(form: Form, job: Job, units: str | None) -> SparkAnswer | None:
    said = {name: amount(form, name) or None for name in ("forward", "backward", "between", "stroke", "rod")}
    first, second = amount(form, "wheel-first"), amount(form, "wheel-second")
    if not any((said["forward"], said["backward"], said["between"], first, second)):
        return None
    wheel = (first, second) if first and second else None
    rim = amount(form, "diameter") or None
    return dead_centre(**said, wheel=wheel, diameter=rim, job=job, units=units)


def _order(form: Form, job: Job, units: str | None) -> SparkAnswer:
    return order(diameter=amount(form, "diameter") or None, job=job, units=units)


def _dwell(form: Form, job: Job, units: str | None) -> SparkAnswer:
    return dwell(_words(form, amount(form, "value")), job=job, units=units)


def _cylinders(name: str) -> Callable[[Form, Job, str | None], SparkAnswer | None]:
    def worked_out(form: Form, job: Job, units: str | None) -> SparkAnswer | None:
        count = job.plan.cylinders
        values = [form.get(f"value.{number}", "").strip() or "-" for number in range(1, count + 1)]
        sure = form.get("sure") == "yes"
        if all(value == "-" for value in values):
            here = any(one.check.id == CHECKS[name] and one.stands for one in job.judged)
            return cylinders(name, job=job, units=units) if here else None
        error = amount(form, "error", "value-unit") or None
        words = _words(form, *values, form.get("value-unit", ""))
        return cylinders(name, words, error=error, sure=sure, job=job, units=units)

    return worked_out


CHECKS = {one.name: one.check for one in CALCULATORS}
WORKED_OUT: Mapping[str, Callable[[Form, Job, str | None], SparkAnswer | None]] = {
    "timing": _timing,
    "lamp": _lamp,
    "dead_centre": _dead_centre,
    "order": _order,
    "dwell": _dwell,
    **{name: _cylinders(name) for name in ("compression", "leak_down", "speed_drop")},
}


def _judged(one: SparkVerdict | None) -> Judged | None:
    if one is None:
        return None
    return Judged(
        title=one.title,
        value=one.value.shown,
        word=VERDICTS[one.verdict] if one.limit else "no limit on the sheet: the manual decides",
        outside=one.verdict == "outside",
        sure=sureness(one.verdict, one.p_within) if one.limit else "",
        limit=one.limit.words if one.limit else "",
        source=one.limit.source if one.limit else "",
        settle=one.settle or "",
        basis=one.basis,
    )


def _rows(answer: Any) -> Iterator[Judged]:
    """One a cylinder; ``limit`` says how much worse than the others it is."""
    for line in getattr(answer, "cylinders", ()) if hasattr(answer, "stand_out") else ():
        yield Judged(
            title=f"Cylinder {line.cylinder}",
            value=line.value.shown,
            word=VERDICTS[line.verdict] if answer.limit else "no limit",
            outside=line.verdict == "outside" or line.cylinder in answer.stand_out,
            sure=sureness(line.verdict, line.p_within) if answer.limit else "",
            limit=line.worse.shown if line.worse else "–",
            source="",
            settle="",
            basis="",
        )


def _posts(answer: OrderAnswer) -> Iterator[Post]:
    """Clockwise from the top, as the cap is seen from above."""
    count = len(answer.posts)
    for place, post in enumerate(answer.posts):
        angle = 2.0 * math.pi * place / count
        x, y = MIDDLE + RIM * math.sin(angle), MIDDLE - RIM * math.cos(angle)
        yield Post(post.cylinder, round(x, 1), round(y, 1))


IN_JOB = (Line("Spark", "/spark"),)
IN_SHOP = (Line("Spark", "/spark"),)
PAGES = (
    Page("/spark", show),
    Page("/spark/{calculator}", show_one),
    Page("/jobs/{number:int}/spark", show),
    Page("/jobs/{number:int}/spark/{calculator}", show_one),
)
