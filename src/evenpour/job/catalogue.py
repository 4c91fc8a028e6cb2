"""What the shipped data say, as values: checks, conditions, parts, stages, claims, steps, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from evenpour import data
from evenpour.errors import FieldProblem, unknown
from evenpour.job.condition_words import one_stated
from evenpour.measure.checks import Check, ConditionKind, check_from, condition_from
from evenpour.measure.showing import span_words
from evenpour.measure.units import parse
from evenpour.path.pieces import Span
from evenpour.path.plan import Claim, Part, Plan, Proof, Stage, Step

STEP_FILES = ("steps-1.toml", "steps-2.toml")


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt, and how to avoid it."""

    id: str
    title: str
    text: str
    sign: str


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All shipped data but the sheets.

    ``stages``, ``claims`` and ``steps`` are plain tables: they become a plan once the engine is known.
    """

    checks: Mapping[str, Check]
    kinds: Mapping[str, ConditionKind]
    everywhere: frozenset[str]
    parts: Mapping[str, Part]
    groups: Mapping[str, tuple[str, ...]]
    part_names: Mapping[str, str]
    check_names: Mapping[str, str]
    stages: Sequence[Mapping[str, Any]]
    claims: Sequence[Mapping[str, Any]]
    steps: Sequence[Mapping[str, Any]]
    cautions: Mapping[str, Caution]
    happenings: Mapping[str, str]

    def check(self, name: str, *, field: str = "what") -> Check:
        """The check of that id or short form."""
        found = self.check_names.get(plain_name(name))
        if found is None:
            raise unknown(field, name, self.check_names, kind="check")
        return self.checks[found]

    def part(self, name: str, *, field: str = "part") -> Part:
        """The part of that id or other name; several of a kind by their plural."""
        plain = plain_name(name)
        found = self.part_names.get(plain) or self.part_names.get(plain.removesuffix("s"))
        if found is None:
            raise unknown(field, name, self.part_names, kind="part")
        return self.parts[found]


@cache
def catalogue() -> Catalogue:
    """The shipped catalogue, read once."""
    checks_file = data.shipped("checks.toml").values
    checks = {check.id: check for check in map(check_from, checks_file["check"])}
    conditions = checks_file["condition"]
    kinds = {kind.id: kind for kind in map(condition_from, conditions)}
    parts_file = data.shipped("parts.toml").values
    part_tables = parts_file["part"]
    parts = {table["id"]: _part(table) for table in part_tables}
    return Catalogue(
        checks=checks,
        kinds=kinds,
        everywhere=frozenset(table["id"] for table in conditions if table.get("everywhere")),
        parts=parts,
        groups={name: _of_group(parts_file["groups"], name) for name in parts_file["groups"]},
        part_names=_names((table["id"], table.get("also", ())) for table in part_tables),
        check_names=_names((check.id, check.also) for check in checks.values()),
        stages=data.shipped("stages.toml").values["stage"],
        claims=data.shipped("claims.toml").values["claim"],
        steps=[table for name in STEP_FILES for table in data.shipped(name).values["step"]],
        cautions={
            table["id"]: Caution(table["id"], table["title"], table["text"], table["sign"])
            for table in data.shipped("cautions.toml").values["caution"]
        },
        happenings={
            table["id"]: table["says"] for table in data.shipped("happenings.toml").values["happening"]
        },
    )


def plan_for(known: Catalogue, devices: frozenset[str], cylinders: int) -> Plan:
    """The path for one engine: without what is not fitted. That of the shipped catalogue is made once."""
    return _shipped_plan(devices, cylinders) if known is catalogue() else _plan(known, devices, cylinders)


@cache
def _shipped_plan(devices: frozenset[str], cylinders: int) -> Plan:
    return _plan(catalogue(), devices, cylinders)


def _plan(known: Catalogue, devices: frozenset[str], cylinders: int) -> Plan:
    claims = [table for table in known.claims if fitted(table.get("only", ""), devices)]
    ids = {table["id"] for table in claims}
    steps = [table for table in known.steps if fitted(table.get("only", ""), devices)]
    step_ids = {table["id"] for table in steps}
    return Plan(
        stages=tuple(_stage(table, ids) for table in known.stages),
        claims=tuple(_claim(table, step_ids, known) for table in claims),
        steps=tuple(_step(table, ids, known.groups, devices) for table in steps),
        parts=tuple(known.parts.values()),
        cylinders=cylinders,
    )


def fitted(only: str, devices: frozenset[str]) -> bool:
    """Whether a condition of the data such as ``oxygen_control`` or ``not points_ignition`` holds."""
    device = only.removeprefix("not ")
    return not only or (device in devices) != (device != only)


def plain_name(name: str) -> str:
    """A name as ids are written: ``Cold-start valve`` is ``cold_start_valve``."""
    return "_".join(name.strip().lower().replace("-", " ").replace("_", " ").split())


def _names(rows: Iterable[tuple[str, Iterable[str]]]) -> dict[str, str]:
    found: dict[str, str] = {}
    listed = [(own, [plain_name(other) for other in also]) for own, also in rows]
    for own, also in listed:
        for other in also:
            if found.setdefault(other, own) != own:
                raise FieldProblem("also", other, f"names both {found[other]} and {own}")
    found.update({own: own for own, _ in listed})  # an id is never another's short form
    return found


def _of_group(groups: Mapping[str, Sequence[str]], name: str) -> tuple[str, ...]:
    """The parts of a group, those of the groups in it among them."""
    if name not in groups:
        return (name,)
    return tuple(part for each in groups[name] for part in _of_group(groups, each))


def _part(table: Mapping[str, Any]) -> Part:
    return Part(
        id=table["id"],
        title=table["title"],
        per_cylinder=table.get("per_cylinder", False),
        opens=tuple(table.get("opens", ())),
        put_back=table.get("put_back", ""),
        kind=table["kind"],
        unharmed=table.get("unharmed", False),
        bars=table.get("bars", ""),
        unless=tuple(map(tuple, table.get("unless", ()))),
    )


def _stage(table: Mapping[str, Any], claims: set[str]) -> Stage:
    allowed = table.get("put_back_empty_except")
    return Stage(
        id=table["id"],
        title=table["title"],
        why=table["why"],
        needs=tuple(name for name in table["needs"] if name in claims),
        put_back_empty_except=None if allowed is None else tuple(allowed),
    )


def _claim(table: Mapping[str, Any], steps: set[str], known: Catalogue) -> Claim:
    after = table.get("ages_after")
    return Claim(
        id=table["id"],
        stage=table["stage"],
        says=table["says"],
        per_cylinder=table.get("per_cylinder", False),
        rests_on=tuple(table["rests_on"]),
        held_by=table.get("held_by"),
        ages_on=tuple(table.get("ages_on", ())),
        optional=table.get("optional", False),
        ages_after=None if after is None else parse(after, "time", field="ages_after").value,
        proof=tuple(_proof(proof, steps, known) for proof in table["proof"]),
    )


def _proof(table: Mapping[str, Any], steps: set[str], known: Catalogue) -> Proof:
    if "any" in table:
        possible = [one for one in table["any"] if one.get("step") is None or one["step"] in steps]
        return Proof(any=tuple(_proof(one, steps, known) for one in possible))
    read, stated = table.get("check") or table.get("reading"), table.get("conditions", {})
    return Proof(
        check=table.get("check"),
        reading=table.get("reading"),
        step=table.get("step"),
        catch=table.get("catch"),
        happened=table.get("happened"),
        conditions={name: _wanted(text, known.kinds[name]) for name, text in stated.items()},
        stated=frozenset(table.get("stated", ())),
        called=known.checks[read].named if read else "",
        said={name: one_stated(name, text) for name, text in stated.items() if isinstance(text, str)},
    )


def _wanted(stated: str | Mapping[str, str], kind: ConditionKind) -> str | Span:
    """A condition of a proof: a word, or a span such as ``{ from = "10 min", to = "20 min" }``."""
    if isinstance(stated, str):
        return stated
    ends = {side: parse(text, str(kind.dimension), field=side).value for side, text in stated.items()}
    low, high = ends.get("from"), ends.get("to")
    return Span(low, high, span_words(low, high, str(kind.dimension)))


def _reads_in(table: Mapping[str, Any], devices: frozenset[str]) -> dict[str, tuple[Mapping[str, str], ...]]:
    """By check, the conditions in which a step reads it, as far as the car has what they are of."""
    found: dict[str, tuple[Mapping[str, str], ...]] = {}
    for one in table.get("reads_in", ()):
        if fitted(one.get("only", ""), devices):
            for name in one["checks"]:
                found[name] = (*found.get(name, ()), one["conditions"])
    return found


def _step(
    table: Mapping[str, Any], claims: set[str], groups: Mapping[str, tuple[str, ...]], devices: frozenset[str]
) -> Step:
    def names(key: str) -> tuple[str, ...]:
        return tuple(table.get(key, ()))

    return Step(
        id=table["id"],
        stage=table["stage"],
        title=table["title"],
        proves=tuple(name for name in names("proves") if name in claims),
        needs=tuple(name for name in names("needs") if name in claims),
        touches=names("touches"),
        puts_on=names("puts_on"),
        takes_off=names("takes_off"),
        also_off=names("also_off"),
        finds_on=names("finds_on"),
        finds_off=tuple(part for name in names("finds_off") for part in groups.get(name, (name,))),
        mends=tuple(name for name in names("mends") if name in claims),
        works=table.get("works", {}),
        sets=table.get("sets", {}),
        checks=(*names("checks"), *names("catches")),
        reads_in=_reads_in(table, devices),
        whole=names("whole"),
        beside=names("beside"),
        cautions=names("cautions"),
        minutes=float(table["minutes"]),
        per_cylinder=table.get("per_cylinder"),
        tools=names("tools"),
        how=table["how"],
        why=table["why"],
        look_out=table.get("look_out", ""),
    )
