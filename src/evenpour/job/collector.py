"""Gathers what is wrong with a job's entries, each fault with its place, while the rest is understood."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from evenpour.errors import FieldProblem, Place, Problem
from evenpour.job.catalogue import Catalogue
from evenpour.machine.sheet import Sheet
from evenpour.path.plan import Plan

PlaceOf = Callable[..., Place]
"""Where an entry, or a field of it, stands: ``place_of("reading-3", "conditions", "after")``."""


@dataclass(slots=True)
class Collector:
    """Goes on after a fault, so that everything wrong with a job is said in one go."""

    known: Catalogue
    sheet: Sheet
    plan: Plan
    place_of: PlaceOf
    said: Mapping[str, tuple[Mapping[str, Any], tuple[str, ...]]]  # content now, and by which corrections
    units: str | None = None
    problems: list[Problem] = field(default_factory=list)

    def try_(self, make: Callable[[], Any], entry: str, *path: str | int) -> Any:
        """What *make* gives, or None and the problem kept with its place."""
        try:
            return make()
        except FieldProblem as problem:
            self.problems.append(problem if problem.place else problem.at(self.place(problem, entry, path)))
            return None

    def place(self, problem: FieldProblem, entry: str, path: tuple[str | int, ...]) -> Place:
        """Where the fault is: in the field that the problem names, and in the correction that says it now."""
        content, corrected_by = self.said.get(entry, ({}, ()))
        named = problem.field.split(",")[0]
        if len(path) < 2 and named in content:
            path = (named,)
        return self.place_of(corrected_by[-1], "new", *path) if corrected_by else self.place_of(entry, *path)


def within_engine(cylinder: int | None, sheet: Sheet) -> int | None:
    """The cylinder, if this engine has it."""
    if cylinder is not None and not 1 <= cylinder <= sheet.cylinders:
        raise FieldProblem(
            "cylinder", cylinder, f"is not on this engine ({sheet.id})", allowed=f"1 to {sheet.cylinders}"
        )
    return cylinder
