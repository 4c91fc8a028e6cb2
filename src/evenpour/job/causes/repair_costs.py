"""What each repair takes, in minutes and in parts: as shipped, and as one's own workshop has it."""

from __future__ import annotations

import json
import math
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from evenpour import data
from evenpour.errors import FieldProblem, OutOfRange, Place, Problem, Problems, unknown
from evenpour.job.causes.experience_answers import RepairCostLine, RepairsAnswer
from evenpour.job.places import home
from evenpour.job.writing_files import write_whole

FORMAT = "evenpour-repairs/1"
FILE = "repairs.json"
SHIPPED_SOURCE = "typical, from memory, no source"
OWN_SOURCE = "your own"
#: What may be said: least, most, and what it is in.
BOUNDS: Mapping[str, tuple[float, float, str]] = {
    "minutes": (1.0, 6000.0, "min"),
    "parts": (0.0, 100_000.0, "in your money"),
    "hour": (1.0, 10_000.0, "in your money"),
}
_WRITING = threading.Lock()


@dataclass(frozen=True, slots=True)
class RepairCost:
    """What one repair takes.

    Attributes:
        id: The first cause that it mends; any of *causes* names it too.
        minutes: Work, [min].
        parts: In the money of the workshop.
        own: Which of ``minutes`` and ``parts`` are the workshop's own.
    """

    id: str
    remedy: str
    causes: tuple[str, ...]
    minutes: float
    parts: float
    own: tuple[str, ...] = ()

    @property
    def source(self) -> str:
        """Where the figures come from, in words."""
        if len(self.own) == len(("minutes", "parts")):
            return OWN_SOURCE
        if not self.own:
            return SHIPPED_SOURCE
        return f"{self.own[0]} {OWN_SOURCE}, the rest {SHIPPED_SOURCE}"


@dataclass(frozen=True, slots=True)
class Costs:
    """All repairs, and what an hour of work is worth.

    Attributes:
        repairs: By what they are called in the data: the remedy.
        hour: Money that counts as much as an hour of work.
        hour_is_own: Whether the workshop said so.
    """

    repairs: Mapping[str, RepairCost]
    hour: float
    hour_is_own: bool = False

    def effort(self, minutes: float, parts: float) -> float:
        """Work and parts as one figure, [min]: money counts as the time it is earned in."""
        return max(minutes + 60.0 * parts / self.hour, 1.0)

    def plain(self) -> dict[str, Any]:
        """All figures as plain values: what an answer depends on."""
        return {"hour": self.hour, **{one.id: [one.minutes, one.parts] for one in self.repairs.values()}}


@cache
def shipped_costs() -> Costs:
    """The costs as the data says them: rough, from memory."""
    values = data.shipped("causes.toml").values
    found: dict[str, RepairCost] = {}
    for table in values["cause"]:
        remedy, cause = str(table["remedy"]), str(table["id"])
        if remedy in found:
            first = found[remedy]
            found[remedy] = RepairCost(first.id, remedy, (*first.causes, cause), first.minutes, first.parts)
        else:
            minutes, parts = float(table.get("minutes", 30.0)), float(table.get("cost", 0.0))
            found[remedy] = RepairCost(cause, remedy, (cause,), minutes, parts)
    return Costs(found, float(values["hour_of_work"]))


def costs() -> Costs:
    """What repairs take in this workshop: its own figures where it has said them, else the shipped ones.

    Raises:
        Problems: the file of the own figures holds what it may not hold; every field is named.
    """
    return _with_own(shipped_costs(), _own())


def set_cost(cause: str, *, minutes: float | None = None, parts: float | None = None) -> RepairCost:
    """Say what mending *cause* takes here; what is not given stays as it is.

    Args:
        cause: Any cause that the repair mends, by its id.
        minutes: Of work, 1 to 6,000 min.
        parts: In the workshop's money, 0 to 100,000.
    Raises:
        UnknownName: there is no such cause.
        FieldProblem: neither is given.
        OutOfRange: a figure lies where it cannot; nothing is kept.
    """
    repair = repair_of(shipped_costs(), cause)
    said = {name: value for name, value in (("minutes", minutes), ("parts", parts)) if value is not None}
    if not said:
        raise FieldProblem("minutes", None, "or parts must be given", remedy="Say what it takes here")
    checked = {name: _within(name, value) for name, value in said.items()}

    def change(own: dict[str, Any]) -> None:
        own["repairs"][repair.id] = {**own["repairs"].get(repair.id, {}), **checked}

    return repair_of(_changed(change), cause)


def shipped_again(cause: str) -> RepairCost:
    """Go back to the shipped figures of one repair.

    Raises:
        UnknownName: there is no such cause.
    """
    repair = repair_of(shipped_costs(), cause)

    def change(own: dict[str, Any]) -> None:
        for name in repair.causes:
            own["repairs"].pop(name, None)

    return repair_of(_changed(change), cause)


def set_hour(money: float | None) -> Costs:
    """Say what an hour of work is worth here; None goes back to the shipped figure.

    Raises:
        OutOfRange: it lies where it cannot.
    """
    hour = None if money is None else _within("hour", money)

    def change(own: dict[str, Any]) -> None:
        own.pop("hour", None)
        if hour is not None:
            own["hour"] = hour

    return _changed(change)


def repairs_told(cause: str | None = None) -> RepairsAnswer:
    """All repairs as they stand, dearest first; or the one that mends *cause*.

    Raises:
        UnknownName: there is no such cause.
    """
    known = costs()
    listed = list(known.repairs.values()) if cause is None else [repair_of(known, cause)]
    return RepairsAnswer(
        hour_of_work=known.hour,
        hour_is_own=known.hour_is_own,
        repairs=[
            RepairCostLine(
                repair=one.id, remedy=one.remedy, causes=list(one.causes), minutes=one.minutes,
                parts=one.parts, source=one.source, own=bool(one.own),
            )
            for one in sorted(listed, key=lambda one: -known.effort(one.minutes, one.parts))
        ],
    )  # fmt: skip


def repair_of(known: Costs, cause: str) -> RepairCost:
    """The repair that mends *cause*.

    Raises:
        UnknownName: there is no such cause.
    """
    for one in known.repairs.values():
        if cause in one.causes:
            return one
    names = [name for one in known.repairs.values() for name in one.causes]
    raise unknown("cause", cause, names, kind="cause", listed_by="evenpour repairs")


def _within(name: str, value: object, place: Place | None = None) -> float:
    least, most, unit = BOUNDS[name]
    allowed = f"{least:g} to {most:,.0f} {unit}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise FieldProblem(name, value, "is no number", allowed=allowed, place=place)
    if not (math.isfinite(value) and least <= value <= most):
        raise OutOfRange(name, f"{value:g}", "lies where it cannot", allowed=allowed, place=place)
    return float(value)


def _file() -> Path:
    return home() / FILE


def _own() -> dict[str, Any]:
    """The own figures as they are kept, each looked at."""
    path = _file()
    if not path.is_file():
        return {"repairs": {}}
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as fault:
        raise FieldProblem(
            "file", str(path), f"cannot be read ({fault})", remedy="Mend it, or take it away"
        ) from None
    problems = list(_faults(held, path.name))
    if problems:
        raise Problems(problems)
    return {"repairs": {}, **{name: held[name] for name in ("hour", "repairs") if name in held}}


def _faults(held: object, file: str) -> Iterable[Problem]:
    if not isinstance(held, dict) or held.get("format") != FORMAT:
        yield FieldProblem("format", None, "is not that of one's own repairs", allowed=FORMAT,
                           place=Place(file=file))  # fmt: skip
        return
    if "hour" in held:
        yield from _fault("hour", held["hour"], Place(file=file))
    repairs = held.get("repairs", {})
    if not isinstance(repairs, dict):
        yield FieldProblem("repairs", repairs, "is no table of repairs", place=Place(file=file))
        return
    known = [name for one in shipped_costs().repairs.values() for name in one.causes]
    for cause, said in repairs.items():
        place = Place(file=file, path=str(cause))
        if cause not in known:
            yield unknown("cause", str(cause), known, kind="repair", place=place)
        elif not isinstance(said, dict):
            yield FieldProblem(str(cause), said, "has neither minutes nor parts", place=place)
        else:
            for name, value in said.items():
                if name in ("minutes", "parts"):
                    yield from _fault(name, value, place)
                else:
                    yield unknown("field", str(name), ("minutes", "parts"), kind="field", place=place)


def _fault(name: str, value: object, place: Place) -> Iterable[Problem]:
    try:
        _within(name, value, place)
    except Problem as problem:
        yield problem


def _with_own(shipped: Costs, own: Mapping[str, Any]) -> Costs:
    found = {}
    for remedy, one in shipped.repairs.items():
        # the first cause names it; what was said of another that is mended so too is of the same repair
        own_of = [own["repairs"][name] for name in reversed(one.causes) if name in own["repairs"]]
        said = {name: value for its in own_of for name, value in its.items()}
        found[remedy] = RepairCost(
            one.id, remedy, one.causes, float(said.get("minutes", one.minutes)),
            float(said.get("parts", one.parts)), tuple(name for name in ("minutes", "parts") if name in said),
        )  # fmt: skip
    return Costs(found, float(own.get("hour", shipped.hour)), "hour" in own)


def _changed(change: Callable[[dict[str, Any]], object]) -> Costs:
    """The costs after a change of the own figures, kept whole or not at all."""
    with _WRITING:
        own = _own()
        change(own)
        path = _file()
        path.parent.mkdir(parents=True, exist_ok=True)
        text = json.dumps({"format": FORMAT, **own}, indent=2, sort_keys=True) + "\n"
        write_whole(path, text.encode())
        return _with_own(shipped_costs(), own)
