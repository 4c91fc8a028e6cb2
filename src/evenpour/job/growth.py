"""How a journal grows: drafts checked against what is there, and given their place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Final

from evenpour.errors import Problems, Refused, SentBefore, unknown
from evenpour.job import times
from evenpour.job.corrections import plain_correction
from evenpour.job.entries import Draft, Entry, checked_id, following, new_id
from evenpour.job.forms import KINDS, OWN_ID
from evenpour.job.hashes import START
from evenpour.job.known import Known, other_content, same
from evenpour.job.rules import faults, plain_content

_UNTIMED: Final = frozenset({"engine", "conditions", "instrument"})


def grown(
    journal: Sequence[Entry], drafts: Sequence[Draft], *, fill_time: bool
) -> tuple[list[Entry], tuple[Entry, ...]]:
    """What a journal gains by drafts, and the entry that answers each of them.

    Args:
        journal: All entries so far, in sequence.
        fill_time: Whether a draft without ``at`` is of now.
    Raises:
        SentBefore: an id came again with other content.
        Refused: a correction names no entry before it.
        Problems: the fields of a draft are not right.
    """
    known = Known()
    for entry in journal:
        known.add(entry)
    for draft in drafts:
        known.add_instruments_of(draft)
    held = {entry.id: entry for entry in journal}
    last = journal[-1] if journal else None
    added: list[Entry] = []
    answers: list[Entry] = []
    for sent in drafts:
        draft = _plain(sent, known)
        before = held.get(draft.id or "")
        if before is not None:
            if not same(before, draft if draft.at or not fill_time else replace(draft, at=before.at)):
                what = f"Entry {draft.id!r} is not taken."
                raise SentBefore(before.id, what, [str(other_content(draft))])
            answers.append(before)
            continue
        _refuse(draft, known)
        if fill_time and draft.at is None and draft.kind not in _UNTIMED:
            draft = replace(draft, at=times.local_now())
        entry = following(
            draft,
            draft.id or new_id(draft.kind),
            _stamped(draft.entered, last.entered if last else None),
            last.seq + 1 if last else 1,
            last.hash if last else START,
        )
        known.add(entry)
        held[entry.id] = last = entry
        added.append(entry)
        answers.append(entry)
    return added, tuple(answers)


def as_draft(one: Draft | Entry) -> Draft:
    """An entry of another store, or of a file, as a draft for this one."""
    return one if isinstance(one, Draft) else Draft(one.kind, one.content, one.id, one.at, one.entered)


def _plain(draft: Draft, known: Known) -> Draft:
    if draft.kind not in KINDS:
        raise unknown("kind", draft.kind, KINDS, kind="kind of entry")
    content = plain_content(draft.kind, draft.content)
    if draft.kind == "correction":
        content = plain_correction(content, known)
    return replace(draft, content=content, id=None if draft.id is None else checked_id(draft.id))


def _refuse(draft: Draft, known: Known) -> None:
    own = set(draft.content) & {"at", "entered", *(("entry",) if draft.kind in OWN_ID else ("id",))}
    if own:
        raise ValueError(f"id and times go beside the content, not into it: {sorted(own)}")
    wrong = faults(draft.kind, draft.content) or list(known.faults(draft))
    if any(path == ("of",) for path, _ in wrong):
        raise Refused("The correction is not taken.", [str(problem) for _, problem in wrong])
    if wrong:
        raise Problems(problem for _, problem in wrong)


def _stamped(given: str | None, last: str | None) -> str:
    if given is not None and (last is None or given > last):
        return given
    return times.next_stamp(last, datetime.now(UTC))
