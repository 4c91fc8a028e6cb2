"""A workshop that stays open: one store, and the jobs opened lately kept at hand.

A face that serves pages asks this; a command that ends at once asks ``desk``.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from evenpour.errors import FieldProblem, Place
from evenpour.job.adding import add_all, difference
from evenpour.job.answers import AddAnswer
from evenpour.job.catch.kept import kept_on_disk
from evenpour.job.entries import Draft
from evenpour.job.growth import grown
from evenpour.job.instruments import KnownInstrument, known_instruments
from evenpour.job.job import Job, in_journal, job_from
from evenpour.job.opening import stored_job
from evenpour.job.sheet.found import sheet_stamp
from evenpour.job.sheet.page import in_the_book

if TYPE_CHECKING:
    from evenpour.job.store import Listing, Store

AT_HAND = 24  # jobs; one of 250 entries takes about 2 MB
ANSWERS = 200  # of entries just kept, for the page that is shown next
ON_A_PAGE = 50


@dataclass(frozen=True, slots=True)
class Leaf:
    """One page of the list of jobs."""

    jobs: tuple[Listing, ...]
    number: int
    last: int
    found: int


class Shop:
    """All jobs of one workshop, asked by many at once.

    A job is read and understood once for each state of its journal; further questions are answered from that.
    """

    def __init__(self, store: Store) -> None:
        self.store = store
        self._opened: OrderedDict[tuple[int, str | None], _Kept] = OrderedDict()
        self._answers: OrderedDict[tuple[int, str, str | None], AddAnswer] = OrderedDict()
        self._begun: dict[
            str, int
        ] = {}  # by the id under which it was sent, so that a repeat opens no second
        self._lock = threading.Lock()  # one at a time works a job out; the others then find it done

    def open(self, number: int, units: str | None = None) -> Job:
        """The job as its journal stands now.

        Raises:
            FieldProblem: there is no such job.
            Refused: its journal was changed behind evenpour's back.
            Problems: it cannot be understood.
        """
        head = self.store.head(number)
        key = (number, units)
        with self._lock:
            kept = self._opened.get(key)
            if kept is None or kept.head != head or kept.sheet != sheet_stamp(kept.job.sheet_name):
                job = stored_job(self.store, number, units=units)
                with kept_on_disk():
                    job.path()  # the longest of its answers; worked out while nobody else can begin the same
                kept = _Kept(job.chain_head, sheet_stamp(job.sheet_name), job)
                self._opened[key] = kept
            self._opened.move_to_end(key)
            while len(self._opened) > AT_HAND:
                self._opened.popitem(last=False)
            return kept.job

    def head(self, number: int) -> str:
        """What changes with every entry of the job.

        Raises:
            FieldProblem: there is no such job.
        """
        head = self.store.head(number)
        if not head:
            raise FieldProblem("job", number, "is not in this store")
        return head

    def jobs(self, search: str = "", leaf: int = 1) -> Leaf:
        """A page of the list, newest first."""
        found = self.store.count(search)
        last = max(1, -(-found // ON_A_PAGE))
        number = min(max(1, leaf), last)
        jobs = self.store.jobs(search, limit=ON_A_PAGE, offset=(number - 1) * ON_A_PAGE)
        return Leaf(jobs, number, last, found)

    def instruments(self, search: str = "", leaf: int = 1) -> tuple[Leaf, tuple[KnownInstrument, ...]]:
        """A page of the jobs, and what they measured with."""
        found = self.jobs(search, leaf)
        return found, known_instruments(self.store, [one.number for one in found.jobs], date.today())

    def begin(self, engine: Mapping[str, Any], conditions: Mapping[str, str], *, id: str) -> int:
        """Begin a job on a sheet that is there and sound, with what holds for all its readings.

        It begins at no stated time, so that what was read before somebody took up the phone can be entered.

        Raises:
            UnknownName: the sheet is none of the book; a file of this machine is not opened by its path.
            Problems: the job cannot be understood.
        """
        in_the_book(engine["sheet"])
        with self._lock:
            if id not in self._begun:
                drafts = [Draft("engine", engine, id)]
                if conditions:
                    drafts.append(Draft("conditions", conditions, f"{id}.conditions"))
                entries, _ = grown([], drafts, fill_time=False)
                job_from("the new job", entries, place_of=lambda entry, *path: Place())
                self._begun[id] = self.store.import_job(drafts)
            return self._begun[id]

    def keep(
        self, number: int, drafts: Sequence[Draft], *, sure: bool = False, units: str | None = None
    ) -> AddAnswer:
        """Keep entries, all or none; see :func:`evenpour.job.adding.add_all`.

        Raises:
            UnknownName: a correction puts the job on a sheet that is none of the book.
        """
        before = self.open(number, units)
        for one in drafts:
            new = one.content.get("new") if one.kind == "correction" else None
            if isinstance(new, Mapping) and new.get("sheet", before.sheet_name) != before.sheet_name:
                in_the_book(str(new["sheet"]))
        with kept_on_disk():
            answer = add_all(self.store, number, drafts, sure=sure, units=units, before=before)
        self._answers[number, _base(drafts[0].id or answer.entry), units] = answer
        while len(self._answers) > ANSWERS:
            self._answers.popitem(last=False)
        return answer

    def answer(self, number: int, entry: str, units: str | None = None) -> AddAnswer | None:
        """What an entry changed when it came; None if this job has no such entry.

        Entries that were sent together (one id with different endings) are answered together.
        """
        if (number, _base(entry), units) in self._answers:
            return self._answers[number, _base(entry), units]
        job = self.open(number, units)
        ids = [one.id for one in job.entries]
        together = [place for place, one in enumerate(ids) if one == entry or one.startswith(f"{entry}.")]
        if not together:
            return None
        first, last = together[0], together[-1]
        if first == 0:
            return None
        where = in_journal(job.name)

        def upto(count: int) -> Job:
            if count == len(job.entries):
                return job
            return job_from(job.name, job.entries[:count], number=number, place_of=where, units=units)

        return difference(upto(first), upto(last + 1), [ids[place] for place in together])


def _base(entry: str) -> str:
    """The id under which entries were sent together: ``reading-1f`` of ``reading-1f.4``."""
    base, dot, row = entry.rpartition(".")
    return base if dot and row.isdigit() else entry


@dataclass(frozen=True, slots=True)
class _Kept:
    head: str
    sheet: float
    job: Job
