"""What the path answers: the types of its answers, in plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenpour.path.events import Evidence, Override
from evenpour.path.plan import ClaimKey

ClaimWord = Literal["proved", "stale", "open", "over", "overridden"]
StageWord = Literal["proved", "stale", "blocked", "open", "overridden"]
StepWord = Literal["done", "stale", "open", "blocked", "passed_over"]


@dataclass(frozen=True, slots=True)
class ProofAt:
    """One requirement of a claim, in one cylinder."""

    requirement: int  # its place in the claim's ``proof``
    cylinder: int


@dataclass(frozen=True, slots=True)
class ClaimState:
    """Whether a claim stands, and why.

    ``since`` is the time of what made it so; ``proof`` the newest evidence per requirement and cylinder;
    ``stale`` the requirements whose newest evidence is older than what spoiled it, ``lacks`` those that have
    none, or one that speaks against it;
    ``beneath`` what it would be without its override; ``touched_by`` the entries that aged it.
    """

    claim: str
    cylinder: int | None
    state: ClaimWord
    why: str
    since: str
    proof: tuple[Evidence, ...] = ()
    stale: tuple[ProofAt, ...] = ()
    lacks: tuple[ProofAt, ...] = ()
    touched_by: tuple[str, ...] = ()
    override: Override | None = None
    beneath: ClaimWord | None = None

    @property
    def key(self) -> ClaimKey:
        """The claim's id and cylinder."""
        return (self.claim, self.cylinder)

    @property
    def refuted(self) -> bool:
        """Open because the newest evidence does not support it, not for want of any."""
        return self.state == "open" and any(not one.supports for one in self.proof)

    @property
    def stands(self) -> bool:
        """True now: good enough for a step's own needs."""
        return self.state in ("proved", "overridden")

    @property
    def satisfies(self) -> bool:
        """Good enough for a stage's gate: a temporary claim whose time is over does not hold a stage up."""
        return self.stands or self.state == "over"


@dataclass(frozen=True, slots=True)
class StepState:
    """How far a step is; ``cylinder`` None stands for all of them alike."""

    step: str
    state: StepWord
    cylinder: int | None
    why: str


@dataclass(frozen=True, slots=True)
class StageState:
    """How far a stage is; ``reasons`` are the sentences that ``why`` joins."""

    stage: str
    state: StageWord
    why: str
    steps: tuple[StepState, ...]
    claims: tuple[ClaimState, ...]
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PutBackItem:
    """One item on the put-back list; ``item`` is "coil_feed" or "injector[4]"; ``step`` takes it off."""

    item: str
    part: str
    cylinder: int | None
    name: str
    words: str
    since: str
    entry: str
    how: str
    step: str | None
    override: Override | None


@dataclass(frozen=True, slots=True)
class PutBackGroup:
    """The items of one part on one line: "injectors 1 to 6", since the first of them."""

    name: str
    words: str
    since: str
    step: str | None
    items: tuple[PutBackItem, ...]
    override: Override | None


@dataclass(frozen=True, slots=True)
class RepeatStep:
    """A step to repeat, for some cylinders (empty: the whole of it), and which claims that renews."""

    step: str
    cylinders: tuple[int, ...]
    minutes: int
    why: str
    claims: tuple[ClaimKey, ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """The shortest set of steps that renews every stale proof. ``unreachable`` are stale claims that no
    step of the plan proves."""

    steps: tuple[RepeatStep, ...]
    minutes: int
    unreachable: tuple[ClaimKey, ...]


@dataclass(frozen=True, slots=True)
class NextStep:
    """A step worth doing now. ``cautions`` are those not read yet, to be read first; ``unmet`` says which of
    its needs do not stand (empty: it can be done at once); ``repeat`` marks the renewal of a stale proof,
    ``brings`` a step named for what another wants of it; ``let_stand`` is the claim that may be let stand by
    name instead of doing it."""

    step: str
    cylinders: tuple[int, ...]
    minutes: int
    why: str
    cautions: tuple[str, ...]
    unmet: tuple[str, ...]
    repeat: bool
    brings: bool = False
    let_stand: str | None = None
