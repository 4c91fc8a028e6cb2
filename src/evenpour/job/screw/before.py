"""What comes before the mixture screw, for whoever else would have it turned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from evenpour.job.screw.answer import screw_answer
from evenpour.job.screw.running import TOO, read_first, unread
from evenpour.job.screw.words import turns_words

if TYPE_CHECKING:
    from evenpour.job.job import Job

TURNED = 0.05  # turn of the screw, from which it is what was done last
#: To which side a screw stands wrong by each stop that speaks of one so set, clockwise positive.
SIDE = {"too_rich": 1.0, "too_lean": -1.0}
STAYS = "Leave the screw: by the readings of the idle alone it stands where it should."


@dataclass(frozen=True, slots=True)
class Before:
    """Why the screw is not turned yet, in words, and the checks to enter first; both empty if it may be.

    ``care``: what is done before it is, where it wants much.
    """

    says: str = ""
    checks: tuple[str, ...] = ()
    care: str = ""


def before_screw(job: Job, reason: str, *, since: float = 0.0, hides: str = "") -> Before:
    """What is done before the screw is: it is turned back, where it was turned wrong while the engine ran;
    else what it would only hide is mended; else what its own advice has before it, or what its stop would
    have looked at and nobody has.

    Args:
        reason: The stop that speaks of a screw so set: "too_rich" or "too_lean".
        since: Turns since the engine ran, clockwise positive.
        hides: The remedy of what the screw, set first, would hide; empty where nothing is.
    """
    if SIDE[reason] * since >= TURNED:
        way = "clockwise" if since > 0.0 else "anticlockwise"
        return Before(
            care=f"It was turned {turns_words(since)} {way} since the engine ran: turn it back first."
        )
    own = _own(job, reason)
    if not hides:
        return own
    words = f"The screw comes last: {hides} first, then set it, for it would only hide that."
    return Before(f"{words} {own.says or own.care}".rstrip(), own.checks)


def _own(job: Job, reason: str) -> Before:
    """What the screw's own advice has before it; else what its stop would have looked at and nobody has."""
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
