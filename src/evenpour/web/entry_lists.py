"""What the forms of entries that no step asks for let one choose from."""

from __future__ import annotations

from dataclasses import dataclass

from evenpour.job.asking import Choice, unit_choices
from evenpour.job.job import Job
from evenpour.job.step_page import actions, handled_parts, sides

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
class EntryLists:
    """The lists of one job, for the macros of entered.html."""

    parts: tuple[Choice, ...]
    screws: tuple[Choice, ...]
    actions: tuple[Choice, ...]
    sides: tuple[Choice, ...]
    happenings: tuple[Choice, ...]
    gauge_units: tuple[Choice, ...]
    cylinders: tuple[int, ...]


def entry_lists(job: Job) -> EntryLists:
    """What can be chosen on that job."""
    return EntryLists(
        parts=handled_parts(job),
        screws=tuple((part.id, part.title) for part in job.plan.parts if part.kind == "screw"),
        actions=actions(),
        sides=sides(),
        happenings=tuple(job.known.happenings.items()),
        gauge_units=unit_choices(GAUGES, job.system),
        cylinders=job.plan.all_cylinders,
    )
