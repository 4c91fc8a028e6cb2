"""What can reach the path: evidence, touches, steps done, things that happened, cautions read, overrides."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from evenpour.path.plan import Part, Source

PUTS_ON = frozenset({"disconnected", "removed", "fitted"})
"""Actions that put a part on the put-back list."""

TAKES_OFF = frozenset({"reconnected", "refitted", "replaced", "taken_out"})
"""Actions that take it off again."""

OPENS = frozenset({"replaced", "removed", "refitted", "disconnected", "reconnected", "fitted", "taken_out"})
"""Actions that touch what the part's ``opens`` names as well."""


MOVES_ONLY = OPENS - {"replaced"}
"""Actions that leave an ``unharmed`` part as it was inside."""


def harms(part: Part, action: str) -> bool:
    """Whether the action touches the part itself, and not just what it opens."""
    return not (part.unharmed and action in MOVES_ONLY)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Happening:
    """``rank`` is the place in the order (at, sequence), equal only among events of one entry; ``at`` is the
    time as shown; ``entry`` is the journal entry's id."""

    rank: int
    at: str
    entry: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence(_Happening):
    """A judged reading, catch or set of them. ``oldest`` is the rank of its oldest reading; ``supports`` is
    False when outside or when it cannot tell, ``compared`` when a limit could be held against it;
    ``cylinder`` None speaks for all cylinders."""

    source: Source
    supports: bool
    oldest: int
    cylinder: int | None = None
    conditions: Mapping[str, str | float] = field(default_factory=dict)
    p: float | None = None
    compared: bool = True
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch(_Happening):
    """A part was touched: an action of a job file's ``did``, or "moved" for a screw."""

    part: str
    action: str
    cylinder: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Done(_Happening):
    """A step was done, or passed over for a reason (then it proves nothing)."""

    step: str
    done: bool = True
    cylinder: int | None = None
    reason: str = ""
    who: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened(_Happening):
    """Something nobody decided, such as "backfire"."""

    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Aged(_Happening):
    """Time, or another slow change, spoiled a claim's proofs with a reading before rank ``before``."""

    claim: str
    before: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionRead(_Happening):
    """A caution was read; once per job is enough."""

    id: str
    who: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Override(_Happening):
    """Somebody answers for going on: ``target`` is a claim, an item on the put-back list or a caution,
    "[4]" behind it for one cylinder."""

    target: str
    who: str
    reason: str


Event = Evidence | Touch | Done | Happened | Aged | CautionRead | Override
