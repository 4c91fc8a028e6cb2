"""Steps ticked since something was read out that they set: whether it was set then, nobody has said."""

from __future__ import annotations

from evenpour.job.causes.case import Case
from evenpour.job.causes.step_work import ticks
from evenpour.job.causes.words import reading_words
from evenpour.job.job import Job
from evenpour.job.judging import Judged


def ticked_since(case: Case) -> list[str]:
    """In words, the readings that count as they were read, though a step in which that is set was done
    since.
    """
    found = dict.fromkeys(
        f"“{title}” was done since this was read: {reading_words(case.job, one)}. If it was set then, read "
        "it again, or enter what was done; until then it counts as read."
        for one in case.read
        if one.group is not None and one.group.verdict.verdict == "outside"
        for title in _done_since(case.job, one.group, one.rank)
    )
    return list(found)


def _done_since(job: Job, read: Judged, rank: int) -> list[str]:
    """The titles of the steps that set what was read, and that were done there since."""
    return [
        tick.step.title
        for tick in ticks(job)
        if tick.told.rank > rank and read.check.id in tick.step.sets and tick.is_at(read.reading.cylinder)
    ]
