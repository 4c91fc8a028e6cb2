"""Steps, happenings, cautions, overrides, notes and closings: whether what they name is there."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from evenpour.errors import FieldProblem, unknown
from evenpour.job.catalogue import Catalogue
from evenpour.job.closing import cylinder_of
from evenpour.job.collector import Collector, within_engine
from evenpour.job.fold import Standing
from evenpour.path.plan import Plan, split_target


def _known_step(one: Standing, collector: Collector) -> None:
    steps = {table["id"] for table in collector.known.steps}
    name = one.content["id"]

    def check() -> None:
        if name not in steps:
            raise unknown("id", name, sorted(steps), kind="step")
        if name not in collector.plan.step:
            raise FieldProblem("id", name, f"is no step on this engine ({collector.sheet.id})",
                               remedy="The sheet says that it is not fitted.")  # fmt: skip

    collector.try_(check, one.entry.id, "id")
    _cylinder(one, collector)


def _known_caution(one: Standing, collector: Collector) -> None:
    def check() -> None:
        if one.content["id"] not in collector.known.cautions:
            raise unknown("id", one.content["id"], collector.known.cautions, kind="caution")

    collector.try_(check, one.entry.id, "id")


def _known_happening(one: Standing, collector: Collector) -> None:
    def check() -> None:
        if one.content["what"] not in collector.known.happenings:
            raise unknown("what", one.content["what"], collector.known.happenings, kind="thing that happens")

    collector.try_(check, one.entry.id, "what")
    _cylinder(one, collector)


def _known_override(one: Standing, collector: Collector) -> None:
    def check() -> None:
        for name in ("claim", "item"):
            text = one.content.get(name)
            if text is not None:
                override_target(name, text, one.content.get("cylinder"), collector.known, collector.plan)
                within_engine(split_target(text)[1], collector.sheet)

    collector.try_(check, one.entry.id, "claim" if "claim" in one.content else "item")
    _cylinder(one, collector)


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


def _cylinder(one: Standing, collector: Collector) -> None:
    collector.try_(
        lambda: within_engine(one.content.get("cylinder"), collector.sheet), one.entry.id, "cylinder"
    )


def _note(one: Standing, collector: Collector) -> None:
    steps = {table["id"] for table in collector.known.steps}

    def check() -> None:
        name = one.content.get("step")
        if name is not None and name not in steps:
            raise unknown("step", name, sorted(steps), kind="step")

    collector.try_(check, one.entry.id, "step")
    _cylinder(one, collector)


def _closed(one: Standing, collector: Collector) -> None:
    """The cylinders of all causes named; a cause in the closer's own words is let be."""
    _cylinder(one, collector)
    for number, text in enumerate(one.content.get("also") or ()):
        check = partial(within_engine, cylinder_of(str(text)), collector.sheet)
        collector.try_(check, one.entry.id, "also", number)


PLAIN: Mapping[str, Callable[[Standing, Collector], None]] = {
    "step": _known_step,
    "caution": _known_caution,
    "happened": _known_happening,
    "override": _known_override,
    "note": _note,
    "closed": _closed,
}
