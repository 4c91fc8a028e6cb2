"""Recordings that come through a page: put by as they came, read, and made into readings of a job."""

from __future__ import annotations

import re
import secrets
import shutil
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO, Final

from evenpour.errors import FieldProblem, Problem, Problems, unknown
from evenpour.job.entries import Draft
from evenpour.job.opening import stored_job
from evenpour.job.store import Store
from evenpour.job.trace.answers import TraceAnswer
from evenpour.job.trace.bench import bench
from evenpour.job.trace.clock import H_MIN, MIN_S
from evenpour.job.trace.columns import ROLES, Column, Role, TraceKind, assigned, columns_of
from evenpour.job.trace.layout import layout_of
from evenpour.job.trace.recordings import recordings_folder
from evenpour.job.trace.tracing import CHECKS, TraceAsked, trace_on
from evenpour.job.typed_words import whole
from evenpour.measure.entry_units import offered_units, unit_labels

A_DAY: Final = 24 * 3600.0  # s, for which a recording waits to be kept
PIECE: Final = 1 << 20  # bytes copied at a time
LONGEST_NAME: Final = 80
_TOKEN: Final = re.compile(r"[0-9a-f]{16}")
_SAY_IT: Final = re.compile(r"say it like [a-z_]+=\S+?(?=[,.]?(?: |$))")
_CLOCKS: Final = ((H_MIN, "hours:minutes"), (MIN_S, "minutes:seconds"))
_HINTS: Final = {
    "--column": "Choose it below",
    "--rows": "Say below which lines count",
    "--missing": "If that stands where nothing was read, say so below",
    "--started": "Say below when it began",
}  # for what one would type at a prompt


@dataclass(frozen=True, slots=True)
class Recording:
    """A kind of recording: what it is, and the step whose cautions belong to it."""

    kind: TraceKind
    title: str
    line: str
    step: str


RECORDINGS: Final = (
    Recording("holding", "Pressure after the stop", "how it falls once the pump is off", "read_holding"),
    Recording("warm_up", "Control pressure warming up", "how it climbs, heater on", "read_control_warm"),
    Recording("running", "A drive", "lambda or AFR, best with air flow, speed and load", "road_steady"),
)


@dataclass(frozen=True, slots=True)
class AskedRole:
    """A use of a column: what may be chosen for it, and what is taken now; ``column`` 0 for none."""

    name: str
    says: str
    needed: bool
    column: int
    unclear: bool
    units: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Columns:
    """A file's columns as understood; ``problems`` say what is not clear."""

    columns: tuple[Column, ...]
    roles: tuple[AskedRole, ...]
    problems: tuple[FieldProblem, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TraceRead:
    """What a recording tells, and the readings that would be made of it."""

    answer: TraceAnswer
    drafts: tuple[Draft, ...]


def recording_of(kind: str) -> Recording:
    """The kind of recording of that name.

    Raises:
        UnknownName: there is none.
    """
    found = next((one for one in RECORDINGS if one.kind == kind), None)
    if found is None:
        raise unknown("kind", kind, [one.kind for one in RECORDINGS], kind="kind of recording")
    return found


def take_in(file: BinaryIO, name: str) -> str:
    """Put a recording by, as it came, and answer the word under which it is found again.

    It is copied in pieces. What has waited for more than a day is thrown away.
    """
    _throw_away()
    token = secrets.token_hex(8)
    folder = _waiting() / token
    folder.mkdir(parents=True)
    with (folder / _safe(name)).open("wb") as target:
        shutil.copyfileobj(file, target, PIECE)
    return token


def waiting_file(token: str) -> Path:
    """Where a recording lies that was put by.

    Raises:
        FieldProblem: it is no longer there.
    """
    folder = _waiting() / token
    files = list(folder.iterdir()) if _TOKEN.fullmatch(token) and folder.is_dir() else []
    if not files:
        raise FieldProblem("recording", None, "is no longer here", remedy="Choose the file once more")
    return files[0]


def understood(path: Path, kind: TraceKind, stated: Mapping[str, str], system: str) -> Columns:
    """The columns of a recording, and what each is used for.

    Args:
        stated: What the person said: a use to a column, ``3`` or ``3:psi``.
    Raises:
        FieldProblem: the file cannot be read as columns of figures.
    """
    columns = columns_of(layout_of(path))
    problems: tuple[FieldProblem, ...] = ()
    notes: tuple[str, ...] = ()
    try:
        columns, notes = assigned(columns, kind, stated)
    except Problems as found:
        problems = tuple(one for one in found.all if isinstance(one, FieldProblem))
    taken = {column.role: column.number for column in columns if column.role}
    said = {name: whole(text.partition(":")[0]) or 0 for name, text in stated.items()}
    unclear = {one.field for one in problems}
    roles = tuple(
        AskedRole(role.name, role.says, role.needed, taken.get(role.name, said.get(role.name, 0)),
                  role.name in unclear, _units(role, system))
        for role in ROLES[kind]
    )  # fmt: skip
    return Columns(columns, roles, problems, notes)


def read_trace(store: str, number: int, path: Path, asked: TraceAsked) -> TraceRead:
    """Read a recording for a stored job, without keeping anything: for a process of its own.

    Raises:
        Problem: the file, a column or a word cannot be understood.
    """
    with Store(store) as opened:
        job = stored_job(opened, number, units=asked.units)
    try:
        answer, found = trace_on(path, asked, bench(job, None, asked.words, asked.units))
    except Problem as problem:
        raise Problems(list(on_a_page(problem))) from None
    return TraceRead(answer, tuple(found.drafts))


def entries_of(read: TraceRead, at: str | None, who: str, note: str) -> list[Draft]:
    """The readings as they are kept: each under the name that its recording gives it, so that one recording
    kept twice counts once."""
    more = {name: text for name, text in (("who", who), ("note", note)) if text}
    return [replace(one, at=at or one.at, content={**one.content, **more}) for one in read.drafts]


def on_a_page(problem: Problem) -> Iterator[Problem]:
    """The same problems without what one would type at a prompt."""
    for one in problem.all if isinstance(problem, Problems) else (problem,):
        if isinstance(one, FieldProblem):
            hints = (words for option, words in _HINTS.items() if option in one.remedy)
            one.remedy = next(hints, one.remedy)
        yield one


def note_on_a_page(words: str) -> str:
    """A note without what one would type at a prompt."""
    return _SAY_IT.sub("say it below", words)


def checks_of(kind: TraceKind) -> Sequence[str]:
    """The checks of which such a recording makes readings."""
    return CHECKS[kind]


def _units(role: Role, system: str) -> tuple[tuple[str, str], ...]:
    units = unit_labels(dict.fromkeys((*role.bare, *offered_units(role.dimensions, system))))
    return (*units, *_CLOCKS) if role.name == "time" else units


def _waiting() -> Path:
    return recordings_folder() / "waiting"


def _throw_away() -> None:
    folder = _waiting()
    for one in folder.iterdir() if folder.is_dir() else ():
        if time.time() - one.stat().st_mtime > A_DAY:
            shutil.rmtree(one, ignore_errors=True)


def _safe(name: str) -> str:
    """A file's own name without its folders, or anything that means something to a machine."""
    bare = re.sub(r"[^\w .()+-]", "_", Path(name.replace("\\", "/")).name).strip(" .")
    return bare[-LONGEST_NAME:] or "recording.csv"
