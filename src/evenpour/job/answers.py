"""What the commands answer, as forms whose keys are fixed; faces show these and compute nothing."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Word = Literal["within", "outside", "cannot_tell"]
PartKind = Literal["port", "line", "injector"]


class Answer(BaseModel):
    """Common ground: nothing unknown, nothing changed after the fact."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class ShownLimit(Answer):
    """The limit held against a reading, in the reading's own unit."""

    low: float | None = None
    high: float | None = None
    allowed: list[str] | None = None
    source: str
    words: str = Field(description="The limit as it is shown to a person.")


class JudgedReading(Answer):
    """One reading, or the repeats of one taken in one go, held against the sheet."""

    what: str
    title: str
    cylinder: int | None
    value: float | str | None = Field(description='In `unit`; a choice; "open" for an open circuit.')
    unit: str | None
    u: float | None = Field(description="Standard uncertainty, k = 1, in `unit`.")
    dof: int | None = None
    doubt: float | None = Field(
        default=None, description="What stands behind ± in `shown`: holds 95 % to either side, in `unit`."
    )
    limit: ShownLimit | None
    p_within: float | None
    verdict: Word
    settle: str | None
    shown: str = Field(description="Value, what holds 95 % (k = 2, or t for few repeats), and unit.")
    at: str | None
    n: int = 1
    typed: list[str]
    conditions: dict[str, str]
    instrument: str | None
    basis: str = Field(description="Where the gauge's part of the uncertainty comes from.")
    notes: list[str]
    stands: bool = Field(description="Whether it still counts.")
    overtaken: Literal["newer", "part_changed"] | None = Field(
        default=None,
        description="Why it no longer counts: a newer one of the same does, or what was read was replaced.",
    )
    entries: list[str]
    comments: list[str] = []
    photos: list[str] = []


class JudgeAnswer(Answer):
    """`evenpour judge`"""

    sheet: str
    notice: str
    readings: list[JudgedReading]


class StepAnswer(Answer):
    """A step of a stage and how far it is."""

    step: str
    title: str
    state: Literal["done", "stale", "open", "blocked", "passed_over"]
    cylinder: int | None = None
    why: str


class StageAnswer(Answer):
    """A stage and how far it is."""

    stage: str
    title: str
    state: Literal["proved", "stale", "blocked", "open", "overridden"]
    why: str
    short: str = Field(description="The same in one line.")
    steps: list[StepAnswer]


class ClaimAnswer(Answer):
    """A claim, whether it stands, and what it rests on."""

    claim: str
    cylinder: int | None
    stage: str
    says: str
    state: Literal["proved", "stale", "open", "over", "overridden"]
    why: str
    since: str | None
    entries: list[str]


class PutBackAnswer(Answer):
    """Something disconnected, removed, fitted or left in."""

    item: str
    cylinder: int | None
    name: str
    since: str | None = Field(description="The time of the entry that put it on; null where nobody noted it.")
    since_said: str = Field(default="", description="The same as people say it.")
    step: str | None
    words: str
    entry: str
    overridden: str | None = None
    hangs: str = Field(default="", description="Where an exchanged part is found now.")


class NextAnswer(Answer):
    """A step worth doing now."""

    step: str
    title: str
    stage: str
    cylinders: list[int]
    minutes: int
    why: str
    cautions: list[str]
    unmet: list[str]
    repeat: bool
    brings: bool = Field(False, description="Named for what another step wants of it; ``why`` says which.")
    let_stand: dict[str, str] = Field(
        {}, description="By claim that may be let stand by name instead of doing the step, its stage."
    )
    unsettled: dict[str, str] = Field({}, description="By claim, what was read for it and settles nothing.")
    foresee: list[str] = Field(description="What the gauges here can and cannot judge, said beforehand.")


class PathAnswer(Answer):
    """`evenpour path`"""

    sheet: str
    notice: str
    stages: list[StageAnswer]
    claims: list[ClaimAnswer]
    put_back: list[PutBackAnswer]
    next: list[NextAnswer]
    repeat: list[NextAnswer] = Field(description="The shortest set of steps that renews every stale proof.")
    repeat_minutes: int
    upcoming: list[NextAnswer] = Field(
        [], description="All steps worth doing now, in the order in which they are best done."
    )
    questions: list[str]
    may_close: list[str] = Field(description="Why the job may not be closed yet; empty: it may.")
    outside: list[str] = Field(description="Readings that stand and catches, if outside, in words.")
    foresee: list[str] = Field(
        [], description="What the gauges of this job can never call within, said before anybody reads them."
    )


class PartName(Answer):
    """A port, a line or an injector by its own number: that of the port."""

    part: PartKind
    cylinder: int = Field(description="The part's own number.")
    feeds: int | None = Field(
        default=None, description="The cylinder that its port feeds, where that has another number."
    )
    hangs: str = Field(default="", description="Where it hangs, if exchanged for a catch and not back.")


class PartAnswer(PartName):
    """What the catches say of one port, line or injector."""

    deviation: float = Field(description="Fraction, where it shows most.")
    u: float
    p_off: float


class SuspectAnswer(Answer):
    """An amount that does not belong."""

    catch: int
    position: int
    why: str
    offer: str | None = None


class NextCatchAnswer(Answer):
    """The catch, or swap, that would tell most."""

    through: str
    opening: str
    swaps: list[str]
    why: str


class SticksOut(Answer):
    """The amount farthest from the mean of its catch, where chance alone would hardly put it there."""

    position: int = Field(description="The port, from 1.")
    g: float = Field(description="Its distance in standard deviations of the catch (Grubbs).")
    critical: float = Field(description="What chance exceeds in 5 % of catches.")


class RunAnswer(Answer):
    """One catch as it was taken."""

    catch: int
    entry: str
    at: str | None
    through: str
    opening: str
    amounts: list[float | None] = Field(description="By port, in ml; weights turned into volumes.")
    typed: list[str]
    shown: list[str | None] = Field(
        default=[], description="As shown to a person: in the units asked for, or as typed."
    )
    unit: str = Field(description="The unit of `amounts`.")
    durations: list[float]
    flows: list[float | None] = Field(description="ml per minute, by port.")
    u_flows: list[float | None] = Field(description="Standard uncertainty of the flows, ml per minute.")
    seen_spread: float | None = Field(description="(largest - smallest) / mean of the amounts themselves.")
    sticks_out: SticksOut | None = None
    swaps: list[str]
    discarded: bool
    basis: str
    notes: list[str]


class CatchAnswer(Answer):
    """`evenpour catch`"""

    sheet: str
    notice: str
    spread_by_run: dict[str, float]
    u_by_run: dict[str, float]
    even_by_run: dict[str, float | None]
    limit_by_run: dict[str, float | None]
    outdated: list[str] = Field(default=[], description="Caught before a part was changed: catch again.")
    spread: float | None
    even: float | None
    verdict: Word
    parts: list[PartAnswer]
    undivided: list[list[PartName]]
    suspect_amounts: list[SuspectAnswer]
    next_catch: NextCatchAnswer | None
    repeat_scatter: float | None = Field(
        default=None, description="Relative standard scatter between repeats of one catch; null without any."
    )
    runs: list[RunAnswer]
    notes: list[str]


class StepName(Answer):
    """A step by its id and title."""

    step: str
    title: str


class ClosingAnswer(Answer):
    """What closing a job came to."""

    handed_over: bool = Field(description="The handover stage is proved or overridden.")
    proved: int = Field(description="How many stages are proved.")
    stages: int
    missing: list[str] = Field(description="The stages neither proved nor overridden, with what they want.")


class AddAnswer(Answer):
    """`evenpour add`"""

    entry: str
    readings: list[JudgedReading]
    went_stale: list[ClaimAnswer]
    stages: list[StageAnswer] = Field(description="Stages whose state changed.")
    put_on: list[PutBackAnswer]
    taken_off: list[str]
    repeat: list[NextAnswer]
    repeat_minutes: int
    next: list[NextAnswer]
    questions: list[str] = Field(description="What this entry leaves to be asked.")
    stays: list[PutBackAnswer] = Field([], description="What somebody now answers for leaving as it is.")
    mend: list[StepName] = Field([], description="The steps that put right what this entry found outside.")
    catch_again: list[str] = Field(
        default=[], description="Kinds of catch that no longer count, for a part in them was changed."
    )
    on_trust: list[StepName] = Field([], description="Steps done whose own reading was never entered.")
    catch: CatchAnswer | None
    closing: ClosingAnswer | None = Field(default=None, description="For an entry that closes the job.")
    notice: str = ""


class CautionLine(Answer):
    """A caution of the job's steps, and who read it."""

    id: str
    title: str
    text: str
    sign: str
    read_by: str | None
    read_at: str | None


class StepTold(Answer):
    """A step whole, with this sheet's figures: `evenpour path JOB --step STEP`"""

    step: str
    title: str
    stage: str
    minutes: float
    how: str
    why: str
    look_out: str
    tools: list[str]
    cautions: list[CautionLine]
    checks: list[str]
    foresee: list[str]
    worked_out_by: str | None = Field(
        default=None, description="The command that works out what the step reads, `FILE` standing for a log."
    )
    state: list[StepAnswer]
    notice: str


class ScrewMove(Answer):
    """One line of a screw's ledger."""

    part: str
    at: str | None
    who: str
    typed: str
    turns: float
    total: float
    note: str
    entry: str
    approach: Literal["lean", "rich"] | None = Field(
        default=None, description="From which side the last bit came, where somebody said so."
    )
    mark: str | None = Field(default=None, description="The mark at which it stood after the move.")


class HistoryLine(Answer):
    """One entry of the journal in words, for the record."""

    at: str | None
    entered: str | None
    who: str
    kind: str
    words: str
    entry: str
    note: str
    photos: list[str] = []
    corrected_by: list[str] = []
    was: str | None = Field(default=None, description="What a corrected entry said at first.")
    withdrawn: str | None = Field(default=None, description="Why it stands no more.")


class OverrideLine(Answer):
    """Somebody answers for going on."""

    target: str
    says: str
    who: str
    reason: str
    at: str | None


class RenewedLine(Answer):
    """A claim that was disturbed, and whether it was proved again."""

    claim: str
    says: str
    cylinder: int | None
    disturbed: str
    state: str
