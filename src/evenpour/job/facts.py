"""What a journal's standing entries mean: typed text becomes readings, catches, touches, in order of rank."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from evenpour.errors import FieldProblem, Problems, unknown
from evenpour.job.catalogue import Catalogue
from evenpour.job.catch.facts import CatchFact, catch_from
from evenpour.job.collector import Collector, PlaceOf, within_engine
from evenpour.job.fold import Standing
from evenpour.job.plain_facts import PLAIN
from evenpour.job.spark.dwell_meter import without_dwell
from evenpour.job.told import Told, told_by
from evenpour.machine.sheet import Sheet
from evenpour.measure.checks import Check
from evenpour.measure.instruments import Instrument, instrument_from
from evenpour.measure.readings import Condition, Reading, meant, read_condition, reading_from
from evenpour.measure.units import parse
from evenpour.path.plan import Part, Plan


@dataclass(frozen=True, slots=True)
class ReadingFact:
    """A reading, understood."""

    told: Told
    check: Check
    reading: Reading
    instrument: str | None
    typed: tuple[str, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TouchFact:
    """A part handled: a ``did``, or a ``move`` of a screw (then with ``turns``, clockwise positive).

    ``approach`` and ``mark`` of a move as its form has them, else empty.
    """

    told: Told
    part: str
    action: str
    cylinder: int | None
    turns: float | None = None
    typed: str = ""
    approach: str = ""
    mark: str = ""


@dataclass(frozen=True, slots=True)
class PlainFact:
    """A step, a happening, a caution read, an override, a note or a closing: its content says it all."""

    told: Told
    kind: str
    content: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything a job says, in order of rank."""

    instruments: Mapping[str, Instrument]
    general: Mapping[str, Condition]
    readings: tuple[ReadingFact, ...] = ()
    catches: tuple[CatchFact, ...] = ()
    touches: tuple[TouchFact, ...] = ()
    plain: tuple[PlainFact, ...] = ()
    last_rank: int = 0

    def of_kind(self, kind: str) -> tuple[PlainFact, ...]:
        """The plain facts of one kind, in order."""
        return tuple(fact for fact in self.plain if fact.kind == kind)


def facts_from(
    standing: Iterable[Standing],
    known: Catalogue,
    sheet: Sheet,
    plan: Plan,
    place_of: PlaceOf,
    units: str | None = None,
) -> Facts:
    """Understand every standing entry; *units* is the system in which assumed errors are told.

    Raises:
        Problems: every entry that cannot be understood, each with its place; nothing is half-applied.
    """
    entries = list(standing)
    said = {one.entry.id: (one.content, one.corrected_by) for one in entries}
    collector = Collector(known, sheet, plan, place_of, said, units)
    instruments = _instruments(entries, collector)
    general = _general(entries, collector)
    readings: list[ReadingFact] = []
    catches: list[CatchFact] = []
    touches: list[TouchFact] = []
    plain: list[PlainFact] = []
    for one in entries:
        told = told_by(one)
        if one.kind == "reading":
            readings += _reading(one, told, instruments, general, collector)
        elif one.kind == "catch":
            catching = partial(catch_from, one, told, instruments, general, known, sheet, units)
            caught = collector.try_(catching, one.entry.id, "amounts")
            catches += [caught] if caught else []
        elif one.kind in ("did", "move"):
            touches += _touch(one, told, collector)
        elif one.kind in PLAIN:
            PLAIN[one.kind](one, collector)
            plain.append(PlainFact(told, one.kind, one.content))
    if collector.problems:
        raise Problems(collector.problems)
    last = max((one.rank for one in entries), default=0)
    return Facts(instruments, general, tuple(readings), tuple(catches), tuple(touches), tuple(plain), last)


def _instruments(entries: Iterable[Standing], collector: Collector) -> dict[str, Instrument]:
    found = {}
    for one in entries:
        if one.kind != "instrument":
            continue
        plain = {name: value for name, value in one.content.items() if name not in ("who", "photo")}
        instrument = collector.try_(partial(instrument_from, plain), one.entry.id)
        if instrument:
            found[instrument.id] = instrument
    return found


def _general(entries: Iterable[Standing], collector: Collector) -> dict[str, Condition]:
    found: dict[str, Condition] = {}
    for one in entries:
        if one.kind == "conditions":
            stated = {
                name: value for name, value in one.content.items() if name not in ("who", "note", "photo")
            }
            found |= _conditions(stated, one.entry.id, (), collector)
    return found


def _conditions(
    stated: Mapping[str, Any], entry: str, path: tuple[str, ...], collector: Collector, *, sure: bool = False
) -> dict[str, Condition]:
    kinds = collector.known.kinds
    found = {}
    for name, text in stated.items():

        def read(name: str = name, text: Any = text) -> Condition:
            if name not in kinds:
                raise unknown("condition", name, kinds, kind="condition")
            return read_condition(kinds[name], text, sure=sure)

        condition = collector.try_(read, entry, *path, name)
        if condition:
            found[name] = condition
    return found


def _reading(
    one: Standing,
    told: Told,
    instruments: Mapping[str, Instrument],
    general: Mapping[str, Condition],
    collector: Collector,
) -> Iterator[ReadingFact]:
    content, entry = one.content, one.entry.id
    sure = bool(content.get("sure"))
    check = collector.try_(lambda: _check_of(content["what"], collector.known), entry, "what")
    own = _conditions(content.get("conditions", {}), entry, ("conditions",), collector, sure=sure)
    if check is None:
        return
    cylinder = collector.try_(
        lambda: _cylinder_of(check, content.get("cylinder"), collector.sheet), entry, "cylinder"
    )
    shared = {
        name: condition
        for name, condition in general.items()
        if name in check.conditions or name in collector.known.everywhere
    }
    conditions = {**meant(check, shared), **meant(check, own)}
    typed = content.get("values", [content.get("value")])
    instrument = instruments.get(content.get("instrument", ""))

    def read() -> Reading:
        texts = [without_dwell(_unclicked(text, check, collector.sheet), check, conditions) for text in typed]
        return reading_from(
            check, texts, instrument, conditions, cylinder=cylinder, sure=sure, system=collector.units
        )

    reading = collector.try_(read, entry, "values" if "values" in content else "value")
    if reading is not None:
        notes = _beside_the_point(check, own, collector.known)
        yield ReadingFact(told, check, reading, content.get("instrument"), tuple(typed), notes)


def _beside_the_point(check: Check, own: Mapping[str, Condition], known: Catalogue) -> tuple[str, ...]:
    """Conditions that were stated and that nothing asks of this check: kept, and said aloud."""
    carried = {*check.conditions, *known.everywhere}
    return tuple(
        f"{known.kinds[name].title} ({one.text}) is stated, but plays no part in this reading"
        for name, one in own.items()
        if name not in carried
    )


def _check_of(name: str, known: Catalogue) -> Check:
    check = known.check(name)
    if check.id == "catch":
        raise FieldProblem(
            "what", name, "is entered as a catch", remedy="Write it as [[catch]] with its amounts."
        )
    if check.spread_of:
        raise FieldProblem(
            "what",
            name,
            "is worked out, not read",
            remedy=f"Enter {check.spread_of} of every cylinder instead.",
        )
    return check


def _cylinder_of(check: Check, cylinder: int | None, sheet: Sheet) -> int | None:
    if cylinder is None:
        if check.per_cylinder:
            raise FieldProblem(
                "cylinder", None, f"is missing: {check.id} is read cylinder by cylinder",
                allowed=f"1 to {sheet.cylinders}",
            )  # fmt: skip
        return None
    if not check.per_cylinder:
        raise FieldProblem(
            "cylinder", cylinder, f"does not belong to {check.id}", remedy="Leave the cylinder out."
        )
    return within_engine(cylinder, sheet)


def turns_of(text: Any, sheet: Sheet, *, field: str = "turns") -> float:
    """A screw's move in turns, clockwise positive, from turns, degrees or clicks."""
    quantity = parse(text, ("angle", "clicks"), field=field)
    if quantity.dimension == "angle":
        return quantity.value
    if sheet.click_turns is None:
        raise FieldProblem(
            field,
            text,
            "cannot be told: this sheet does not say what a click is",
            remedy="Write turns or degrees.",
        )
    return quantity.value * sheet.click_turns


def _unclicked(text: Any, check: Check, sheet: Sheet) -> Any:
    if isinstance(text, str) and "click" in text.lower() and "angle" in check.dimensions:
        return f"{turns_of(text, sheet, field=check.id):.10g} turn"
    return text


def _touch(one: Standing, told: Told, collector: Collector) -> Iterator[TouchFact]:
    content, entry = one.content, one.entry.id
    part = collector.try_(lambda: collector.known.part(content["part"]), entry, "part")
    if part is None:
        return

    def cylinder_of() -> int | None:
        cylinder = content.get("cylinder")
        if cylinder is not None and not part.per_cylinder:
            raise FieldProblem(
                "cylinder", cylinder, f"does not belong to {part.id}", remedy="Leave the cylinder out."
            )
        return within_engine(cylinder, collector.sheet)

    before = len(collector.problems)
    cylinder = collector.try_(cylinder_of, entry, "cylinder")
    if one.kind == "move":
        turns = collector.try_(
            lambda: _move_of(part, content["turns"], collector.sheet, collector.known), entry, "turns"
        )
        if len(collector.problems) == before:
            said = content.get("approach", ""), content.get("mark", "")
            yield TouchFact(told, part.id, "moved", cylinder, turns, content["turns"], *said)
    elif len(collector.problems) == before:
        yield TouchFact(told, part.id, content["action"], cylinder)


def _move_of(part: Part, text: Any, sheet: Sheet, known: Catalogue) -> float:
    if part.kind != "screw":
        screws = [one.id for one in known.parts.values() if one.kind == "screw"]
        raise FieldProblem("part", part.id, "is no screw", allowed=", ".join(screws),
                           remedy="Enter what was done to it, like: replaced.")  # fmt: skip
    turns = turns_of(text, sheet)
    if abs(turns) > 20.0:
        raise FieldProblem("turns", text, "is more than any screw here has", allowed="20 turns either way",
                           remedy="Was it degrees? Write 90 deg.")  # fmt: skip
    return turns
