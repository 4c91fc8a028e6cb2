"""Volts stated beside the warm control pressure: too few at the heater's plug are a finding of their own.

They are read at the plug, under load, and say how the heater was fed. Where they are too few the pressure
tells less of the regulator, and the volts tell of the feed; what was read with right volts was fed past it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from evenpour.job.catalogue import Catalogue
from evenpour.job.judging import Judged
from evenpour.machine.readout import Query

WARM: Final = "control_pressure_warm"
HEATER_VOLTAGE: Final = "regulator_heater_voltage"
THEN: Final = ("engine", "state")  # what else is stated of both
#: V, less than which no battery that turns a starter leaves at the plug. Common practice, no source.
UNFED: Final = 10.0


def with_its_volts(judged: Iterable[Judged], known: Catalogue) -> list[Judged]:
    """The readings in order, behind each warm control pressure the volts at its plug where they are too few
    and nobody entered them since as a reading of their own.
    """
    every = sorted(judged, key=lambda one: one.rank)
    own = max((one.rank for one in every if one.check.id == HEATER_VOLTAGE), default=-1)
    found = []
    for group in every:
        found.append(group)
        if is_unfed(group) and group.rank > own:
            stated = group.reading.conditions
            volts, then = stated["voltage"], {name: stated[name] for name in THEN if name in stated}
            assert volts.value is not None
            reading = replace(
                group.reading, check=HEATER_VOLTAGE, values=(volts.value,), choice=None, u_b=volts.u,
                basis="", conditions=then, unit="V",
            )  # fmt: skip
            found.append(replace(group, check=known.checks[HEATER_VOLTAGE], reading=reading))
    return found


def is_unfed(group: Judged) -> bool:
    """Whether it is a warm control pressure with too few volts at the heater."""
    volts = _volts(group)
    return volts is not None and volts < UNFED


def fed(group: Judged, query: Query, *, unfed: bool) -> Query:
    """The question with the stated volts at the heater itself, whatever its lead takes, where they were once
    too few: until then somebody may have stated what the battery gave.
    """
    if not unfed or _volts(group) is None:
        return query
    return replace(query, situation=replace(query.situation, heater_fed=True))


def _volts(group: Judged) -> float | None:
    stated = group.reading.conditions
    unplugged = "heater" in stated and stated["heater"].choice == "unplugged"
    if group.check.id != WARM or unplugged or "voltage" not in stated:
        return None
    return stated["voltage"].value
