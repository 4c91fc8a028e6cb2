"""Whether the pump brings too little at full opening, by what was last read of that."""

from __future__ import annotations

from typing import Final

from evenpour.job.job import Job
from evenpour.job.judging import Judged

PRESSURE: Final = "system_pressure"
#: Figures of what the supply gives; the pressure with the plate up, so that the fuel flows.
SUPPLY: Final = frozenset({"pump_delivery", "pump_deadhead", PRESSURE})
PLATE_UP: Final = frozenset({"full", "up"})


def is_short(job: Job) -> bool:
    """Whether any of it was last read too low. After a part of it was replaced, until one of it is read in
    order.
    """
    read = sorted((one for one in job.judged if _of_supply(one)), key=lambda one: one.rank)
    last = {one.check.id: one for one in read}
    return any(_is_low(one) and not _mended(one, read) for one in last.values())


def _of_supply(read: Judged) -> bool:
    plate = read.reading.conditions.get("plate")
    up = plate is not None and plate.choice in PLATE_UP
    return read.check.id in SUPPLY and (up or read.check.id != PRESSURE)


def _is_low(read: Judged) -> bool:
    found = read.verdict
    low = isinstance(found.value, float) and found.low is not None and found.value < found.low
    return found.verdict == "outside" and low


def _mended(low: Judged, read: list[Judged]) -> bool:
    later = (one for one in read if one.rank > low.rank)
    return low.overtaken == "part_changed" and any(one.verdict.verdict == "within" for one in later)
