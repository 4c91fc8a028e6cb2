"""What the page of the catches asks for: one amount a port, how it was caught, what was used last time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from evenpour.job.answers import CautionLine
from evenpour.job.asking import Choice
from evenpour.job.caution_told import cautions_of
from evenpour.job.forms import OPENINGS
from evenpour.job.wording import MANUAL, sheet_value_words
from evenpour.measure.entry_units import offered_units, unit_labels
from evenpour.measure.showing import unit_for

if TYPE_CHECKING:
    from evenpour.job.job import Job


@dataclass(frozen=True, slots=True)
class Port:
    """A port of the fuel distributor, the cylinder it feeds, and what its container weighed empty."""

    number: int
    cylinder: int
    tare: str


@dataclass(frozen=True, slots=True)
class Opening:
    """How far the plate is held up, by name; ``lift`` and ``amount`` as the sheet says, else empty."""

    name: str
    lift: str
    amount: str


@dataclass(frozen=True, slots=True)
class AskedCatches:
    """Everything a form for a catch needs.

    ``cautions``: those of all steps that catch, as the form may be turned from bare lines to injectors;
    before them those of the step that exchanges parts, where that is asked for.
    """

    ports: tuple[Port, ...]
    openings: tuple[Opening, ...]
    units: tuple[Choice, ...]
    unit: str
    lifts: tuple[Choice, ...]
    instruments: tuple[Choice, ...]
    instrument: str
    frequency_valve: bool
    lines_swappable: str
    cautions: tuple[CautionLine, ...]


def asked_catches(job: Job, exchanged_in: str = "") -> AskedCatches:
    """What to ask for the next catch.

    Args:
        exchanged_in: The step that exchanges parts for it, whose cautions come first then.
    """
    last = job.facts.catches[-1] if job.facts.catches else None
    fitting = [one for one in job.facts.instruments.values() if one.dimension in ("volume", "mass")]
    content = _last_content(job)
    unit = last.unit if last else unit_for("volume", job.system)
    units = dict.fromkeys([unit, *offered_units(["volume", "mass"], job.system)])
    return AskedCatches(
        ports=tuple(_ports(job, content.get("tare"))),
        openings=tuple(_opening(job, name) for name in OPENINGS if name != "rest"),
        units=unit_labels(units),
        unit=unit,
        lifts=unit_labels(offered_units(["length"], job.system)),
        instruments=tuple((one.id, f"{one.id}: {one.basis}") for one in fitting),
        instrument=str(content.get("instrument", "")),
        frequency_valve="frequency_valve" in job.sheet.devices,
        lines_swappable=_said(job, "lines_swappable"),
        cautions=tuple(cautions_of(_catching_steps(job, exchanged_in), job.known, job.facts)),
    )


def _catching_steps(job: Job, exchanged_in: str) -> list[str]:
    exchanging = [exchanged_in] if exchanged_in else []
    return exchanging + [
        step.id for step in job.plan.step.values() if any(":" in check for check in step.checks)
    ]


def _last_content(job: Job) -> dict[str, object]:
    caught = [one for one in job.folded.standing if one.kind == "catch"]
    return dict(caught[-1].content) if caught else {}


def _ports(job: Job, tare: object) -> list[Port]:
    fed = job.sheet.values.get("line_map")
    listed = fed.value if fed is not None and isinstance(fed.value, tuple) else job.plan.all_cylinders
    cylinders = [int(str(cylinder)) for cylinder in listed]
    tares = tare if isinstance(tare, list) else [tare] * job.sheet.cylinders
    return [
        Port(port, cylinder, "" if weight is None else _figure(str(weight)))
        for port, (cylinder, weight) in enumerate(zip(cylinders, tares, strict=False), start=1)
    ]


def _figure(text: str) -> str:
    """``21.4`` of ``21.4 g``: the form states the unit once."""
    figure = text.partition(" ")[0]
    return figure if figure.replace(",", ".").replace(".", "", 1).isdigit() else text


def _opening(job: Job, name: str) -> Opening:
    return Opening(name, _said(job, f"opening_{name}"), _said(job, f"catch_amount_{name}"))


def _said(job: Job, value: str) -> str:
    words = sheet_value_words(job.sheet, value, job.system)
    return "" if words == MANUAL else words
