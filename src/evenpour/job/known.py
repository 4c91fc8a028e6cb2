"""What a new entry must agree with: the entries a job holds already."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from typing import Any

from evenpour.errors import FieldProblem, unknown
from evenpour.job import times
from evenpour.job.complaints import Fault, article, no_such_field
from evenpour.job.entries import Draft, Entry
from evenpour.job.fold import SHOW
from evenpour.job.forms import OWN_ID, SINGLE
from evenpour.job.hashes import canonical
from evenpour.job.rules import faults, own_id


class Known:
    """The entries so far, as far as a new one must agree with them.

    A file is checked as a whole, so it may name an instrument that stands further down: such names are added
    first, with :meth:`add_instruments_of`.
    """

    def __init__(self) -> None:
        self._by_id: dict[str, Draft | Entry] = {}
        self._place: dict[str, int] = {}
        self._own: dict[tuple[str, str], list[str]] = {}
        self._instruments: set[str] = set()
        self._single: set[str] = set()

    def __contains__(self, entry_id: str) -> bool:
        return entry_id in self._by_id

    def get(self, entry_id: str) -> Draft | Entry | None:
        """The entry of that id, if there is one."""
        return self._by_id.get(entry_id)

    def add(self, entry: Draft | Entry) -> None:
        """Takes an entry that :meth:`faults` has nothing against."""
        if entry.id is None:
            raise ValueError("only an entry with an id can be known")
        self._by_id[entry.id] = entry
        self._place[entry.id] = len(self._place)
        name = own_id(entry.kind, entry.content)
        if name is not None:
            self._own.setdefault((entry.kind, name), []).append(entry.id)
        if entry.kind in SINGLE:
            self._single.add(entry.kind)
        self.add_instruments_of(entry)

    def add_instruments_of(self, entry: Draft | Entry) -> None:
        """Takes the names of instruments that an entry brings, itself or as a correction."""
        content: Any = entry.content
        while entry.kind == "correction" and isinstance(content, Mapping) and "new" in content:
            content = content["new"]
        if entry.kind in {"instrument", "correction"} and isinstance(content, Mapping):
            name = content.get("id")
            if isinstance(name, str):
                self._instruments.add(name)

    def meant(self, name: str) -> str:
        """The id of the entry that a correction names.

        People may name an instrument, step or caution by its own id where only one entry has it.
        """
        if name in self._by_id:
            return name
        own = [ids for (_, known), ids in self._own.items() if known == name]
        return own[0][0] if len(own) == 1 and len(own[0]) == 1 else name

    def faults(self, draft: Draft | Entry) -> Iterator[Fault]:
        """What is wrong with a sound draft beside the entries there are, with paths inside its content."""
        yield from self._faults(draft.kind, draft.content)
        if draft.kind in SINGLE and draft.kind in self._single:
            yield (
                (),
                FieldProblem(
                    draft.kind, None, "stands twice", remedy="Mend the first one with a correction."
                ),
            )
        name = own_id(draft.kind, draft.content)
        if draft.kind == "instrument" and name is not None and (draft.kind, name) in self._own:
            yield (
                ("id",),
                FieldProblem(
                    "id",
                    name,
                    "names two instruments",
                    remedy="Give the second another id, or mend the first with a correction.",
                ),
            )

    def _faults(self, kind: str, content: Mapping[str, Any], before: str | None = None) -> Iterator[Fault]:
        instrument = content.get("instrument")
        if (
            kind in {"reading", "catch"}
            and isinstance(instrument, str)
            and instrument not in self._instruments
        ):
            yield from self._undescribed(kind, instrument)
        about = content.get("about") if kind == "note" else None
        if about is not None and about not in self._by_id:
            kind_of = "id of an entry before this note"
            yield ("about",), unknown("about", about, self._by_id, kind=kind_of, listed_by=SHOW)
        if kind == "correction":
            yield from self._correction(content, before)

    def _undescribed(self, kind: str, instrument: str) -> Iterator[Fault]:
        """A container needs no description: every catch is caught in some. A slip is asked about."""
        near = difflib.get_close_matches(instrument, self._instruments, n=1, cutoff=0.6)
        if kind == "catch" and not near:
            return
        if self._instruments:
            names = sorted(self._instruments)
            yield ("instrument",), unknown("instrument", instrument, names, kind="instrument of this job")
        else:
            remedy = "Add an [[instrument]] with this id."
            yield ("instrument",), FieldProblem("instrument", instrument, "is not described", remedy=remedy)

    def _correction(self, content: Mapping[str, Any], before: str | None) -> Iterator[Fault]:
        """A correction names an entry before it, or, as the new content of a correction, before that one.

        So corrections of corrections never run in a ring.
        """
        of = content["of"]
        mended = self._by_id.get(of)
        if mended is None or (before is not None and self._place[of] >= self._place[before]):
            yield (
                ("of",),
                unknown("of", of, self._by_id, kind="id of an entry before this correction", listed_by=SHOW),
            )
            return
        if content.get("new") is not None:
            for path, problem in self._new(of, mended.kind, content["new"]):
                yield ("new", *path), problem

    def _new(self, of: str, kind: str, new: Mapping[str, Any]) -> Iterator[Fault]:
        """Faults of a correction's new content, which takes the place of an entry of that kind."""
        content = dict(new)
        at = content.pop("at", None)
        if at is not None:
            try:
                times.read_time(at)
            except FieldProblem as problem:
                yield ("at",), problem
        for name in ("entered", "entry", *(() if kind in OWN_ID else ("id",))):
            if name in content:
                yield (name,), no_such_field(kind, name)
                del content[name]
        found = faults(kind, content)
        yield from found
        if not found:
            yield from self._faults(kind, content, of)


def same(one: Draft | Entry, other: Draft | Entry) -> bool:
    """Whether two entries of the same id say the same."""
    return (one.kind, one.at) == (other.kind, other.at) and canonical(one.content) == canonical(other.content)


def other_content(draft: Draft | Entry) -> FieldProblem:
    """For an id that came again with something else in it."""
    return FieldProblem(
        "id",
        draft.id,
        f"is the id of another entry already, and this {article(draft.kind).split()[-1]} says something else",
        remedy="Give it an id of its own, or write a correction.",
    )
