"""What is kept about one's own experience besides the journals: from when jobs count, and others' counts."""

from __future__ import annotations

import json
import secrets
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from evenpour.errors import FieldProblem, Place, Problem, Problems, unknown
from evenpour.job.causes.prior import Counts, shipped_prior
from evenpour.job.places import home
from evenpour.job.writing_files import write_whole

FILE = "experience.json"
COUNTS_FORMAT: Final = "evenpour-counts/1"
MOST_JOBS = 1_000_000
LARGEST_FILE = 1_000_000  # bytes; one of counts has some three thousand
_WRITING = threading.Lock()

Count = Annotated[int, Field(ge=0, le=MOST_JOBS, strict=True)]


class CountsFile(BaseModel):
    """How often causes were confirmed in a workshop's closed jobs: no names, no cars, no dates."""

    model_config = ConfigDict(frozen=True, extra="forbid", title="Counts of confirmed causes")

    format: Literal["evenpour-counts/1"]
    workshop: str = Field(
        pattern="^[0-9a-f]{32}$", description="A random number that stands for the workshop; no name."
    )
    edition: int = Field(
        ge=1, le=MOST_JOBS, strict=True,
        description="Goes up with every export that says something new; a later one replaces an earlier.",
    )  # fmt: skip
    jobs: Count = Field(description="Closed jobs that are counted here.")
    nothing_wrong: Count = Field(description="Those in which nothing was wrong.")
    two_at_once: Count = Field(description="Those in which more than one cause was confirmed.")
    causes: dict[str, Count] = Field(description="Jobs in which each cause was confirmed, by its id.")

    def counts(self) -> Counts:
        """The same as the other modules count."""
        return Counts(self.causes, self.nothing_wrong, self.two_at_once, self.jobs)


class Taken(BaseModel):
    """Another workshop's counts, and when they were taken in."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: str
    counts: CountsFile


class Held(BaseModel):
    """The file: who this workshop is to others, from when its jobs count, what it exported and took in."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["evenpour-experience/1"] = "evenpour-experience/1"
    workshop: str = ""
    starts: list[str] = []
    exported: CountsFile | None = None
    taken: list[Taken] = []

    @property
    def since(self) -> str:
        """The time from which jobs and counts count; empty: from the beginning."""
        return self.starts[-1] if self.starts else ""


def held() -> Held:
    """What is kept; nothing yet where there is no file.

    Raises:
        FieldProblem: the file cannot be read.
    """
    path = home() / FILE
    if not path.is_file():
        return Held()
    try:
        return Held.model_validate_json(path.read_bytes())
    except (OSError, ValidationError) as fault:
        raise FieldProblem(
            "file", str(path), f"cannot be read ({_first_line(fault)})",
            remedy="Mend it, or take it away: then jobs count from the beginning and others' counts are gone",
        ) from None  # fmt: skip


def change(how: Callable[[Held], Held]) -> Held:
    """Change what is kept, whole or not at all; who the workshop is to others is made once."""
    with _WRITING:
        now = held()
        if not now.workshop:
            now = now.model_copy(update={"workshop": secrets.token_hex(16)})
        changed = how(now)
        path = home() / FILE
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, (changed.model_dump_json(indent=2) + "\n").encode())
        return changed


def counts_in(path: Path) -> CountsFile:
    """Another workshop's counts, read whole.

    Raises:
        FieldProblem: the file is not there or is no JSON.
        Problems: everything in it that cannot be so.
    """
    try:
        with path.open("rb") as file:
            text = file.read(LARGEST_FILE + 1)
    except OSError as fault:
        raise FieldProblem("file", str(path), f"cannot be read ({fault.strerror or fault})") from None
    place = Place(file=path.name)
    if len(text) > LARGEST_FILE:
        raise FieldProblem("file", None, "is too long for counts", allowed="1 MB", place=place)
    try:
        plain = json.loads(text)
    except (ValueError, RecursionError) as fault:
        raise FieldProblem("file", None, f"is no JSON ({_first_line(fault)})", place=place) from None
    try:
        found = CountsFile.model_validate(plain)
    except ValidationError as error:
        faults = error.errors(include_url=False)
        raise Problems([_problem(one["loc"], one["type"], one["input"], place) for one in faults]) from None
    problems = _senseless(found, place)
    if problems:
        raise Problems(problems)
    return found


def _problem(loc: tuple[int | str, ...], kind: str, value: object, place: Place) -> FieldProblem:
    field = str(loc[-1]) if loc else "file"
    if loc and loc[-1] == "format":
        return FieldProblem(field, value if kind != "missing" else None, "is not that of counts",
                            allowed=COUNTS_FORMAT, place=place)  # fmt: skip
    if kind == "missing":
        return FieldProblem(field, None, "is missing", place=place)
    if kind == "extra_forbidden":
        return unknown("field", field, CountsFile.model_fields, kind="field of counts", place=place)
    if kind == "string_pattern_mismatch":
        return FieldProblem(field, value, "is no workshop's number", allowed="32 digits and letters a to f",
                            place=place)  # fmt: skip
    if kind in ("dict_type", "model_type"):
        return FieldProblem(field, None, "is no table of counts", place=place)
    return FieldProblem(
        field, value, "is no count", allowed=f"a whole number, 0 to {MOST_JOBS:,}", place=place
    )


def _senseless(found: CountsFile, place: Place) -> list[Problem]:
    known = shipped_prior().weights
    problems: list[Problem] = []
    for cause, count in found.causes.items():
        if cause not in known:
            problems.append(unknown("cause", cause, known, kind="cause", place=place))
        elif count > found.jobs:
            problems.append(_more(cause, count, found.jobs, place))
    for name in ("nothing_wrong", "two_at_once"):
        count = getattr(found, name)
        if count > found.jobs:
            problems.append(_more(name, count, found.jobs, place))
    named = sum(found.causes.values())
    if not problems and found.jobs > found.nothing_wrong + named:
        most = f"up to {found.nothing_wrong + named}"
        words = "is more than the counts tell of"
        problems.append(FieldProblem("jobs", found.jobs, words, allowed=most, place=place))
    return problems


def _more(name: str, count: int, jobs: int, place: Place) -> FieldProblem:
    return FieldProblem(name, count, "is more than there are jobs", allowed=f"up to {jobs}", place=place)


def _first_line(fault: Exception) -> str:
    return (str(fault).splitlines() or [type(fault).__name__])[0]
