"""What ``evenpour screw`` answers."""

from __future__ import annotations

from typing import Literal

from pydantic import ConfigDict, Field

from evenpour.job.answers import Answer, CautionLine

Side = Literal["lean", "rich"]
Advised = Literal["start", "move", "read", "stay", "stop", "none"]
Way = Literal["clockwise", "anticlockwise", "none"]


class ScrewExpected(Answer):
    """What the idle should read after the move."""

    model_config = ConfigDict(serialize_by_alias=True)

    co: float | None = Field(description="As a fraction.")
    lambda_: float | None = Field(serialization_alias="lambda")
    duty: float | None = Field(description="Mean duty, as a fraction; null without oxygen control.")


class ScrewWindow(Answer):
    """What the sheet wants the warm idle to read, and the screw is set by."""

    what: str = Field(description="`exhaust_co`, `exhaust_lambda` or `lambda_duty`.")
    low: float = Field(description="CO and duty as fractions.")
    high: float
    source: str
    words: str


class ScrewStop(Answer):
    """Why the screw is left alone."""

    reason: str
    says: str
    look: str = Field(description="What to do instead, in order.")
    checks: list[str] = Field(description="Ids of checks to enter next.")


class ScrewLine(Answer):
    """One move in the ledger, as it stands after all corrections."""

    at: str | None
    said: str = Field(description="The time as people say it.")
    who: str
    typed: str
    turns: float = Field(description="Clockwise positive.")
    total: float = Field(description="Where the screw stood after it; see `counted_from`.")
    way: Way
    approach: Side | None = Field(description="From which side the last bit came, where somebody said so.")
    reversed: bool = Field(description="It went the other way than the move before: the play came first.")
    mark: str | None
    note: str
    entry: str
    corrected_by: list[str]


class ScrewWithdrawn(Answer):
    """A move that stands no more."""

    entry: str
    typed: str
    reason: str


class ScrewMark(Answer):
    """A place to which the screw can be brought back."""

    name: str = Field(description="`onset_lines`, `onset_injectors`, `seated`, or a word of one's own.")
    title: str
    position: float = Field(description="In turns; see `counted_from`.")
    u: float = Field(description="Standard uncertainty of the position.")
    from_here: float = Field(description="Turns from where the screw stands now to it.")
    at: str | None
    said: str
    entry: str
    void: str | None = Field(description="Why it no longer counts; null: it does.")


class ScrewStart(Answer):
    """The starting point: back from the onset."""

    mark: str = Field(description="The onset it is counted from.")
    back: float = Field(description="Turns back from that, from the sheet.")
    source: str
    position: float
    turns: float = Field(description="From where the screw stands now; clockwise positive.")
    u: float


class ScrewAnswer(Answer):
    """`evenpour screw`"""

    sheet: str
    notice: str
    cautions: list[CautionLine]
    advice: Advised = Field(
        description="To the starting point, a move, a reading first, leave it, stop, or nothing to go on."
    )
    turns: float | None = Field(
        description="The next move, clockwise positive; 0 to leave it; null with `why_no_advice`."
    )
    p_in_window: float | None = Field(
        description="Probability that it lands in the sheet's window; without a move, that it stands there."
    )
    expected: ScrewExpected | None = Field(description="Null before the idle was read.")
    why_no_advice: str | None
    window: ScrewWindow | None
    stop: ScrewStop | None
    gain: float | None = Field(description="What a turn of this screw does, over a usual one's.")
    u_gain: float | None = Field(description="Standard deviation of the gain's natural logarithm.")
    knowledge: list[str] = Field(description="What the readings tell of this screw, in words.")
    left_out: list[str] = Field(description="Readings that do not count, and why.")
    total_turns: float = Field(description="Where the screw stands now; see `counted_from`.")
    counted_from: str
    instructions: list[str]
    care: str = Field(
        default="", description="What comes before a move that is much in all, in words; empty where none is."
    )
    approached: Side | None = Field(
        description="From which side it was brought where it stands, as far as the play tells."
    )
    play: float = Field(description="Of thread and key, in turns; assumed.")
    has_run: bool = Field(description="The engine has run since the onset was found.")
    ledger: list[ScrewLine]
    withdrawn: list[ScrewWithdrawn]
    marks: list[ScrewMark]
    start: ScrewStart | None
    onsets_apart: float | None = Field(
        description="How much further in the onset through the injectors lies than with bare lines, in turns."
    )
