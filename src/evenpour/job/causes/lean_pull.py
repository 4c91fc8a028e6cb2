"""Whether an engine would be pulled lean at full load: so it was read there, or its supply was read short."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from evenpour.causes.suspects import suspects
from evenpour.job.causes.facts import moves
from evenpour.job.causes.prior import come_along
from evenpour.job.causes.step_work import PUT_RIGHT
from evenpour.job.causes.touches import Handled, handled, mends
from evenpour.job.engine_model import causes_of, kind_of_sheet
from evenpour.job.job import Job
from evenpour.job.judging import Judged, alike
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
BRINGS: Final = frozenset({"fuel", "pump_relay", "battery"})
#: Of the mixture screw, below which nobody can say that it made anything richer. The house's choice.
LEAST_TURN: Final = 1.0 / 16.0


def would_be_lean(job: Job) -> bool:
    """Whether a pull at full load would be a lean one: the supply was last read short (after work, until some
    of it is read in order where the fuel flows), or the mixture there lean, and nothing was done since that
    may have made it richer.
    """
    read = sorted(job.judged, key=lambda one: one.rank)
    tells = [one for one in read if one.verdict.verdict != "cannot_tell"]
    done = [one for one in handled(job) if one.fact.action != PUT_RIGHT]  # which nobody entered
    supply = [one for one in tells if one.check.id in SUPPLY]
    work = [one.rank for one in done if not one.mere]
    if any(_is_short(one) and not _mended(one, supply, work) for one in _last(supply)):
        return True
    there = _last([one for one in read if _is_lean(one) or (one in tells and not _is_leaner_since(job, one))])
    lean = [one for one in there if _is_lean(one)]
    if not lean:
        return False
    mended = list(_enriching(job, done))
    return any(not _richer(job, one, mended) for one in lean)


def _last(read: Sequence[Judged]) -> Iterable[Judged]:
    return {alike(one): one for one in read}.values()


def _enriching(job: Job, done: Sequence[Handled]) -> Iterator[int]:
    """Where work was entered on what full load may be lean of, by place in the job: not where a part was only
    off and on again.
    """
    rests = {name for claim in job.plan.claims if claim.id == SAFE for name in claim.rests_on} | BRINGS
    along, kind = come_along(), kind_of_sheet(job.sheet)
    its = {part for name in rests for part in along.parts_of(name, "replaced")}
    lean = [one for one in suspects(kind, causes_of(kind)) if one.cause is not None and one.cause.part in its]
    for touch in done:
        if not touch.mere and touch.fact.action in MOVES_ONLY:
            continue
        itself = touch.fact.part in its and not touch.mere
        if itself or any(mends(one, touch, along) for one in lean):
            yield touch.rank


def _richer(job: Job, lean: Judged, mended: Sequence[int]) -> bool:
    """Whether something was done since that may have made it richer: the screw turned so, all its turns
    together, or work, and the screw not turned the other way.
    """
    worked = any(rank > lean.rank for rank in mended)
    return _turned_since(job, lean) > LEAST_TURN or (worked and not _is_leaner_since(job, lean))


def _is_leaner_since(job: Job, read: Judged) -> bool:
    return _turned_since(job, read) < -LEAST_TURN


def _turned_since(job: Job, read: Judged) -> float:
    """Turns of the mixture screw since, clockwise positive, which is richer."""
    return math.fsum(turns for rank, turns in moves(job) if rank > read.rank)


def _is_short(read: Judged) -> bool:
    low, value = read.verdict.low, read.verdict.value
    if read.verdict.verdict != "outside" or low is None or not isinstance(value, float):
        return False
    return value < (low if _flows(read) else FAR_BELOW * low)


def _flows(read: Judged) -> bool:
    plate = read.reading.conditions.get("plate")
    return read.check.id != PRESSURE or (plate is not None and plate.choice in PLATE_UP)


def _is_lean(read: Judged) -> bool:
    """Whether the mixture there was read lean, or any of what was read together was where it cannot be
    told.
    """
    stated, found = read.reading.conditions.get("state"), read.verdict
    if stated is None or stated.choice != FULL_LOAD or found.verdict == "within" or not read.reading.values:
        return False
    low, high, values = found.low, found.high, read.reading.values
    if read.check.id == "exhaust_co":
        return low is not None and min(values) < low
    return read.check.id == "exhaust_lambda" and high is not None and max(values) > high


def _mended(low: Judged, supply: Sequence[Judged], work: Sequence[int]) -> bool:
    first = min((rank for rank in work if rank > low.rank), default=None)
    since = (one for one in supply if first is not None and one.rank > first and _flows(one))
    return any(one.verdict.verdict == "within" for one in since)
