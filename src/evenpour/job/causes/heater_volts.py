"""Volts stated beside the warm control pressure: too few at the heater's plug are a finding of their own.

They are read at the plug, under load, and say how the heater was fed. Where they are too few the pressure
tells less of the regulator, and the volts tell of the feed; what was read with right volts was fed past it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from evenpour.job.catalogue import Catalogue
from evenpour.job.job import Job
from evenpour.job.judging import Judged
from evenpour.machine.readout import Query

WARM: Final = "control_pressure_warm"
HEATER_VOLTAGE: Final = "regulator_heater_voltage"
THEN: Final = ("engine", "state")  # what else is stated of both
#: V, less than which no battery that turns a starter leaves at the plug. Common practice, no source.
UNFED: Final = 10.0


@dataclass(frozen=True, slots=True)
class Volts:
    """What the volts at the heater's plug make of a job's readings.

    Attributes:
        readings: All of them in order, the volts too few beside a warm pressure among them.
        contested: The places of warm pressures whose volts another reading contradicts: nobody knows how the
            heater was fed.
        fed: The places of warm pressures read with the heater fed past its lead: the volts were too few
            otherwise, nobody contradicts that, and here they are right.
    """

    readings: tuple[Judged, ...]
    contested: frozenset[int]
    fed: frozenset[int]

    def stated(self, group: Judged, stated: Mapping[str, float | str]) -> dict[str, float | str]:
        """The conditions of a reading that are believed."""
        return {
            name: one for name, one in stated.items() if name != "voltage" or group.rank not in self.contested
        }

    def asked(self, group: Judged, query: Query) -> Query:
        """The question, with the stated volts at the heater itself, whatever its lead takes, where it was fed
        past that.
        """
        if group.rank not in self.fed:
            return query
        return replace(query, situation=replace(query.situation, heater_fed=True))


def volts_at_the_heater(job: Job) -> Volts:
    """A job's readings, behind each warm control pressure the volts at its plug where they are too few.

    Where somebody entered those as a reading of their own, and did nothing to the car in between, they are
    one reading more of the same: if the two contradict each other, nobody knows which to believe.
    """
    found: list[Judged] = []
    work = [one.told.rank for one in job.facts.touches]
    every = sorted(job.judged, key=lambda one: one.rank)
    own = [one for one in every if one.check.id == HEATER_VOLTAGE]
    more: dict[int, list[float]] = {}
    contested, unfed = set[int](), False
    for group in every:
        found.append(group)
        if not is_unfed(group):
            continue
        alike = [one for one in own if not any(_between(rank, one, group) for rank in work)]
        derived = _volts_of(group, job.known)
        if alike:
            more.setdefault(alike[-1].rank, []).extend(derived.reading.values)
        else:
            found.append(derived)
        if alike and max(alike[-1].reading.values) >= UNFED:
            contested.add(group.rank)
        else:
            unfed = True
    readings = [_with(one, more[one.rank]) if one in own and one.rank in more else one for one in found]
    own_unfed = any(one.stands and max(one.reading.values) < UNFED for one in own)
    told = [one for one in every if _volts(one) is not None and one.rank not in contested]
    fed = {one.rank for one in told if unfed or (own_unfed and _was_heated(one))}
    return Volts(tuple(readings), frozenset(contested), frozenset(fed))


def _was_heated(group: Judged) -> bool:
    """Whether a warm pressure that was judged is not too low: where the plug has no volts, those stated
    beside one that is may well be the battery's.
    """
    found = group.verdict
    if found.low is None or not isinstance(found.value, float):
        return False
    return found.verdict != "outside" or found.value >= found.low


def _between(rank: int, one: Judged, two: Judged) -> bool:
    return min(one.rank, two.rank) < rank < max(one.rank, two.rank)


def _with(own: Judged, volts: Sequence[float]) -> Judged:
    return replace(own, reading=replace(own.reading, values=(*own.reading.values, *volts)))


def _volts_of(group: Judged, known: Catalogue) -> Judged:
    """The volts beside a warm pressure as a reading of their own."""
    stated = group.reading.conditions
    volts, then = stated["voltage"], {name: stated[name] for name in THEN if name in stated}
    assert volts.value is not None
    reading = replace(
        group.reading, check=HEATER_VOLTAGE, values=(volts.value,), choice=None, u_b=volts.u,
        basis="", conditions=then, unit="V",
    )  # fmt: skip
    return replace(group, check=known.checks[HEATER_VOLTAGE], reading=reading)


def is_unfed(group: Judged) -> bool:
    """Whether it is a warm control pressure with too few volts at the heater."""
    volts = _volts(group)
    return volts is not None and volts < UNFED


def _volts(group: Judged) -> float | None:
    stated = group.reading.conditions
    unplugged = "heater" in stated and stated["heater"].choice == "unplugged"
    if group.check.id != WARM or unplugged or "voltage" not in stated:
        return None
    return stated["voltage"].value
