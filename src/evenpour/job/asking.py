"""What a page must ask for when a reading is taken: in which units, under which conditions, held to what.

A check may carry a dozen conditions; only those matter at once on which its limit or a proof depends. They
come first, the others behind them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from evenpour.errors import unknown
from evenpour.job.answers import JudgedReading
from evenpour.job.judge_answer import judged_reading
from evenpour.measure.checks import Check, ConditionKind
from evenpour.measure.choice_words import choice_words
from evenpour.measure.entry_units import offered_units, unit_labels
from evenpour.measure.limit_types import Match
from evenpour.measure.limits import limit_words
from evenpour.measure.showing import shown, unit_for
from evenpour.measure.unit_table import step_of
from evenpour.path.pieces import Proof, Span

if TYPE_CHECKING:
    from evenpour.job.job import Job

Choice = tuple[str, str]
"""A word as it is entered, and as it is shown."""


def unit_choices(dimensions: Iterable[str], system: str, first: Sequence[str] = ()) -> tuple[Choice, ...]:
    """The units to choose from for these kinds: *first* before all, then the user's own."""
    return unit_labels(dict.fromkeys((*first, *offered_units(dimensions, system))))


OPEN_CIRCUIT: Choice = ("open", "open circuit")
_CARRIED_NEVER = frozenset({"after"})  # a time or a word that is new with every reading


@dataclass(frozen=True, slots=True)
class AskedCondition:
    """A condition of a reading.

    ``units`` is empty for one that takes a word only, ``choices`` for one that takes a quantity only;
    ``matters`` if a limit or a proof looks at it; ``wanted`` says what they look for. ``last`` is the word
    stated with the last reading of the check. ``signed`` if it may lie below nought.
    """

    id: str
    title: str
    choices: tuple[Choice, ...]
    units: tuple[Choice, ...]
    matters: bool
    wanted: str
    last: str
    signed: bool


@dataclass(frozen=True, slots=True)
class AskedLimit:
    """A limit in words, and where it comes from."""

    words: str
    source: str


@dataclass(frozen=True, slots=True)
class AskedReading:
    """Everything a form needs for readings of one check.

    ``cylinders`` is empty where the check is of the whole engine; ``turns`` if it is given in turns of a
    screw; ``now`` are the readings that count, ``older`` those that no longer do.
    """

    check: str
    title: str
    choices: tuple[Choice, ...]
    units: tuple[Choice, ...]
    cylinders: tuple[int, ...]
    signed: bool
    turns: bool
    limits: tuple[AskedLimit, ...]
    conditions: tuple[AskedCondition, ...]
    instruments: tuple[Choice, ...]
    instrument: str
    assumed: str
    tools: tuple[str, ...]
    now: tuple[JudgedReading, ...] = ()
    older: tuple[JudgedReading, ...] = field(default=())


def asked_reading(job: Job, name: str, claims: Iterable[str] | None = None) -> AskedReading:
    """What to ask for a reading of the check *name*.

    Args:
        claims: The claims for whose proof it is taken; all of them if not given.
    Raises:
        UnknownName: there is no such check, or it is worked out of others.
    """
    check = job.known.checks.get(name)
    if check is None or check.spread_of is not None or name in ("catch", "catch_evenness"):
        raise unknown("check", name, readable(job), kind="check that is read")
    rows = [judged_reading(group, job.units) for group in job.judged if group.check.id == name]
    fitting = [one for one in job.facts.instruments.values() if _fits(one.dimension, check)]
    return AskedReading(
        check=name,
        title=check.title,
        choices=tuple((word, choice_words(word)) for word in check.choices),
        units=(
            *unit_labels(offered_units(check.dimensions, job.system, check.prefer)),
            *((OPEN_CIRCUIT,) if "resistance" in check.dimensions else ()),
        ),
        cylinders=job.plan.all_cylinders if check.per_cylinder else (),
        signed=check.sense is not None and check.sense[0] < 0.0 and "temperature" not in check.dimensions,
        turns=check.prefer == "turn",
        limits=tuple(
            AskedLimit(_sheet_says(limit_words(limit, job.system)), limit.source)
            for limit in job.sheet.limits_for(name)
        ),
        conditions=tuple(_conditions(job, check, claims)),
        instruments=tuple((one.id, f"{one.id}: {one.basis}") for one in fitting),
        instrument=_instrument_used(job, check, [one.id for one in fitting]),
        assumed=_assumed(check, job.system),
        tools=check.tools,
        now=tuple(row for row in rows if row.stands),
        older=tuple(row for row in rows if not row.stands),
    )


def readable(job: Job) -> list[str]:
    """The checks that can be read on this engine, in the catalogue's order."""
    here = {check for step in job.plan.steps for check in step.checks}
    return [
        check.id
        for check in job.known.checks.values()
        if check.spread_of is None and _is_here(job, check, here)
    ]


def alike_checks(job: Job, name: str) -> tuple[Choice, ...]:
    """Those that read the same kind of thing: what somebody may have meant who entered *name*."""
    check = job.known.checks[name]
    kind = (check.dimensions, bool(check.choices), check.prefer == "turn")
    found = (job.known.checks[one] for one in readable(job) if one != name)
    alike = [one for one in found if (one.dimensions, bool(one.choices), one.prefer == "turn") == kind]
    return tuple((one.id, one.title) for one in alike)


def _sheet_says(words: str) -> str:
    """A limit behind "Right:"; where the right answer is the word itself, what it means."""
    return "as the sheet says" if words == "right" else words


def _is_here(job: Job, check: Check, on_path: set[str]) -> bool:
    """What a step asks for, and what the sheet limits; a catch has a form of its own."""
    if check.id in ("catch", "catch_evenness"):
        return False
    return check.id in on_path or bool(job.sheet.limits_for(check.id))


def _conditions(job: Job, check: Check, claims: Iterable[str] | None) -> Iterator[AskedCondition]:
    """Those that matter first, in the check's own order."""
    wanted = _wanted(job, check.id, claims)
    last = _last_stated(job, check)
    general = job.facts.general
    names = [name for name in check.conditions if name not in dict(check.same)]
    for name in sorted(names, key=lambda name: name not in wanted):
        kind = job.known.kinds[name]
        if name in general and name not in wanted:
            continue  # said once for the whole job
        yield AskedCondition(
            id=name,
            title=kind.title,
            choices=tuple(_choices(kind, wanted.get(name, ()))),
            units=unit_labels(_units(kind, job.system)) if kind.dimension else (),
            matters=name in wanted,
            wanted="; ".join(dict.fromkeys(wanted.get(name, ()))),
            last="" if name in _CARRIED_NEVER else last.get(name, ""),
            signed=_below_nought(kind),
        )


def _choices(kind: ConditionKind, wanted: Sequence[str]) -> Iterator[Choice]:
    """Its words; of a time that takes words as well only where one of them is looked for."""
    said = [(word, choice_words(word)) for word in kind.choices]
    if kind.dimension == "time" and not {shown for _, shown in said} & set(wanted):
        return
    yield from said


def _units(kind: ConditionKind, system: str) -> Sequence[str]:
    """Its units, the likely size first: minutes for what may last for hours, metres for heights."""
    assert kind.dimension is not None
    high = kind.sense[1] if kind.sense else 0.0
    offered = offered_units((kind.dimension,), system)
    long = {"time": ("min",) if high > 7200.0 else (), "length": _lengths(high, system)}.get(
        kind.dimension, ()
    )
    return tuple(dict.fromkeys((*long, *offered)))


def _lengths(high: float, system: str) -> tuple[str, ...]:
    if high > 100.0:
        return ("m",) if system == "metric" else ("ft",)
    return ("cm",) if high > 0.5 and system == "metric" else ()


def _wanted(job: Job, check: str, claims: Iterable[str] | None) -> Mapping[str, list[str]]:
    """By condition, what a limit or a proof looks for; one that merely moves a limit has no words."""
    found: dict[str, list[str]] = {}
    for limit in job.sheet.limits_for(check):
        for one in limit.depends:
            found.setdefault(one.on, [])
        for match in (*limit.when.values(), *limit.asks.values()):
            found.setdefault(match.name, []).append(_match_words(match, job.system))
    ids = {claim.id for claim in job.plan.claims} if claims is None else set(claims)
    for claim in job.plan.claims:
        for proof in claim.proof if claim.id in ids else ():
            for name, words in _of_proof(proof, check):
                found.setdefault(name, []).extend(words)
    return found


def _match_words(match: Match, system: str) -> str:
    return match.words(system).replace("_", " ")


def _of_proof(proof: Proof, check: str) -> Iterator[tuple[str, list[str]]]:
    for one in proof.alternatives:
        if check not in (one.check, one.reading):
            continue
        yield from ((name, _proof_words(value)) for name, value in one.conditions.items())
        yield from ((name, []) for name in one.stated)


def _proof_words(value: str | float | Span) -> list[str]:
    if isinstance(value, Span):
        return [value.words]
    return [value.replace("_", " ")] if isinstance(value, str) else []


def _last_stated(job: Job, check: Check) -> Mapping[str, str]:
    """The words stated with the last reading of the check; quantities are taken anew each time."""
    last = next((fact for fact in reversed(job.facts.readings) if fact.check.id == check.id), None)
    if last is None:
        return {}
    stated = last.reading.conditions.items()
    return {name: one.choice for name, one in stated if one.choice is not None}


def _instrument_used(job: Job, check: Check, fitting: Sequence[str]) -> str:
    """The one last used for this check, else for anything of its kind."""
    used = [fact for fact in reversed(job.facts.readings) if fact.instrument in fitting]
    same = next((fact.instrument for fact in used if fact.check.id == check.id), None)
    return same or next((str(fact.instrument) for fact in used), "")


def _fits(dimension: str | None, check: Check) -> bool:
    return bool(check.dimensions) and (
        dimension is None
        or dimension.replace("_step", "") in check.dimensions
        or _both_mixtures(dimension, check)
    )


def _both_mixtures(dimension: str, check: Check) -> bool:
    mixture = {"lambda", "afr"}
    return dimension in mixture and bool(mixture & set(check.dimensions))


def _assumed(check: Check, system: str) -> str:
    """What is taken for the doubt where no instrument is stated, in the unit that is asked for."""
    if not check.dimensions:
        return ""
    kind, own = step_of(check.dimensions[0]), check.dimensions[0]
    if check.assumed_error:
        unit = unit_for(kind, system, check.prefer, check.assumed_error) if kind == own else None
        return f"± {shown(check.assumed_error, kind, system, unit=unit)}"
    return f"± {100.0 * check.assumed_relative:g} %" if check.assumed_relative else ""


def _below_nought(kind: ConditionKind) -> bool:
    """Whether a form must offer a minus: keypads for numbers have none."""
    if kind.dimension == "temperature":
        return kind.sense is None or kind.sense[0] < 273.15
    return kind.sense is not None and kind.sense[0] < 0.0
