"""Photos on steps and readings: the files among the user's own, the names in the journal.

An entry names a photo by the SHA-256 of its file, so the journal's chain vouches for the picture too. A photo
taken at a step, or of a reading, is a note of its own, which says where it belongs; so it can be corrected or
withdrawn like any other entry. What is withdrawn is shown no more; its file stays until somebody deletes it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from evenpour.errors import Refused
from evenpour.job.entries import Entry
from evenpour.job.history import words_of
from evenpour.job.pictures import cleaned, is_clean, shrunk
from evenpour.job.places import home
from evenpour.job.writing_files import write_whole

if TYPE_CHECKING:
    from evenpour.job.catalogue import Catalogue
    from evenpour.job.fold import Folded

NAME: Final = re.compile(r"([0-9a-f]{64})\.jpg")


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo of a job.

    Attributes:
        name: Its file's name, as the entry says.
        entry: The entry that names it.
        about: The entry it belongs to: the same one, or the one that a note is about.
        step: The step it was taken at; may be empty.
        subject: What it was taken of, in words; may be empty.
        text: What was written under it; may be empty.
        here: Whether its file lies on this machine.
    """

    name: str
    entry: str
    about: str
    step: str
    subject: str
    text: str
    who: str
    at: str | None
    here: bool

    @property
    def mark(self) -> str:
        """A short name that finds it again: the beginning of its hash."""
        return self.name[:6] if NAME.fullmatch(self.name) else self.name


def by_subject(taken: Iterable[Photo]) -> dict[str, tuple[Photo, ...]]:
    """Photos by the entry that they belong to."""
    found: dict[str, tuple[Photo, ...]] = {}
    for one in taken:
        found[one.about] = (*found.get(one.about, ()), one)
    return found


def photos_folder() -> Path:
    """Where they lie."""
    return home() / "photos"


def keep(data: bytes) -> str:
    """Keep a photo, made small and clean; the name by which an entry names it.

    Raises:
        FieldProblem: it is no picture, too large, or cut off.
        Refused: it cannot be written.
    """
    picture = cleaned(data)
    name = f"{hashlib.sha256(picture.full).hexdigest()}.jpg"
    _put(name, picture.full, picture.small)
    return name


def picture(name: str, *, small: bool = False) -> bytes | None:
    """A photo's file; None if it is none of ours, or not on this machine."""
    if not NAME.fullmatch(name):
        return None
    full, little = photos_folder() / name, photos_folder() / _small(name)
    if small and not little.is_file() and full.is_file():
        return shrunk(full.read_bytes())  # somebody put the file there by hand
    file = little if small else full
    return file.read_bytes() if file.is_file() else None


def photo_count(folded: Folded) -> int:
    """How many photos stand on the job."""
    return sum(len(names_in(one.content)) for one in folded.standing)


def photos_of(folded: Folded, known: Catalogue) -> list[Photo]:
    """Every photo that stands on the job, in the order of the journal."""
    if not photo_count(folded):
        return []
    standing = {one.entry.id: one for one in folded.standing}
    titles = {table["id"]: table["title"] for table in known.steps}
    found: list[Photo] = []
    for one in folded.standing:
        names = names_in(one.content)
        if not names:
            continue
        step = str(one.content.get("id" if one.kind == "step" else "step", ""))
        about = str(one.content.get("about", one.entry.id))
        of = standing.get(about)
        own_note = one.kind == "note" and about == one.entry.id
        subject = titles.get(step, "") if own_note or of is None else words_of(of.kind, of.content, known)
        found += [
            Photo(
                name=name,
                entry=one.entry.id,
                about=about,
                step=step,
                subject=subject,
                text=str(one.content.get("text", "")) if one.kind == "note" else "",
                who=str(one.content.get("who", "")),
                at=one.at,
                here=is_here(name),
            )
            for name in names
        ]
    return found


def names_in(content: Mapping[str, Any]) -> list[str]:
    """The photos that an entry names."""
    said = content.get("photo", [])
    return [said] if isinstance(said, str) else list(said)


def is_here(name: str) -> bool:
    """Whether the file lies on this machine."""
    return NAME.fullmatch(name) is not None and (photos_folder() / name).is_file()


def folder_beside(file: Path) -> Path:
    """Where the photos of a job file lie: ``job.toml`` has them in ``job-photos``."""
    return file.with_name(f"{file.stem}-photos")


def copy_out(entries: Iterable[Entry], file: Path) -> tuple[int, int]:
    """Copy the photos that entries name into the folder beside a job file; how many, and how many are gone.

    Raises:
        Refused: the folder cannot be written to.
    """
    copied = missing = 0
    for name in _ours(entries):
        data = picture(name)
        if data is None:
            missing += 1
            continue
        target = folder_beside(file)
        try:
            target.mkdir(exist_ok=True)
        except OSError as error:
            raise Refused("The photos cannot be copied.", [f"{target}: {error.strerror or error}"]) from None
        write_whole(target / name, data)
        copied += 1
    return copied, missing


def take_in(entries: Iterable[Entry], file: Path) -> tuple[int, int]:
    """Take over the photos that lie beside a job file; how many there are now, and how many are missing.

    Only what the journal vouches for is taken: a file whose hash is its name, and that is a clean photo.
    """
    there = missing = 0
    for name in _ours(entries):
        if is_here(name) or _taken(folder_beside(file) / name):
            there += 1
        else:
            missing += 1
    return there, missing


def _taken(file: Path) -> bool:
    if not file.is_file():
        return False
    data = file.read_bytes()
    if f"{hashlib.sha256(data).hexdigest()}.jpg" != file.name or not is_clean(data):
        return False
    _put(file.name, data, shrunk(data))
    return True


def _ours(entries: Iterable[Entry]) -> Iterator[str]:
    """Every photo of ours that any of the entries names, each once; corrections may name some too."""
    seen: set[str] = set()
    for entry in entries:
        new = entry.content.get("new")
        for content in (entry.content, new if isinstance(new, Mapping) else {}):
            for name in names_in(content):
                if NAME.fullmatch(name) and name not in seen:
                    seen.add(name)
                    yield name


def _put(name: str, full: bytes, small: bytes) -> None:
    folder = photos_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise Refused("The photo cannot be kept.", [f"{folder}: {error.strerror or error}"]) from None
    if not (folder / name).is_file():
        write_whole(folder / _small(name), small)
        write_whole(folder / name, full)


def _small(name: str) -> str:
    return name.replace(".jpg", ".small.jpg")
