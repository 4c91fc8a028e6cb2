"""Anything that no step asks for: a part handled, a screw turned, something happened, a note, a gauge."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from starlette.responses import Response

from evenpour.job.asking import Choice, readable, unit_choices
from evenpour.job.entries import new_id
from evenpour.job.step_page import actions, handled_parts, sides
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.problems import NOTHING_TYPED, ShownProblem, Typed
from evenpour.web.routes import Page
from evenpour.web.saving import said_before, save_entry
from evenpour.web.verdicts import Said

GAUGES = (
    "pressure",
    "volume",
    "mass",
    "voltage",
    "current",
    "resistance",
    "temperature",
    "share",
    "lambda",
    "time",
)


@dataclass(frozen=True, slots=True)
class Enter:
    """Everything enter.html may use."""

    checks: tuple[Choice, ...]
    parts: tuple[Choice, ...]
    screws: tuple[Choice, ...]
    actions: tuple[Choice, ...]
    sides: tuple[Choice, ...]
    happenings: tuple[Choice, ...]
    instruments: tuple[tuple[str, str], ...]
    calibrations: Mapping[str, str]
    gauge_units: tuple[Choice, ...]
    cylinders: tuple[int, ...]
    entry_id: str
    who: str
    closed: bool
    typed: Typed
    problems: tuple[ShownProblem, ...]
    said: Said | None


def show(ask: Ask) -> Response:
    """The forms."""
    return _shown(ask, NOTHING_TYPED, (), 200)


def save(ask: Ask) -> Response:
    """Whichever was sent."""
    return save_entry(ask, f"/jobs/{ask.number}/enter", _shown)


def _shown(ask: Ask, typed: Typed, problems: tuple[ShownProblem, ...], status: int) -> Response:
    job = ask.job
    page = Enter(
        checks=tuple((name, job.known.checks[name].title) for name in readable(job)),
        parts=handled_parts(job),
        screws=tuple((part.id, part.title) for part in job.plan.parts if part.kind == "screw"),
        actions=actions(),
        sides=sides(),
        happenings=tuple(job.known.happenings.items()),
        instruments=tuple(job.instruments()),
        calibrations=job.calibrations(),
        gauge_units=unit_choices(GAUGES, job.system),
        cylinders=job.plan.all_cylinders,
        entry_id=new_id("entry"),
        who=ask.preferences.who,
        closed=job.closed,
        typed=typed,
        problems=problems,
        said=said_before(ask),
    )
    return ask.page("enter.html", page, title="Enter something else", status=status)


IN_JOB = (Line("Enter something else", "/enter"),)
PAGES = (Page("/jobs/{number:int}/enter", show, save),)
