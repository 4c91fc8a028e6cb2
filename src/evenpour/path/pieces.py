"""The pieces of a path: parts, stages, claims with their proofs, and steps, and how they name each other."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from evenpour.errors import FieldProblem

Item = tuple[str, int | None]
"""One thing on the car: part id and cylinder; ``None`` for a part of which there is one."""

ClaimKey = tuple[str, int | None]
"""One claim: its id and cylinder; ``None`` for a claim about the whole engine."""

Source = tuple[str, str]
"""Where evidence comes from: ("check", id), ("step", id), ("catch", "lines:idle") or ("happened", what)."""

_REFERENCE = re.compile(r"([A-Za-z0-9_.:-]+?)(\[k\])?")
_TARGET = re.compile(r"([A-Za-z0-9_.:-]+?)(?:\[(\d+)\])?")


@dataclass(frozen=True, slots=True)
class Part:
    """A part, tool, screw or connection that can be touched.

    ``opens`` names what else is touched when it is replaced, removed, refitted, disconnected or reconnected
    ("injector_seal[k]": the same cylinder's); ``put_back`` are words for the put-back list. ``unharmed``:
    taking it off and putting the same one back changes nothing in it, so that only what it opens is touched;
    else no injector could ever be caught through and then refitted. ``kind`` "state" is not a thing but how
    the car stands (no pressure, regulator cold), which running it ends.
    While it is on the put-back list, no step that touches what it ``bars`` may begin, ``unless`` of each of
    those groups one is on the list too, in every cylinder: a wedge under the plate, once no injector is in
    its bore and containers are under the lines.
    """

    id: str
    title: str
    per_cylinder: bool = False
    opens: tuple[str, ...] = ()
    put_back: str = ""
    kind: str = "part"
    plural: str = ""
    unharmed: bool = False
    bars: str = ""
    unless: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Stage:
    """A stretch of the job. It is blocked until the claims in ``needs`` stand, and, unless
    ``put_back_empty_except`` is None, until nothing but those parts is on the put-back list."""

    id: str
    title: str
    why: str = ""
    needs: tuple[str, ...] = ()
    put_back_empty_except: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """A condition that must be stated, and lie here; SI, ends included, None is an open side.

    ``words`` say it: "up to 30 °C".
    """

    low: float | None = None
    high: float | None = None
    words: str = ""

    def holds(self, value: str | float | None) -> bool:
        """Whether *value* was stated as a number of this span."""
        if not isinstance(value, (int, float)):
            return False
        # 10 min typed as minutes or as seconds may differ in the last bit.
        slack = 1e-9 * max(1.0, abs(value))
        return (self.low is None or value >= self.low - slack) and (
            self.high is None or value <= self.high + slack
        )


@dataclass(frozen=True, slots=True)
class Proof:
    """One thing a claim's proof requires: one check, reading, step, catch or happening, or any of several.

    A ``check`` proves by its verdict; a ``reading`` of the same check proves by having been taken, whatever
    its verdict. ``conditions`` must equal the evidence's own where that states them (numbers in SI); those
    named in ``stated``, and every :class:`Span`, must have been stated. ``called`` is what people call the
    check, within a sentence, ``said`` its conditions; without them, their ids have to do.
    """

    check: str | None = None
    reading: str | None = None
    step: str | None = None
    catch: str | None = None
    happened: str | None = None
    any: tuple[Proof, ...] = ()
    conditions: Mapping[str, str | float | Span] = field(default_factory=dict)
    stated: frozenset[str] = frozenset()
    called: str = ""
    said: Mapping[str, str] = field(default_factory=dict)

    @property
    def alternatives(self) -> tuple[Proof, ...]:
        """The proofs of which one will do: those of ``any``, or this one alone."""
        return self.any or (self,)

    @property
    def source(self) -> Source:
        """Where its evidence comes from. A proof with alternatives has none of its own."""
        for kind, name in (
            ("check", self.check),
            ("check", self.reading),
            ("step", self.step),
            ("catch", self.catch),
            ("happened", self.happened),
        ):
            if name is not None:
                return (kind, name)
        raise ValueError("a proof with alternatives has no source of its own")

    def matches(self, conditions: Mapping[str, str | float]) -> bool:
        """Whether evidence taken under *conditions* speaks to this proof: equal, or not stated."""
        return all(self._met(name, wanted, conditions) for name, wanted in self.conditions.items())

    def _met(self, name: str, wanted: str | float | Span, conditions: Mapping[str, str | float]) -> bool:
        if isinstance(wanted, Span):
            return wanted.holds(conditions.get(name))
        if name not in conditions:
            return name not in self.stated
        return _same(conditions[name], wanted)


@dataclass(frozen=True, slots=True)
class Claim:
    """Something that must be true. ``rests_on`` holds part ids: "injector[k]" is the same cylinder's,
    "injector" all cylinders'. A claim with ``held_by`` is temporary: true only while that item is on the
    put-back list. ``ages_on`` are happened entries that spoil it; ``ages_after`` is for the caller, [s].
    An ``optional`` claim is not asked for: as long as it has no evidence it holds up nothing but what
    names it among its needs."""

    id: str
    stage: str
    says: str
    per_cylinder: bool = False
    rests_on: tuple[str, ...] = ()
    held_by: str | None = None
    ages_on: tuple[str, ...] = ()
    ages_after: float | None = None
    proof: tuple[Proof, ...] = ()
    optional: bool = False

    @property
    def for_a_time(self) -> bool:
        """Whether it is worth proving again only for a step that needs it: that the gauge was bled."""
        return self.optional and self.held_by is not None


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do. ``per_cylinder`` None: worked out from what it proves and touches.

    ``minutes`` is for all cylinders. ``checks`` may name "catch", or one catch by its key ("lines:idle").
    ``finds_on`` must be on the put-back list when the step begins, ``finds_off`` must not: injectors are
    caught through when they are out of the engine and their lines are on them.
    ``also_off`` comes off the put-back list by the way, where it is on; nobody is sent to the step for it.
    ``reads_in``: by check, the conditions in which the step reads it, where no claim that it proves says so;
    several where it is read so several times.
    ``whole``: checks whose reading takes the whole of the step; ``beside``: those read in it where that is
    handy, for which nobody is sent to it.
    A step that ``mends`` claims, such as an adjustment, is offered only while the newest evidence speaks
    against one of them. ``works``: by part, what the step does to it, as it would be entered by itself;
    of parts that are new, clean or set when it is done, not of what it only takes off. ``sets``: checks
    whose reading is mended in the step where it is out, and the part that is set or renewed for it.
    ``tools``, ``how``, ``why`` and ``look_out`` are carried for whoever shows the step.
    """

    id: str
    stage: str
    title: str
    proves: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    touches: tuple[str, ...] = ()
    puts_on: tuple[str, ...] = ()
    takes_off: tuple[str, ...] = ()
    also_off: tuple[str, ...] = ()
    finds_on: tuple[str, ...] = ()
    finds_off: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    reads_in: Mapping[str, tuple[Mapping[str, str], ...]] = field(default_factory=dict)
    whole: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    minutes: float = 0.0
    per_cylinder: bool | None = None
    tools: tuple[str, ...] = ()
    how: str = ""
    why: str = ""
    look_out: str = ""
    mends: tuple[str, ...] = ()
    works: Mapping[str, str] = field(default_factory=dict)
    sets: Mapping[str, str] = field(default_factory=dict)


@cache
def split_reference(text: str) -> tuple[str, bool]:
    """("injector", True) from "injector[k]", ("injector", False) from "injector"."""
    found = _REFERENCE.fullmatch(text)
    if found is None:
        raise FieldProblem("part", text, "is no part", remedy='Write "injector" or "injector[k]".')
    return found[1], found[2] is not None


def split_target(text: str) -> tuple[str, int | None]:
    """("injector", 4) from "injector[4]", ("injector", None) from "injector"."""
    found = _TARGET.fullmatch(text)
    if found is None:
        raise FieldProblem("target", text, "names nothing", remedy='Write "name" or "name[4]".')
    return found[1], int(found[2]) if found[2] is not None else None


def _same(stated: str | float, wanted: str | float) -> bool:
    if isinstance(stated, str) or isinstance(wanted, str):
        return stated == wanted
    # 10 min typed as minutes or as seconds may differ in the last bit.
    return abs(stated - wanted) <= 1e-9 * max(1.0, abs(wanted))
