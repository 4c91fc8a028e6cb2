"""An entry laid open to be mended: what it says, its fields as they stand, what a person made of them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from evenpour.errors import unknown
from evenpour.job.fold import Standing
from evenpour.job.forms import ACTIONS, THROUGH, field_names
from evenpour.job.history import history
from evenpour.job.typed_words import accuracy_class, whole
from evenpour.measure.unit_table import units_named

if TYPE_CHECKING:
    from evenpour.job.catalogue import Catalogue
    from evenpour.job.job import Job

_LEFT_OUT = frozenset({"photo", "file", "sha256", "rows", "about", "step", "who"})
_YES_NO = frozenset({"sure", "discard", "done", "confirmed"})
_WHOLE = frozenset({"cylinder"})
_TITLES = {
    "what": "What was read",
    "value": "Value, with its unit",
    "values": "Value",
    "instrument": "Read on",
    "amounts": "Port",
    "tare": "Empty container of port",
    "durations": "Time of port",
    "containers": "Container under port",
    "swaps": "Exchanged",
    "turns": "Turns, clockwise is plus",
    "id": "Name",
    "sure": "It is so, odd as it looks",
    "discard": "Does not count",
    "at": "When it was so",
}
_BARE_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d)?", re.ASCII)


@dataclass(frozen=True, slots=True)
class MendField:
    """One field: where it stands in the entry, its label, what stands there, and the words it may take.

    ``path`` is like "value", "conditions.heater" or "amounts.3"; ``kind`` is "text", "yes" or "choice".
    ``value`` has its unit as a screen writes it; a choice has its title beside it.
    """

    path: str
    label: str
    value: str
    kind: str = "text"
    choices: tuple[tuple[str, str], ...] = ()
    kept: str = ""

    @classmethod
    def of(cls, path: str, label: str, kept: str) -> MendField:
        """A text as it is kept, shown as a person writes it."""
        return cls(path, label, _as_shown(kept), kept=kept)


@dataclass(frozen=True, slots=True)
class Mendable:
    """An entry that stands, in words, as it is kept, and in fields."""

    entry: str
    kind: str
    words: str
    at: str | None
    content: Mapping[str, Any]
    fields: tuple[MendField, ...]


def mendable(job: Job, entry: str) -> Mendable:
    """The entry laid open.

    Raises:
        UnknownName: no such entry stands on this job.
    """
    one = _standing(job, entry)
    line = next(line for line in history(job.folded, job.known) if line.entry == entry)
    return Mendable(entry, one.kind, line.words, one.at, one.content, tuple(_fields(one, job.known)))


def mended_content(job: Job, entry: str, typed: Mapping[str, str]) -> dict[str, Any]:
    """The entry's whole content with what was typed: an emptied field is left out."""
    one = _standing(job, entry)
    content: dict[str, Any] = {name: value for name, value in one.content.items() if name in _LEFT_OUT}
    for field in _fields(one, job.known):
        text = typed.get(field.path, "").strip()
        if field.path == "at":
            text = mended_time(text, field.kept)
        _put(content, field, field.kept if text == field.value and field.kept else text)
    return content


def mended_time(text: str, kept: str) -> str:
    """When it was so, as it is typed anew: on the clock of where the entry was made, not of the server."""
    return f"{text}{kept[-6:]}" if _BARE_TIME.fullmatch(text) else text


def _standing(job: Job, entry: str) -> Standing:
    found = next((one for one in job.folded.standing if one.entry.id == entry), None)
    if found is None:
        raise unknown("entry", entry, [one.entry.id for one in job.folded.standing], kind="entry that stands")
    return found


def _fields(one: Standing, known: Catalogue) -> Iterator[MendField]:
    names = [*field_names(one.kind), *(name for name in one.content if name not in field_names(one.kind))]
    for name in names:
        if name in _LEFT_OUT or name not in one.content:
            continue
        value = one.content[name]
        if isinstance(value, Mapping):
            for inner, text in value.items():
                title = known.kinds[inner].title if inner in known.kinds else inner
                yield MendField.of(f"{name}.{inner}", f"{title[:1].upper()}{title[1:]}", str(text))
        elif isinstance(value, list):
            for place, text in enumerate(value, start=1):
                yield MendField.of(f"{name}.{place}", f"{_title(name, known)} {place}", str(text))
        else:
            yield _plain(name, value, one.kind, known)
    if one.at is not None:
        yield MendField("at", _TITLES["at"], f"{one.at[:10]} {one.at[11:16]}", kept=one.at)


def _plain(name: str, value: object, kind: str, known: Catalogue) -> MendField:
    title = _title(name, known)
    if name in _YES_NO:
        return MendField(name, title, "yes" if value is True else "", "yes")
    choices = _choices(name, kind, known)
    return (
        MendField(name, title, str(value), "choice", choices)
        if choices
        else MendField.of(name, title, str(value))
    )


def _choices(name: str, kind: str, known: Catalogue) -> tuple[tuple[str, str], ...]:
    if name in ("action", "through"):
        return tuple((one, one.replace("_", " ")) for one in (ACTIONS if name == "action" else THROUGH))
    if name == "what" and kind == "happened":
        return tuple(known.happenings.items())
    if name == "what":
        return tuple((one.id, one.title) for one in known.checks.values())
    return tuple((one.id, one.title) for one in known.parts.values()) if name == "part" else ()


def _as_shown(text: str) -> str:
    """``17 °C`` from ``17 degC``; whatever is no figure with a unit stays as it is."""
    figure, blank, unit = text.strip().rpartition(" ")
    if not blank or not figure[-1:].isdigit():
        return text
    found = units_named(unit)
    return f"{figure} {found[0].label}" if found else text


def _title(name: str, known: Catalogue) -> str:
    if name in _TITLES:
        return _TITLES[name]
    title = known.kinds[name].title if name in known.kinds else name.replace("_", " ")
    return f"{title[:1].upper()}{title[1:]}"


def _put(content: dict[str, Any], field: MendField, text: str) -> None:
    name, dot, inner = field.path.partition(".")
    if field.kind == "yes":
        if text or name == "done":
            content[name] = text == "yes"
    elif dot and inner.isdigit():
        if text or name == "amounts":
            content.setdefault(name, []).append(text)
    elif not text:
        return
    elif dot:
        content.setdefault(name, {})[inner] = text
    elif name in _WHOLE:
        number = whole(text)
        content[name] = text if number is None else number
    elif name == "class":
        content[name] = accuracy_class(text)
    else:
        content[name] = text
