"""The words for what is wrong.

Every error a person can cause is a :class:`Problem`. It names the field, the value, what is allowed and what
to do, keeps each as an attribute, and prints itself once for command line, page and log.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

FEW = 12  # names that a message can still say one by one


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a file something stands: ``job.toml, line 12 (reading 3)``."""

    file: str = ""
    path: str = ""  # "reading 3, conditions" in the words of the file's own form
    line: int | None = None

    def __str__(self) -> str:
        where = ", ".join(
            part for part in (self.file, f"line {self.line}" if self.line is not None else "") if part
        )
        return f"{where} ({self.path})" if where and self.path else where or self.path


class Problem(Exception):
    """Something a person can mend. ``str(problem)`` is the whole message."""


class FieldProblem(Problem):
    """One field holds what it may not hold.

    Args:
        field: The field's name as the person typed or sees it.
        value: What stood there, as typed; ``None`` where nothing stood there.
        trouble: What is wrong with it: "is no pressure", "is missing".
        allowed: What is allowed, in words: "0 to 20 bar", "one of open, shut"; may be empty.
        remedy: What to do now; may be empty.
        place: Where it stands, if it came from a file.
    """

    def __init__(
        self,
        field: str,
        value: object,
        trouble: str,
        *,
        allowed: str = "",
        remedy: str = "",
        place: Place | None = None,
    ) -> None:
        super().__init__(field, value, trouble, allowed, remedy, place)
        self.field = field
        self.value = value
        self.trouble = trouble
        self.allowed = allowed
        self.remedy = remedy
        self.place = place

    def __str__(self) -> str:
        shown = "" if self.value is None else f" {_clipped(self.value)}"
        sentences = [f"{self.field}{shown} {self.trouble}."]
        if self.allowed:
            sentences.append(f"Allowed: {self.allowed}.")
        if self.remedy:
            sentences.append(self.remedy if self.remedy.endswith((".", "?", "!")) else f"{self.remedy}.")
        text = " ".join(sentences)
        return f"{self.place}: {text}" if self.place and str(self.place) else text

    def at(self, place: Place) -> FieldProblem:
        """The same problem, with the place where it stands."""
        return type(self)(
            self.field, self.value, self.trouble, allowed=self.allowed, remedy=self.remedy, place=place
        )


class OutOfRange(FieldProblem):
    """A number lies where it has no meaning; nan counts."""


class WrongUnit(FieldProblem):
    """The unit is unknown, missing, or of another kind than the field takes."""


class UnknownName(FieldProblem):
    """No such name; ``remedy`` lists the nearest ones."""


class Questioned(FieldProblem):
    """Possible, but so odd that a slip is likelier: the person must say it again, or say that it is so."""


class Problems(Problem):
    """Several problems found in one go, in the order of the file."""

    def __init__(self, found: Iterable[Problem]) -> None:
        self.all: tuple[Problem, ...] = tuple(found)
        super().__init__(self.all)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.all)


class Refused(Problem):
    """What was asked for may not be done now, and why; exit status 1."""

    def __init__(self, what: str, reasons: Iterable[str] = ()) -> None:
        self.what = what
        self.reasons: tuple[str, ...] = tuple(reasons)
        super().__init__(what, self.reasons)

    def __str__(self) -> str:
        return "\n".join([self.what, *(f"  - {reason}" for reason in self.reasons)])


class SentBefore(Refused):
    """An entry's id came again with something else in it; ``entry`` is that id."""

    def __init__(self, entry: str, what: str, reasons: Iterable[str] = ()) -> None:
        super().__init__(what, reasons)
        self.entry = entry
        self.args = (entry, what, self.reasons)


def unknown(
    field: str,
    value: str,
    names: Iterable[str],
    *,
    kind: str,
    listed_by: str = "docs/reference.md",
    place: Place | None = None,
) -> UnknownName:
    """The error for a name that is not among *names*, with the likely meant ones.

    A few names are all said; of many it is said where they stand: *listed_by* is a page or a command.
    """
    known = list(names)
    near = difflib.get_close_matches(value, known, n=3, cutoff=0.6)
    meant = f"Did you mean {' or '.join(near)}?" if near else ""
    if len(known) <= FEW:
        listed = ", ".join(known)
        return UnknownName(field, value, f"is no {kind}", allowed=listed, remedy=meant, place=place)
    remedy = f"{meant} {listed_by} lists all {len(known)}.".strip()
    return UnknownName(field, value, f"is no {kind}", remedy=remedy, place=place)


def _clipped(value: object) -> str:
    text = value if isinstance(value, str) else repr(value)
    text = text.replace("\n", " ")
    return repr(text if len(text) <= 60 else text[:57] + "...")
