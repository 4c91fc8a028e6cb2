"""A new job: the car, its engine's sheet, and what holds for all readings."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from evenpour.errors import FieldProblem, Problem, Problems
from evenpour.job.asking import unit_choices
from evenpour.job.catalogue import catalogue
from evenpour.job.sheet.found import Listed, listed
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.entry_forms import amount
from evenpour.web.problems import problems_shown
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state

FORM = "new-job"
ENGINE = ("car", "chassis", "engine_number", "mileage", "workshop", "who", "note")
BY_NAME = "The job is begun by somebody; this device keeps the name for all that follows."
Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class NewJob:
    """Everything new_job.html may use."""

    forms: FormState
    sheets: tuple[Listed, ...]
    fuels: Choices
    temperatures: Choices
    heights: Choices


def show(ask: Ask) -> Response:
    """The empty form."""
    return _form(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """Begin the job and go to it; or show the form again."""
    form = ask.form
    engine = {"sheet": form.get("sheet", "")}
    engine |= {name: form[name].strip() for name in ENGINE if form.get(name, "").strip()}
    conditions = {
        "ambient_temperature": amount(form, "c.ambient_temperature"),
        "altitude": amount(form, "c.altitude"),
        "fuel": form.get("w.fuel", ""),
    }
    stated = {name: text for name, text in conditions.items() if text}
    try:
        lacking = [
            *([] if engine["sheet"] else [FieldProblem("sheet", None, "is missing")]),
            *([FieldProblem("who", None, "is missing", remedy=BY_NAME)] if "who" not in engine else []),
        ]
        if lacking:
            raise Problems(lacking)
        number = ask.shop.begin(engine, stated, id=ask.entry_id)
    except Problem as problem:
        return _form(ask, Sent(ask.typed(), tuple(problems_shown(problem, "engine")), 422))
    return ask.saved(f"/jobs/{number}")


def _form(ask: Ask, sent: Sent) -> Response:
    system = ask.preferences.units or "metric"
    page = NewJob(
        forms=form_state(ask, "engine", sent),
        sheets=tuple(listed()),
        fuels=tuple((word, word) for word in catalogue().kinds["fuel"].choices),
        temperatures=unit_choices(["temperature"], system),
        heights=unit_choices((), system, ("ft", "m") if system != "metric" else ("m", "ft")),
    )
    return ask.page("new_job.html", page, title="A new job", status=sent.status)


IN_SHOP = (Line("A new job", "/jobs/new"),)
PAGES = (Page("/jobs/new", show, save),)
