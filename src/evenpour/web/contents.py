"""The contents of the book: which pages there are, in which order. Every page's module says its own line."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evenpour.job.job import Job

# Every page, by its module, in the order of the contents. A new page is one more line here.
MODULES = (
    "bay_book",
    "new_job",
    "settings",
    "sharing",
    "glance",
    "stages",
    "step",
    "put_back",
    "enter",
    "reading",
    "catch",
    "readings",
    "causes",
    "gas",
    "screw",
    "spark",
    "traces",
    "what_if",
    "sheets",
    "instruments",
    "photos",
    "history",
    "mend",
    "record",
    "news",
)


@dataclass(frozen=True, slots=True)
class Line:
    """A page's line in the contents: its label, its address behind the job's own, and what it counts.

    ``at_machine`` if the page is there only for a browser on the machine that serves.
    """

    label: str
    path: str
    count: Callable[[Job], int] | None = None
    at_machine: bool = False


@dataclass(frozen=True, slots=True)
class Entry:
    """A line as it is shown; ``count`` is empty where there is nothing to count."""

    label: str
    address: str
    count: str
    current: bool


@cache
def modules() -> tuple[ModuleType, ...]:
    """The modules of the pages, imported."""
    return tuple(importlib.import_module(f"evenpour.web.pages.{name}") for name in MODULES)


def job_contents(job: Job, here: str) -> tuple[Entry, ...]:
    """The pages of one job."""
    lines = [line for module in modules() for line in getattr(module, "IN_JOB", ())]
    start = f"/jobs/{job.number}"
    return tuple(_entry(line, f"{start}{line.path}", here, job) for line in lines)


def shop_contents(here: str, *, at_machine: bool = True, in_job: bool = False) -> tuple[Entry, ...]:
    """The pages of the workshop; *in_job* leaves out those whose label a page of the job has too."""
    lines = [line for module in modules() for line in getattr(module, "IN_SHOP", ())]
    own = {line.label for module in modules() for line in getattr(module, "IN_JOB", ()) if in_job}
    shown = [line for line in lines if (at_machine or not line.at_machine) and line.label not in own]
    return tuple(_entry(line, line.path, here, None) for line in shown)


def _entry(line: Line, address: str, here: str, job: Job | None) -> Entry:
    number = line.count(job) if line.count is not None and job is not None else 0
    return Entry(line.label, address, str(number) if number else "", here == address)
