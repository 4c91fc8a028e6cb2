"""Whether an engine would be pulled lean at full load: so it was read there, or its supply was read short."""

from __future__ import annotations

from typing import Final

from evenpour.job.job import Job
from evenpour.job.judging import Judged, alike

PRESSURE: Final = "system_pressure"
#: Figures of what the supply gives; the pressure with the plate up, so that the fuel flows.
SUPPLY: Final = frozenset({"pump_delivery", "pump_deadhead", PRESSURE})
PLATE_UP: Final = frozenset({"full", "up"})
#: Share of the least that is right, below which a pressure is short even where nothing flows: no regulator's
#: shim takes off so much. Common practice, no source.
FAR_BELOW: Final = 0.7
#: Above the sheet's limits there at full load, the mixture is lean.
LEAN: Final = ("exhaust_lambda", "full_load")


def would_be_lean(job: Job) -> bool:
    """Whether a pull at full load would be a lean one: the supply was last read short (after a part of it was
    replaced, until one of it is read in order), or the mixture there lean, and nothing was done since.
    """
    read = sorted(
        (one for one in job.judged if one.verdict.verdict != "cannot_tell"), key=lambda one: one.rank
    )
    supply = [one for one in read if _of_supply(one)]
    last = {alike(one): one for one in supply}
    short = any(_is_low(one) and not _mended(one, supply) for one in last.values())
    done = max((one.told.rank for one in job.facts.touches), default=-1)
    return short or any(_is_lean(one) for one in read if one.stands and one.rank > done)


def _of_supply(read: Judged) -> bool:
    return read.check.id in SUPPLY and (_flows(read) or read.check.id != PRESSURE or _is_far_below(read))


def _flows(read: Judged) -> bool:
    plate = read.reading.conditions.get("plate")
    return plate is not None and plate.choice in PLATE_UP


def _is_low(read: Judged) -> bool:
    found = read.verdict
    low = isinstance(found.value, float) and found.low is not None and found.value < found.low
    return found.verdict == "outside" and low


def _is_far_below(read: Judged) -> bool:
    found = read.verdict
    return isinstance(found.value, float) and found.low is not None and found.value < FAR_BELOW * found.low


def _is_lean(read: Judged) -> bool:
    check, state = LEAN
    stated, found = read.reading.conditions.get("state"), read.verdict
    there = read.check.id == check and stated is not None and stated.choice == state
    high = isinstance(found.value, float) and found.high is not None and found.value > found.high
    return there and high and found.verdict == "outside"


def _mended(low: Judged, read: list[Judged]) -> bool:
    later = (one for one in read if one.rank > low.rank)
    return low.overtaken == "part_changed" and any(one.verdict.verdict == "within" for one in later)
