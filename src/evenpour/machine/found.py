"""Problems found while a file is read, kept so that all are told in one go."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from typing import TypeVar

from evenpour.errors import FieldProblem, Place, Problem, Problems, unknown

Path = Sequence[str | int]
PlaceOf = Callable[[Path], Place]

_T = TypeVar("_T")


class Found:
    """The problems found so far, each with its place in the file."""

    def __init__(self, place: PlaceOf) -> None:
        self._place = place
        self._all: list[FieldProblem] = []

    def add(self, problem: FieldProblem, path: Path) -> None:
        """Keep *problem*, which stands at *path*."""
        self._all.append(problem.at(self._place(path)))

    def attempt(self, read: Callable[[], _T], path: Path, *, own_line: bool = False) -> _T | None:
        """What *read* gives, or ``None`` with its problem kept; *own_line*: its field stands below *path*."""
        try:
            return read()
        except FieldProblem as problem:
            self.add(problem, (*path, *problem.field.split(".")) if own_line else path)
        return None

    def refuse_unknown(self, names: Iterable[str], known: Collection[str], kind: str, path: Path) -> None:
        """Keep a problem for each of *names* that is none of *known*."""
        for name in names:
            if name not in known:
                self.add(unknown(name, name, known, kind=kind), (*path, name))

    def stop_if_any(self) -> None:
        """Raise all of them, in the order of the file.

        Raises:
            Problems: there is at least one.
        """
        if self._all:
            raise Problems(sorted(self._all, key=_line))


def _line(problem: Problem) -> tuple[bool, int]:
    line = problem.place.line if isinstance(problem, FieldProblem) and problem.place else None
    return line is None, line or 0
