"""What comes before the mixture screw, for whoever else would have it turned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from evenpour.job.screw.answer import screw_answer
from evenpour.job.screw.running import intake_and_pressure_looked_at, stop_checks

if TYPE_CHECKING:
    from evenpour.job.job import Job

STAYS = "Leave the screw: by the readings of the idle alone it stands where it should."


@dataclass(frozen=True, slots=True)
class Before:
    """Why the screw is not turned yet, in words, and the checks to enter first; both empty if it may be."""

    says: str = ""
    checks: tuple[str, ...] = ()


def before_screw(job: Job, reason: str) -> Before:
    """What the screw's own advice has before it; else what its stop would have looked at and nobody has.

    Args:
        reason: The stop that speaks of a screw so set: "too_rich" or "too_lean".
    """
    told = screw_answer(job)
    if told.stop is not None:
        return Before(told.stop.says, tuple(told.stop.checks))
    if told.advice == "stay":
        return Before(STAYS)
    if intake_and_pressure_looked_at(job):
        return Before()
    entered = {group.check.id for group in job.judged if group.stands}
    here = {check for step in job.plan.step.values() for check in step.checks}
    missing = tuple(one for one in stop_checks(reason) if one in here and one not in entered)
    if not missing:
        return Before()
    words = "; ".join(job.known.checks[one].named for one in missing)
    return Before(f"Before it is turned, look at: {words}. The screw would only hide a fault there.", missing)
