"""Whether an engine would be pulled lean at full load: so it was read there, or its supply was read short."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from evenpour.job.causes.facts import moves
from evenpour.job.causes.touches import Handled, handled
from evenpour.job.job import Job
from evenpour.job.judging import Judged, alike
from evenpour.job.pathway import touches_any
from evenpour.path.events import MOVES_ONLY

PRESSURE: Final = "system_pressure"
#: Figures of what the supply gives; of a pressure, with the plate up, so that the fuel flows.
SUPPLY: Final = frozenset({"pump_delivery", "pump_deadhead", PRESSURE})
PLATE_UP: Final = frozenset({"full", "up"})
#: Share of the least that is right, below which a pressure is short even where nothing flows: no regulator's
#: shim takes off so much. Common practice, no source.
FAR_BELOW: Final = 0.7
FULL_LOAD: Final = "full_load"
SAFE: Final = "full_load_safe"  # the claim that the mixture there is rich enough
#: What may have left it lean besides what that claim rests on: no proof of it goes stale with these.
BRINGS: Final = frozenset({"fuel"})
#: The same of what is taken off for other reasons too: the relay for a bridge, the battery to be charged.
RENEWED: Final = frozenset({"pump_relay", "battery"})
#: Of the mixture screw, below which nobody can say that it made anything richer. The house's choice.
LEAST_TURN: Final = 1.0 / 16.0


def would_be_lean(job: Job) -> bool:
    """Whether a pull at full load would be a lean one: the supply was last read short (after work, until some
    of it is read in order where the fuel flows), or the mixture there lean, and nothing was done since that
    may have made it richer.
    """
    judged = [one for one in job.judged if one.verdict.verdict != "cannot_tell"]
    read = sorted(judged, key=lambda one: one.rank)
    supply = [one for one in read if one.check.id in SUPPLY]
    work = [one.rank for one in handled(job) if not one.mere]
    last = {alike(one): one for one in supply}
    if any(_is_short(one) and not _mended(one, supply, work) for one in last.values()):
        return True
    rests = {name for claim in job.plan.claims if claim.id == SAFE for name in claim.rests_on} | BRINGS
    work_done = [one for one in handled(job) if not one.mere]
    mended = [one.rank for one in work_done if touches_any(one.fact, rests, job.plan) or _is_renewed(one)]
    return any(_is_lean(one) and not _richer(job, one, mended) for one in read if one.stands)


def _is_renewed(one: Handled) -> bool:
    return one.fact.part in RENEWED and one.fact.action not in MOVES_ONLY


def _richer(job: Job, lean: Judged, mended: Sequence[int]) -> bool:
    """Whether something was done since that may have made it richer: work on a part on which the mixture at
    full load rests, or the screw turned so, all its turns together.
    """
    turns = math.fsum(turns for rank, turns in moves(job) if rank > lean.rank)
    return turns > LEAST_TURN or any(rank > lean.rank for rank in mended)


def _is_short(read: Judged) -> bool:
    low, value = read.verdict.low, read.verdict.value
    if read.verdict.verdict != "outside" or low is None or not isinstance(value, float):
        return False
    return value < (low if _flows(read) else FAR_BELOW * low)


def _flows(read: Judged) -> bool:
    plate = read.reading.conditions.get("plate")
    return read.check.id != PRESSURE or (plate is not None and plate.choice in PLATE_UP)


def _is_lean(read: Judged) -> bool:
    stated, found = read.reading.conditions.get("state"), read.verdict
    if stated is None or stated.choice != FULL_LOAD or found.verdict != "outside":
        return False
    if not isinstance(found.value, float):
        return False
    if read.check.id == "exhaust_co":
        return found.low is not None and found.value < found.low
    return read.check.id == "exhaust_lambda" and found.high is not None and found.value > found.high


def _mended(low: Judged, supply: Sequence[Judged], work: Sequence[int]) -> bool:
    first = min((rank for rank in work if rank > low.rank), default=None)
    since = (one for one in supply if first is not None and one.rank > first and _flows(one))
    return any(one.verdict.verdict == "within" for one in since)
