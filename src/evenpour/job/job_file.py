"""Job files in: TOML or JSON text to the entries of a job, with every problem found at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path as FilePath
from typing import Any, Final

from evenpour.data import located as files
from evenpour.data.located import Located
from evenpour.errors import FieldProblem, Place, Problem, Problems, UnknownName, unknown
from evenpour.job import chain, times
from evenpour.job.complaints import Path, article
from evenpour.job.corrections import is_flat, plain_correction
from evenpour.job.entries import Draft, Entry, checked_id, linked
from evenpour.job.forms import IN_TIME, KINDS, OWN_ID, SINGLE
from evenpour.job.known import Known, other_content, same
from evenpour.job.rules import faults, plain_content
from evenpour.job.writing import FORMAT, write_json, write_toml

__all__ = [
    "FORMAT",
    "JobText",
    "collect",
    "collect_file",
    "read_bytes",
    "read_file",
    "read_text",
    "write_json",
    "write_toml",
]

_TOP: Final = ("format", "chain")
# A workshop's computer whose clock battery is flat may be years behind; a sound file is not refused for that.
BEHIND: Final = timedelta(days=3650)


@dataclass(frozen=True, slots=True)
class JobText:
    """What a job file says.

    Attributes:
        name: The file's name as shown.
        engine: The content of ``[engine]``; empty if it is missing.
        entries: In sequence: what a store entered before, by ``entered``; then the rest in the file's order.
        problems: What is wrong with the form, in order of the file; entries that carry a fault are left out
            of ``entries``. Always empty in what :func:`read_text` returns.
    """

    name: str
    engine: Mapping[str, Any]
    entries: tuple[Entry, ...]
    problems: tuple[Problem, ...]
    located: Located
    paths: Mapping[str, Path]

    def place(self, entry_id: str, *path: str | int) -> Place:
        """Where an entry stands, or a field of it: ``text.place("reading-3", "conditions", "after")``."""
        base = self.paths.get(entry_id, ())
        place = self.located.place((*base, *path))
        if path[:1] == ("new",) and "new" not in _inside(self.located.values, base):
            return self.located.place((*base, *path[1:]))
        return place


def read_text(text: str, name: str, *, now: datetime | None = None) -> JobText:
    """The job that a file's text holds.

    Args:
        text: TOML, or JSON where it opens with ``{`` or the name ends in ``.json``.
        name: The file's name for complaints.
        now: The latest moment known; if not given the clock's, and as much more as it may be behind.
    Raises:
        Problems: all that is wrong with the form, in order of the file, each with its place.
    """
    return _sound(collect(text, name, now=now))


def read_bytes(data: bytes, name: str, *, now: datetime | None = None) -> JobText:
    """As :func:`read_text`, from the bytes of a file or an upload."""
    try:
        text = files.decoded(data, name)
    except FieldProblem as problem:
        raise Problems([problem]) from None
    return read_text(text, name, now=now)


def read_file(path: FilePath | str, *, now: datetime | None = None) -> JobText:
    """As :func:`read_text`, from a file on disk; a file that cannot be read is a problem too."""
    return _sound(collect_file(path, now=now))


def collect_file(path: FilePath | str, *, now: datetime | None = None) -> JobText:
    """As :func:`collect`, from a file on disk."""
    try:
        located = files.read_file(FilePath(path))
    except FieldProblem as problem:
        raise Problems([problem]) from None
    return _collected(located, now)


def collect(text: str, name: str, *, now: datetime | None = None) -> JobText:
    """As :func:`read_text`, but returns the problems, so that others can be added before all are raised.

    Raises:
        Problems: the text is no TOML or JSON at all.
    """
    is_json = name.lower().endswith(".json") or text.lstrip("\ufeff \t\r\n").startswith("{")
    try:
        located = files.read_json(text, name) if is_json else files.read_toml(text, name)
    except FieldProblem as problem:
        raise Problems([problem]) from None
    return _collected(located, now)


def _sound(read: JobText) -> JobText:
    if read.problems:
        raise Problems(read.problems)
    return read


def _inside(values: Any, path: Sequence[str | int]) -> Any:
    for step in path:
        values = values[step]
    return values


@dataclass(slots=True)
class _Table:
    """One table of the file on its way to an entry."""

    kind: str
    path: Path
    draft: Draft
    line: int


class _Reader:
    def __init__(self, located: Located, now: datetime | None) -> None:
        self.located = located
        self.now = now or datetime.now(UTC) + BEHIND
        self.found: list[FieldProblem] = []

    def complain(self, path: Path, problem: FieldProblem) -> None:
        self.found.append(problem.at(self.located.place(path)))

    def top(self) -> Iterator[tuple[str, Path, dict[str, Any]]]:
        """The tables of entries, in the order of kinds."""
        values = self.located.values
        self._format(values.get("format"))
        for name in values:
            if name not in _TOP and name not in KINDS:
                near = unknown(name, name, (*_TOP, *KINDS), kind="table of a job file")
                self.complain((name,), UnknownName(name, None, near.trouble, remedy=near.remedy))
        for kind in KINDS:
            if kind not in values:
                continue
            if kind in SINGLE:
                yield from self._single(kind, values[kind])
            else:
                yield from self._several(kind, values[kind])

    def _format(self, said: object) -> None:
        if said is None:
            self.complain(
                (),
                FieldProblem(
                    "format", None, "is missing", remedy=f'Begin the file with format = "{FORMAT}".'
                ),
            )
        elif said != FORMAT:
            newer = isinstance(said, str) and said.startswith("evenpour-job/")
            self.complain(
                ("format",),
                FieldProblem(
                    "format",
                    said,
                    "is no form this version reads" if newer else "is no job file's form",
                    allowed=FORMAT,
                ),
            )

    def _single(self, kind: str, table: object) -> Iterator[tuple[str, Path, dict[str, Any]]]:
        if isinstance(table, dict):
            yield kind, (kind,), table
        elif isinstance(table, list):
            self.complain(
                (kind,), FieldProblem(kind, None, "stands once in a job", remedy=f"Write [{kind}] once.")
            )
        else:
            self.complain((kind,), FieldProblem(kind, table, "is no table", remedy=f"Write [{kind}]."))

    def _several(self, kind: str, tables: object) -> Iterator[tuple[str, Path, dict[str, Any]]]:
        remedy = f"Write [[{kind}]], with two brackets, above each."
        if not isinstance(tables, list):
            self.complain((kind,), FieldProblem(kind, None, "is not a list of entries", remedy=remedy))
            return
        for count, table in enumerate(tables):
            if isinstance(table, dict):
                yield kind, (kind, count), table
            else:
                self.complain((kind, count), FieldProblem(kind, table, "is no table", remedy=remedy))

    def table(self, kind: str, path: Path, raw: Mapping[str, Any]) -> _Table:
        """A draft from one table: the entry's id and times apart from its own fields."""
        content = dict(raw)
        id_name = "entry" if kind in OWN_ID else "id"
        entry_id = self._asked(path, id_name, content, lambda value: checked_id(value, field=id_name))
        if kind == "correction" and entry_id is not None and entry_id == content.get("of"):
            entry_id = None  # the id was copied with the new content
        entered = self._asked(path, "entered", content, times.read_entered)
        now = None if entered else self.now  # what a store took once is not questioned again
        at = self._asked(path, "at", content, lambda value: times.read_time(value, now=now))
        draft = Draft(kind, plain_content(kind, content), entry_id, at, entered)
        return _Table(kind, path, draft, self.located.place(path).line or 0)

    def _asked(self, path: Path, name: str, content: dict[str, Any], read: Any) -> str | None:
        value = content.pop(name, None)
        if value is None:
            return None
        try:
            text: str = read(value)
        except FieldProblem as problem:
            self.complain((*path, name), problem)
            return None
        return text


def _collected(located: Located, now: datetime | None) -> JobText:
    reader = _Reader(located, now)
    tables = [reader.table(*found) for found in reader.top()]
    if not any(table.kind == "engine" for table in tables) and "engine" not in located.values:
        reader.complain(
            (),
            FieldProblem(
                "engine", None, "is missing", remedy='Write [engine] and under it sheet = "flat-six".'
            ),
        )
    in_sequence = sorted(
        tables, key=lambda table: (table.draft.entered is None, table.draft.entered or "", table.line)
    )
    _name(in_sequence)
    _ask_for_times(reader, tables)
    known, paths = _checked(reader, in_sequence)
    entries = linked(known)
    if not reader.found:
        _check_chain(reader, entries)
    order = {id(problem): count for count, problem in enumerate(reader.found)}
    problems = sorted(reader.found, key=lambda problem: (_line(problem), order[id(problem)]))
    engine = next((entry.content for entry in entries if entry.kind == "engine"), {})
    return JobText(located.file, engine, entries, tuple(problems), located, paths)


def _line(problem: FieldProblem) -> int:
    return (problem.place.line or 0) if problem.place else 0


def _name(tables: Sequence[_Table]) -> None:
    """Gives every entry without an id one that the same file always gives: ``reading-3``, counted by kind."""
    taken = {table.draft.id for table in tables}
    for table in tables:
        if table.draft.id is not None:
            continue
        wanted = _usual_id(table)
        while wanted in taken:
            wanted += "-"
        table.draft = replace(table.draft, id=wanted)
        if table.kind != "instrument":  # the same instrument twice is the same entry
            taken.add(wanted)


def _usual_id(table: _Table) -> str:
    own = table.draft.content.get("id")
    if table.kind == "instrument" and isinstance(own, str):
        return f"instrument-{own}"[:200]
    return table.kind if table.kind in SINGLE else f"{table.kind}-{int(table.path[-1]) + 1}"


def _ask_for_times(reader: _Reader, tables: Sequence[_Table]) -> None:
    dividing = {"move", "did"} & {table.kind for table in tables}
    if not dividing:
        return
    for table in tables:
        given = table.draft.at is not None or "at" in _inside(reader.located.values, table.path)
        if table.kind in IN_TIME and not given and table.draft.entered is None:
            reader.complain(
                table.path,
                FieldProblem(
                    "at",
                    None,
                    f"is missing from {article(table.kind)}",
                    allowed="a day and time like 2026-05-03T10:12:00",
                    remedy="In a file with [[did]] or [[move]] only times tell what came before them.",
                ),
            )


def _checked(reader: _Reader, tables: Sequence[_Table]) -> tuple[list[Draft], dict[str, Path]]:
    known = Known()
    for table in tables:
        known.add_instruments_of(table.draft)
    sound: list[Draft] = []
    paths: dict[str, Path] = {}
    seen: dict[str, Draft] = {}
    for table in tables:
        draft, flat = table.draft, False
        if table.kind == "correction":
            target = draft.content.get("of")
            mended = known.get(known.meant(target)) if isinstance(target, str) else None
            flat = is_flat(draft.content, mended)
            draft = replace(draft, content=plain_correction(draft.content, known))
        entry_id = draft.id or ""
        if entry_id in seen and _twice(seen[entry_id], draft):
            continue
        wrong = faults(draft.kind, draft.content)
        if not wrong:
            wrong = list(known.faults(draft))
        if not wrong and entry_id in seen:
            wrong = [(("entry" if draft.kind in OWN_ID else "id",), other_content(draft))]
        for path, problem in wrong:
            inside = path[1:] if flat and path[:1] == ("new",) else path
            reader.complain((*table.path, *inside), problem)
        if (
            entry_id not in seen
        ):  # known with its faults too, so that its corrections draw no second complaint
            seen[entry_id] = draft
            known.add(draft)
        if not wrong:
            paths[entry_id] = table.path
            sound.append(draft)
    return sound, paths


def _twice(first: Draft, second: Draft) -> bool:
    try:
        return same(first, second)
    except (TypeError, ValueError):  # a date or a number that is none: named as a fault of its own
        return False


def _check_chain(reader: _Reader, entries: Sequence[Entry]) -> None:
    said = reader.located.values.get("chain")
    if said is None:
        return
    vouched = chain.head(entry for entry in entries if entry.entered is not None)
    if said != vouched:
        reader.complain(
            ("chain",),
            FieldProblem(
                "chain",
                said,
                "does not fit the entries: something was changed, added or left out after the export",
                remedy="Take the export as it was and mend it with a [[correction]]; or, if the change is "
                "yours and you stand by it, delete the line that begins with chain.",
            ),
        )
