"""The store of jobs: an append-only journal for each, in SQLite or PostgreSQL.

What is acknowledged is on disk. Two who append at once take turns, and the same entry sent twice counts once.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sql
from sqlalchemy.exc import DBAPIError

from evenpour.errors import FieldProblem, Refused
from evenpour.job import store_tables as tables
from evenpour.job import times
from evenpour.job.entries import Draft, Entry
from evenpour.job.fold import fold
from evenpour.job.growth import as_draft, grown
from evenpour.job.hashes import START
from evenpour.job.places import default_address
from evenpour.job.store_connection import WRITE, address, engine_for, patiently, reason, shown

NEAR_THE_END = 40  # entries, among which a closing is looked for first
HIGHEST = 2**31 - 1  # the number of a job; what its column holds in every kind of store
_NUMBER: Final = re.compile(r"[0-9]{1,9}")


@dataclass(frozen=True, slots=True)
class Listing:
    """One job in the list.

    Attributes:
        number: The job's number in this store.
        created: When it was opened, UTC.
        last_entered: When the newest entry came, UTC.
        entries: How many entries it has.
        sheet, car, workshop: As ``[engine]`` says now; empty if it does not.
        closed: Whether a ``closed`` entry stands.
    """

    number: int
    created: str
    last_entered: str | None
    entries: int
    sheet: str
    car: str
    workshop: str
    closed: bool


@dataclass(frozen=True, slots=True)
class ClosedJob:
    """A closed job's number, when its closing was entered (UTC), and what the closing says now."""

    number: int
    entered: str
    content: Mapping[str, Any]


class Store:
    """All jobs of one workshop.

    Args:
        where: A path, a URL (``sqlite:///...``, ``postgresql://...``), or nothing for the default path.
    Raises:
        Refused: it cannot be opened, or a newer version made it.
    """

    def __init__(self, where: str | Path | None = None) -> None:
        self.url = address(default_address() if where is None else where)
        self._engine = engine_for(self.url)
        try:
            with self._mended():
                patiently(lambda: tables.migrate(self._connect_to_write))
        except Exception:
            self.close()
            raise

    def close(self) -> None:
        """Lets go of the files or the server."""
        self._engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def new_job(self, engine: Mapping[str, Any], *, id: str | None = None, at: str | None = None) -> int:
        """Opens a job with its ``[engine]``, and answers its number.

        Raises:
            Problems: the engine's fields are not right.
        """
        return self.import_job([Draft("engine", engine, id or "engine", at)])

    def append(
        self, job: int, kind: str, content: Mapping[str, Any], *, id: str | None = None, at: object = None
    ) -> Entry:
        """Adds one entry; when this returns, it is on disk.

        Args:
            id: Made by the sender, so that a repeat counts once; made here if not given.
            at: When it was so on the car (text or datetime); now, if not given.
        Returns:
            The entry; if the same came before under this id, that one.
        Raises:
            Refused: the id has other content already, or the correction names no entry of this job.
            Problems: the entry's fields are not right.
            FieldProblem: there is no such job.
        """
        sent = Draft(kind, content, id, _read_at(at))
        with self._writing() as connection:
            return self._append(connection, job, [sent], fill_time=True)[0]

    def append_many(
        self, job: int, drafts: Iterable[Draft | Entry], *, fill_time: bool = False
    ) -> tuple[Entry, ...]:
        """As :meth:`append`, for several, all or none.

        ``at`` stays as it is, unless *fill_time* says that what has none is of now. ``entered`` is kept
        where it is later than what the job holds, so that an export comes back with its hashes.
        """
        sent = [as_draft(one) for one in drafts]
        with self._writing() as connection:
            return self._append(connection, job, sent, fill_time=fill_time)

    def import_job(self, drafts: Iterable[Draft | Entry]) -> int:
        """A new job with all these entries, and its number: ``store.import_job(read_file(path).entries)``."""
        sent = [as_draft(one) for one in drafts]
        created = times.stamp(datetime.now(UTC))
        with self._writing() as connection:
            made = connection.execute(
                tables.jobs.insert().values(
                    created=created,
                    last_seq=0,
                    last_hash=START,
                    last_entered=None,
                    sheet="",
                    car="",
                    workshop="",
                    closed=0,
                    search="",
                )
            )
            number = int((made.inserted_primary_key or (0,))[0])
            self._append(connection, number, sent, fill_time=False)
        return number

    def _append(
        self, connection: sql.Connection, job: int, drafts: Sequence[Draft], *, fill_time: bool
    ) -> tuple[Entry, ...]:
        _could_be(job)
        # The job's row is the lock under which its journal grows (SQLite has one lock for all).
        row = connection.execute(
            sql.select(tables.jobs.c.number).where(tables.jobs.c.number == job).with_for_update()
        ).first()
        if row is None:
            raise _no_job(job)
        journal = list(_entries(connection, job))
        added, answers = grown(journal, drafts, fill_time=fill_time)
        if added:
            connection.execute(tables.entries.insert(), [_row(job, entry) for entry in added])
            last = added[-1]
            summary = _summary([*journal, *added]) if _touches_summary(added) else {}
            connection.execute(
                tables.jobs.update()
                .where(tables.jobs.c.number == job)
                .values(last_seq=last.seq, last_hash=last.hash, last_entered=last.entered, **summary)
            )
        return answers

    def entries(self, job: int) -> tuple[Entry, ...]:
        """All entries of a job in sequence.

        Raises:
            FieldProblem: there is no such job.
        """
        _could_be(job)
        with self._reading() as connection:
            found = tuple(_entries(connection, job))
            if not found and not connection.scalar(_count(tables.jobs.c.number == job)):
                raise _no_job(job)
        return found

    def instruments(self, jobs: Sequence[int]) -> tuple[tuple[int, Mapping[str, Any]], ...]:
        """The instruments of these jobs as they stand: the job's number, and what is stated."""
        columns = tables.entries.c
        query = (
            sql.select(tables.entries)
            .where(columns.job.in_(jobs), columns.kind.in_(("instrument", "correction")))
            .order_by(columns.job, columns.seq)
        )
        found: dict[int, dict[str, Entry]] = {}
        with self._reading() as connection:
            for row in connection.execute(query):
                entry, kept = _entry(row), found.setdefault(row.job, {})
                if entry.kind == "instrument" or entry.content.get("of") in kept:
                    kept[entry.id] = entry  # a correction only where it is one of an instrument
        return tuple(
            (number, one.content) for number in found for one in fold(list(found[number].values())).standing
        )

    def head(self, job: int) -> str:
        """The hash of the newest entry as it was when it was kept; "" for a job that is not there."""
        if job > HIGHEST:
            return ""
        with self._reading() as connection:
            query = sql.select(tables.jobs.c.last_hash).where(tables.jobs.c.number == job)
            return str(connection.scalar(query) or "")

    def jobs(self, search: str = "", *, limit: int = 100, offset: int = 0) -> tuple[Listing, ...]:
        """Jobs where every word of *search* occurs (number, car, chassis, workshop, sheet), newest first."""
        columns = tables.jobs.c
        query = (
            sql.select(tables.jobs)
            .where(*_found(search))
            .order_by(columns.last_entered.desc(), columns.number.desc())
        )
        with self._reading() as connection:
            rows = connection.execute(query.limit(limit).offset(offset)).mappings().all()
        return tuple(_listing(row) for row in rows)

    def count(self, search: str = "") -> int:
        """How many jobs :meth:`jobs` finds in all."""
        with self._reading() as connection:
            return int(connection.scalar(_count(*_found(search))) or 0)

    def closed_stamp(self) -> str:
        """What changes whenever a job is closed or opened again, or a closed one mended."""
        columns = tables.jobs.c
        query = sql.select(sql.func.count(), sql.func.max(columns.last_entered)).where(columns.closed == 1)
        with self._reading() as connection:
            count, newest = connection.execute(query).one()
        return f"{count} {newest}"

    def closings(self) -> tuple[ClosedJob, ...]:
        """Every closed job with its closing entry as it stands, by number.

        What follows a closing is notes and corrections, so it lies near a journal's end; only where there are
        corrections, or it does not, is the whole journal read.
        """
        jobs, entries = tables.jobs.c, tables.entries.c
        near = (
            sql.select(tables.entries)
            .join_from(tables.jobs, tables.entries, jobs.number == entries.job)
            .where(jobs.closed == 1, entries.seq > jobs.last_seq - NEAR_THE_END)
            .where(entries.kind.in_(("closed", "correction")))
            .order_by(entries.job, entries.seq)
        )
        with self._reading() as connection:
            numbers = connection.scalars(sql.select(jobs.number).where(jobs.closed == 1)).all()
            last: dict[int, Entry] = {}
            for row in connection.execute(near):
                last[row.job] = _entry(row)
            found = []
            for number in sorted(numbers):
                entry = last.get(number)
                if entry is not None and entry.kind == "closed":
                    found.append(ClosedJob(number, entry.entered or "", entry.content))
                    continue
                standing = fold(list(_entries(connection, number))).standing
                found += [
                    ClosedJob(number, one.entry.entered or "", one.content)
                    for one in standing
                    if one.kind == "closed"
                ][-1:]
        return tuple(found)

    def _connect_to_write(self) -> sql.Connection:
        return self._engine.connect().execution_options(**{WRITE: True})

    @contextmanager
    def _writing(self) -> Iterator[sql.Connection]:
        with self._mended(), self._connect_to_write() as connection, connection.begin():
            yield connection

    @contextmanager
    def _reading(self) -> Iterator[sql.Connection]:
        with self._mended(), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def _mended(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            raise Refused(f"The store {shown(self.url)} cannot be used.", [reason(error)]) from error


def _read_at(at: object) -> str | None:
    return None if at is None else times.read_time(at, now=datetime.now(UTC))


def _touches_summary(added: Sequence[Entry]) -> bool:
    return any(entry.kind in {"engine", "closed", "correction"} for entry in added)


def _summary(journal: Sequence[Entry]) -> dict[str, Any]:
    standing = fold(journal).standing
    engine = next((one.content for one in standing if one.kind == "engine"), {})
    words = ("sheet", "car", "chassis", "engine_number", "workshop", "note")
    return {
        "sheet": engine.get("sheet", ""),
        "car": engine.get("car", ""),
        "workshop": engine.get("workshop", ""),
        "closed": int(any(one.kind == "closed" for one in standing)),
        "search": " ".join(str(engine[word]) for word in words if word in engine).casefold(),
    }


def _entries(connection: sql.Connection, job: int) -> Iterator[Entry]:
    columns = tables.entries.c
    query = sql.select(tables.entries).where(columns.job == job).order_by(columns.seq)
    for row in connection.execute(query):
        yield _entry(row)


def _entry(row: Any) -> Entry:
    return Entry(
        row.seq, row.id, row.at, row.entered, row.kind, json.loads(row.content), row.previous, row.hash
    )


def _row(job: int, entry: Entry) -> dict[str, Any]:
    return {
        "job": job,
        "seq": entry.seq,
        "id": entry.id,
        "at": entry.at,
        "entered": entry.entered,
        "kind": entry.kind,
        "content": json.dumps(dict(entry.content), ensure_ascii=False, allow_nan=False),
        "previous": entry.previous,
        "hash": entry.hash,
    }


def _listing(row: sql.RowMapping) -> Listing:
    return Listing(
        number=row["number"],
        created=row["created"],
        last_entered=row["last_entered"],
        entries=row["last_seq"],
        sheet=row["sheet"],
        car=row["car"],
        workshop=row["workshop"],
        closed=bool(row["closed"]),
    )


def _found(search: str) -> Iterator[sql.ColumnElement[bool]]:
    """What a job must meet to be found: each word somewhere in it, or its number."""
    for word in search.casefold().split():
        numbered = tables.jobs.c.number == int(word) if _NUMBER.fullmatch(word) else sql.false()
        yield tables.jobs.c.search.contains(word, autoescape=True) | numbered


def _count(*where: sql.ColumnElement[bool]) -> sql.Select[int]:
    return sql.select(sql.func.count()).select_from(tables.jobs).where(*where)


def _could_be(job: int) -> None:
    """A number that no job can have is not asked for: a store answers that with a fault of its own."""
    if job > HIGHEST:
        raise _no_job(job)


def _no_job(job: int) -> FieldProblem:
    return FieldProblem("job", job, "is not in this store", remedy="See the list of jobs for their numbers.")
