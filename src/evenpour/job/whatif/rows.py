"""Predicted readings as rows of a table: like cylinders together, and in words what one would notice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from evenpour.job.port_words import Place, read_at
from evenpour.job.whatif.answers import PredictedReading, WhatIfAnswer

NO_DIFFERENCE = "no difference"


@dataclass(frozen=True, slots=True)
class Row:
    """One reading, or those of several cylinders that are alike.

    Attributes:
        name: Check and state; ``where``: its cylinders, empty where they are all alike.
        usual: What most healthy cars show. ``noticed``: whether one would see it, in words.
    """

    name: str
    where: str
    healthy: str
    usual: str
    now: str
    change: str
    limit: str
    outside: bool
    changed: bool
    noticed: str


@dataclass(frozen=True, slots=True)
class Block:
    """The rows of one group of readings."""

    title: str
    rows: tuple[Row, ...]

    @property
    def changed(self) -> tuple[Row, ...]:
        """The rows that what was set has changed."""
        return tuple(row for row in self.rows if row.changed)


def blocks(answer: WhatIfAnswer) -> tuple[Block, ...]:
    """All predicted readings, in their blocks."""
    return tuple(
        Block(group.title, tuple(_rows([one for one in answer.readings if one.group == group.group])))
        for group in answer.groups
    )


def _rows(readings: Sequence[PredictedReading]) -> Iterator[Row]:
    """What differs first, in the order in which a mechanic would work."""
    count = max((one.cylinder or 0 for one in readings), default=0)
    alike: dict[Row, list[Place]] = {}
    for one in readings:
        places = alike.setdefault(_row(one), [])
        places += [] if one.cylinder is None else [(one.cylinder, one.port)]
    for row, places in alike.items():
        where = read_at(places) if 0 < len(places) < count else ""
        yield replace(row, where=where)


def _row(one: PredictedReading) -> Row:
    usual = one.healthy_cars.words if one.healthy_cars.low is not None else ""
    return Row(
        name=f"{one.title}, {one.state}" if one.state else one.title,
        where="",
        healthy=_short(one, one.healthy_shown),
        usual=_short(one, usual) if usual != one.healthy_shown else "",
        now=_short(one, one.shown),
        change=one.change_shown,
        limit=_short(one, one.limit.words) if one.limit else "",
        outside=one.within is False,
        changed=one.changed,
        noticed=noticed(one),
    )


def _short(one: PredictedReading, words: str) -> str:
    """Lambda need not say its name in every column of its row."""
    return words.replace("lambda ", "") if one.unit == "lambda" else words


def noticed(one: PredictedReading) -> str:
    """Whether somebody with the usual tools would see the change, and by what."""
    if one.why is not None:
        return f"yes: {one.why}"
    if not one.changed:
        return NO_DIFFERENCE
    if one.within is False:
        seen = "" if one.stands_out else ", though a healthy car can be so"
        return f"yes: outside the limit{seen}"
    if not one.stands_out:
        return "hardly: healthy cars differ as much"
    if one.limit is None:
        return "yes: healthy cars do not read so"
    return "yes, though within the limit"
