"""What comes before the mixture screw, for whoever else would have it turned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from evenpour.job.screw.answer import screw_answer
from evenpour.job.screw.running import TOO, read_first, unread

if TYPE_CHECKING:
    from evenpour.job.job import Job

STAYS = "Leave the screw: by the readings of the idle alone it stands where it should."


@dataclass(frozen=True, slots=True)
class Before:
    """Why the screw is not turned yet, in words, and the checks to enter first; both empty if it may be.

    ``care``: what is done before it is, where it wants much.
    """

    says: str = ""
    checks: tuple[str, ...] = ()
    care: str = ""


def before_screw(job: Job, reason: str) -> Before:
    """What the screw's own advice has before it; else what its stop would have looked at and nobody has.

    Args:
        reason: The stop that speaks of a screw so set: "too_rich" or "too_lean".
    """
    told = screw_answer(job)
    if told.stop is not None:
        missing = unread(job, told.stop.reason) if told.stop.reason in TOO else ()
        first = f" {read_first(missing, job.known.checks)}" if missing else ""
        return Before(f"{told.stop.says}{first}", missing or tuple(told.stop.checks))
    if told.advice == "stay":
        return Before(STAYS)
    missing = unread(job, reason)
    if not missing:
        return Before(care=told.care)
    return Before(read_first(missing, job.known.checks), missing)
