"""What is done with stored jobs as a whole: begin, add, list, import, export, close."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenpour.errors import FieldProblem, Refused
from evenpour.job import job_file, photos, tables
from evenpour.job.adding import add
from evenpour.job.answers import AddAnswer
from evenpour.job.catalogue import catalogue
from evenpour.job.closing import closing_content
from evenpour.job.job import job_of_text
from evenpour.job.opening import is_number, open_job, own_store
from evenpour.job.quick_entry import entry_of
from evenpour.job.sheet.found import find_sheet
from evenpour.job.writing import write_json, write_toml
from evenpour.job.writing_files import write_whole

if TYPE_CHECKING:
    from evenpour.job.store import Listing

ENDINGS = (".toml", ".json", ".csv")


def number_of(ref: str) -> int:
    """The number of a stored job.

    Raises:
        Refused: it is a file; a file is its owner's, and is edited or imported.
    """
    if not is_number(ref):
        raise Refused(
            f"{ref} is no stored job's number.",
            ["A job file is its owner's: edit it, or take it in with: evenpour job import FILE"],
        )
    return int(ref)


def new_job(engine: Mapping[str, Any]) -> int:
    """Begin a job; its sheet must be there and sound."""
    find_sheet(engine["sheet"])
    with own_store() as store:
        return store.new_job(engine)


def add_words(
    ref: str,
    words: Sequence[str],
    *,
    at: str | None = None,
    sure: bool = False,
    entry_id: str | None = None,
    units: str | None = None,
) -> AddAnswer:
    """One entry as typed at the car."""
    number = number_of(ref)
    kind, content = entry_of(words, catalogue())
    if sure and kind == "reading":
        content["sure"] = True
    with own_store() as store:
        return add(store, number, kind, content, id=entry_id, at=at, sure=sure, units=units)


def close_job(
    ref: str, said: Mapping[str, Any], causes: Sequence[str] = (), *, suspected: bool = False
) -> AddAnswer:
    """Close the job: the car is handed over, or goes as it is.

    Args:
        said: Who closes it, and the first cause's cylinder where its text does not say.
        causes: What was wrong; see :func:`evenpour.job.closing.closing_content`.
        suspected: Whether that is no more than a suspicion.
    Raises:
        Refused: something is left on the car, a proof is stale, or a caution unread.
    """
    found = closing_content(causes, cylinder=said.get("cylinder"), suspected=suspected)
    with own_store() as store:
        return add(store, number_of(ref), "closed", {**said, **found})


def listed_jobs(search: str = "") -> tuple[Listing, ...]:
    """The stored jobs, newest first."""
    with own_store() as store:
        return store.jobs(search)


def import_job(path: Path) -> int:
    """A job file into the store: understood whole before anything is kept."""
    text = job_file.collect_file(path)
    job_of_text(text, beside=path.parent)
    with own_store() as store:
        return store.import_job(text.entries)


def export_job(ref: str, ending: str) -> str:
    """A job's text in one of :data:`ENDINGS`."""
    job = open_job(ref)
    if ending == ".toml":
        return write_toml(job.entries)
    if ending == ".json":
        return write_json(job.entries)
    if ending == ".csv":
        standing = job.folded.standing
        return f"{tables.readings_csv(standing)}\n{tables.catches_csv(standing)}"
    raise FieldProblem("file", ending, "is no form a job is written in", allowed=", ".join(ENDINGS))


def write_export(ref: str, target: Path) -> tuple[int, int]:
    """A job into a file, whole or not at all, with its photos in a folder beside it.

    Returns:
        How many photos lie there, and how many were not on this machine.
    """
    ending = target.suffix.lower()
    write_whole(target, export_job(ref, ending).encode())
    return (0, 0) if ending == ".csv" else photos.copy_out(open_job(ref).entries, target)


def import_photos(number: int, path: Path) -> tuple[int, int]:
    """Take over the photos that lie beside the file of a job just imported.

    Returns:
        How many of those it names are on this machine now, and how many are missing.
    """
    with own_store() as store:
        return photos.take_in(store.entries(number), path)
