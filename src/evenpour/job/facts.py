"""What a journal's standing entries mean: typed text becomes readings, catches, touches, in order of rank."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from evenpour.errors import FieldProblem, Place, Problem, Problems, unknown
from evenpour.job.catalogue import Catalogue
from evenpour.job.catch_facts import CatchFact, catch_from
from evenpour.job.fold import Standing
from evenpour.machine.sheet import Sheet
from evenpour.measure.checks import Check
from evenpour.measure.instruments import Instrument, instrument_from
from evenpour.measure.readings import Condition, Reading, read_condition, reading_from
from evenpour.measure.units import parse
from evenpour.path.plan import Plan, split_target

PlaceOf = Callable[..., Place]
"""Where an entry, or a field of it, stands: ``place_of("reading-3", "conditions", "after")``."""


@dataclass(frozen=True, slots=True)
class Told:
    """What every fact keeps of its entry."""

    rank: int
    entry: str
    at: str
    who: str
    note: str


@dataclass(frozen=True, slots=True)
class ReadingFact:
    """A reading, understood."""

    told: Told
    check: Check
    reading: Reading
    instrument: str | None
    typed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TouchFact:
    """A part handled: a ``did``, or a ``move`` of a screw (then with ``turns``, clockwise positive)."""

    told: Told
    part: str
    action: str
    cylinder: int | None
    turns: float | None = None
    typed: str = ""


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


@dataclass(slots=True)
class _Collector:
    known: Catalogue
    sheet: Sheet
    plan: Plan
    place_of: PlaceOf
    problems: list[Problem] = field(default_factory=list)

    def try_(self, make: Callable[[], Any], entry: str, *path: str | int) -> Any:
        """What *make* gives, or None and the problem kept with its place."""
        try:
            return make()
        except FieldProblem as problem:
            self.problems.append(problem if problem.place else problem.at(self.place_of(entry, *path)))
            return None


def facts_from(
    standing: Iterable[Standing], known: Catalogue, sheet: Sheet, plan: Plan, place_of: PlaceOf
) -> Facts:
    """Understand every standing entry.

    Raises:
        Problems: every entry that cannot be understood, each with its place; nothing is half-applied.
    """
    entries = list(standing)
    collector = _Collector(known, sheet, plan, place_of)
    instruments = _instruments(entries, collector)
    general = _general(entries, collector)
    readings: list[ReadingFact] = []
    catches: list[CatchFact] = []
    touches: list[TouchFact] = []
    plain: list[PlainFact] = []
    for one in entries:
        told = _told(one)
        if one.kind == "reading":
            readings += _reading(one, told, instruments, general, collector)
        elif one.kind == "catch":
            catching = partial(catch_from, one, told, instruments, general, known, sheet)
            caught = collector.try_(catching, one.entry.id, "amounts")
            catches += [caught] if caught else []
        elif one.kind in ("did", "move"):
            touches += _touch(one, told, collector)
        elif one.kind in _PLAIN:
            _PLAIN[one.kind](one, collector)
            plain.append(PlainFact(told, one.kind, one.content))
    if collector.problems:
        raise Problems(collector.problems)
    last = max((one.rank for one in entries), default=0)
    return Facts(instruments, general, tuple(readings), tuple(catches), tuple(touches), tuple(plain), last)


def _told(one: Standing) -> Told:
    return Told(
        rank=one.rank,
        entry=one.entry.id,
        at=one.at or "",
        who=one.content.get("who", ""),
        note=one.content.get("note", ""),
    )


def _instruments(entries: Iterable[Standing], collector: _Collector) -> dict[str, Instrument]:
    found = {}
    for one in entries:
        if one.kind != "instrument":
            continue
        plain = {name: value for name, value in one.content.items() if name not in ("who", "photo")}
        instrument = collector.try_(partial(instrument_from, plain), one.entry.id)
        if instrument:
            found[instrument.id] = instrument
    return found


def _general(entries: Iterable[Standing], collector: _Collector) -> dict[str, Condition]:
    found: dict[str, Condition] = {}
    for one in entries:
        if one.kind == "conditions":
            stated = {
                name: value for name, value in one.content.items() if name not in ("who", "note", "photo")
            }
            found |= _conditions(stated, one.entry.id, (), collector)
    return found


def _conditions(
    stated: Mapping[str, Any], entry: str, path: tuple[str, ...], collector: _Collector, *, sure: bool = False
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
    collector: _Collector,
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
    typed = content.get("values", [content.get("value")])
    instrument = instruments.get(content.get("instrument", ""))
    texts = [_unclicked(text, check, collector.sheet) for text in typed]
    reading = collector.try_(
        lambda: reading_from(check, texts, instrument, {**shared, **own}, cylinder=cylinder, sure=sure),
        entry,
        "values" if "values" in content else "value",
    )
    if reading is not None:
        yield ReadingFact(told, check, reading, content.get("instrument"), tuple(typed))


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


def within_engine(cylinder: int | None, sheet: Sheet) -> int | None:
    """The cylinder, if this engine has it."""
    if cylinder is not None and not 1 <= cylinder <= sheet.cylinders:
        raise FieldProblem(
            "cylinder", cylinder, f"is not on this engine ({sheet.id})", allowed=f"1 to {sheet.cylinders}"
        )
    return cylinder


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


def _touch(one: Standing, told: Told, collector: _Collector) -> Iterator[TouchFact]:
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
            lambda: _move_of(part.kind, part.id, content["turns"], collector.sheet), entry, "turns"
        )
        if len(collector.problems) == before:
            yield TouchFact(told, part.id, "moved", cylinder, turns, content["turns"])
    elif len(collector.problems) == before:
        yield TouchFact(told, part.id, content["action"], cylinder)


def _move_of(kind: str, part: str, text: Any, sheet: Sheet) -> float:
    if kind != "screw":
        raise FieldProblem("part", part, "is no screw", allowed="mixture_screw, idle_air_screw and the like",
                           remedy="Write what was done to it as [[did]].")  # fmt: skip
    turns = turns_of(text, sheet)
    if abs(turns) > 20.0:
        raise FieldProblem("turns", text, "is more than any screw here has", allowed="20 turns either way",
                           remedy="Was it degrees? Write 90 deg.")  # fmt: skip
    return turns


def _known_step(one: Standing, collector: _Collector) -> None:
    steps = {table["id"] for table in collector.known.steps}
    name = one.content["id"]

    def check() -> None:
        if name not in steps:
            raise unknown("id", name, sorted(steps), kind="step")
        if name not in collector.plan.step:
            raise FieldProblem("id", name, f"is no step on this engine ({collector.sheet.id})",
                               remedy="The sheet says that it is not fitted.")  # fmt: skip

    collector.try_(check, one.entry.id, "id")
    collector.try_(
        lambda: within_engine(one.content.get("cylinder"), collector.sheet), one.entry.id, "cylinder"
    )


def _known_caution(one: Standing, collector: _Collector) -> None:
    def check() -> None:
        if one.content["id"] not in collector.known.cautions:
            raise unknown("id", one.content["id"], collector.known.cautions, kind="caution")

    collector.try_(check, one.entry.id, "id")


def _known_happening(one: Standing, collector: _Collector) -> None:
    def check() -> None:
        if one.content["what"] not in collector.known.happenings:
            raise unknown("what", one.content["what"], collector.known.happenings, kind="thing that happens")

    collector.try_(check, one.entry.id, "what")


def _known_override(one: Standing, collector: _Collector) -> None:
    def check() -> None:
        for name in ("claim", "item"):
            text = one.content.get(name)
            if text is not None:
                override_target(name, text, one.content.get("cylinder"), collector.known, collector.plan)

    collector.try_(check, one.entry.id, "claim" if "claim" in one.content else "item")


def override_target(kind: str, text: str, cylinder: int | None, known: Catalogue, plan: Plan) -> str:
    """What an override names, as the path knows it: a claim, a caution, or a thing on the put-back list."""
    name, stated = split_target(text)
    cylinder = stated if stated is not None else cylinder
    suffix = "" if cylinder is None else f"[{cylinder}]"
    if kind == "item":
        return known.part(name, field="item").id + suffix
    claims = {table["id"] for table in known.claims}
    if name not in claims and name not in plan.cautions:
        raise unknown("claim", name, sorted(claims | plan.cautions), kind="claim")
    return name + suffix


def _nothing(one: Standing, collector: _Collector) -> None:
    collector.try_(
        lambda: within_engine(one.content.get("cylinder"), collector.sheet), one.entry.id, "cylinder"
    )


_PLAIN: Mapping[str, Callable[[Standing, _Collector], None]] = {
    "step": _known_step,
    "caution": _known_caution,
    "happened": _known_happening,
    "override": _known_override,
    "note": _nothing,
    "closed": _nothing,
}
