"""From what a person names, a file's path or a stored job's number, to the job."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from evenpour.errors import FieldProblem, Refused
from evenpour.job import chain
from evenpour.job.job import Job, job_from, job_of_file

if TYPE_CHECKING:
    from evenpour.job.store import Store

_NUMBER = re.compile(r"[0-9]{1,9}")


def is_number(ref: str) -> bool:
    """Whether *ref* names a stored job; a file of that name is named by its path, ``./12``."""
    return _NUMBER.fullmatch(ref.strip()) is not None


def own_store() -> Store:
    """The workshop's store."""
    from evenpour.job.store import Store  # slow to load, and a job file needs none

    return Store()


def open_job(ref: str, *, units: str | None = None, store: Store | None = None) -> Job:
    """The job named *ref*: a stored job's number, or the path of a job file.

    Raises:
        FieldProblem: there is neither.
        Problems: it cannot be understood.
    """
    if is_number(ref):
        if store is not None:
            return stored_job(store, int(ref), units=units)
        with own_store() as opened:
            return stored_job(opened, int(ref), units=units)
    path = Path(ref).expanduser()
    if not path.exists():
        raise FieldProblem(
            "job", ref, "is neither a job file nor a stored job's number",
            remedy="Give the file's path, or a number from: evenpour job list",
        )  # fmt: skip
    return job_of_file(path, units=units)


def stored_job(store: Store, number: int, *, units: str | None = None) -> Job:
    """The job of that number.

    Raises:
        Refused: its journal was changed behind evenpour's back: an entry does not fit its hash.
    """
    entries = store.entries(number)
    broken = list(chain.verify(entries))
    if chain.head(entries) != store.head(number):
        broken.append("entries are missing at its end")
    if broken:
        raise Refused(
            f"The journal of job {number} is not as it was entered; nothing is answered from it.", broken
        )
    return job_from(f"job {number}", entries, number=number, units=units)
