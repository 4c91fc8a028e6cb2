"""What every fact keeps of the entry that told it."""

from __future__ import annotations

from dataclasses import dataclass

from evenpour.job.fold import Standing


@dataclass(frozen=True, slots=True)
class Told:
    """Its place in the order of the job, its entry's id, when, by whom, and the note to it."""

    rank: int
    entry: str
    at: str
    who: str
    note: str


def told_by(one: Standing) -> Told:
    """What a standing entry tells of itself."""
    return Told(
        rank=one.rank,
        entry=one.entry.id,
        at=one.at or "",
        who=one.content.get("who", ""),
        note=one.content.get("note", ""),
    )
