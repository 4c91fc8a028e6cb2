"""What the spark calculators answer."""

from __future__ import annotations

from pydantic import Field

from evenpour.job.answers import Answer, CautionLine, ShownLimit, Word


class Figure(Answer):
    """A number with its unit and standard uncertainty (k = 1), and the same as it is shown."""

    value: float
    unit: str
    u: float | None = None
    shown: str


class SparkAnswer(Answer):
    """What all of them say."""

    sheet: str | None
    notice: str
    cautions: list[CautionLine] = Field(description="What can hurt at this, said before anything else.")
    step: str = Field(description="The step of the path that this belongs to.")
    notes: list[str] = Field(description="Sentences for the person, in order.")


class SparkVerdict(Answer):
    """A figure held against the sheet."""

    what: str
    title: str
    value: Figure
    limit: ShownLimit | None
    p_within: float | None
    verdict: Word
    settle: str | None
    basis: str = Field(description="Where the uncertainty comes from.")


class TimingMark(Answer):
    """A limit of the timing as a stretch of the pulley's rim, from the mark of top dead centre."""

    what: str
    title: str
    words: str = Field(description="The limit in degrees, as it is shown.")
    when: str = Field(description="Under which conditions it holds; may be empty.")
    low: Figure | None = Field(description="Along the rim; null without a diameter.")
    high: Figure | None
    source: str


class TimingAnswer(SparkAnswer):
    """`evenpour spark timing`; angles in degrees of the crank before top dead centre."""

    marks: list[TimingMark]
    per_degree: Figure | None = Field(description="Along the rim for one degree; null without a diameter.")
    reading: SparkVerdict | None
    arc: Figure | None = Field(description="The reading along the rim; null without reading or diameter.")
    off_by: Figure | None = Field(description="From the middle of the limit; above zero is too early.")
    turn_distributor: Figure | None = Field(
        description="How far to turn its body to mend that; clockwise positive, seen from above its cap."
    )


class DeadCentreAnswer(SparkAnswer):
    """`evenpour spark dead_centre`"""

    half: Figure = Field(description="From either mark of the stop to top dead centre.")
    half_angle: Figure | None = Field(
        description="The same in degrees; null where the rim's diameter is not known."
    )
    wheel: Figure | None = Field(
        description="What a degree wheel reads at top dead centre; null without one."
    )
    mark_late: Figure | None = Field(
        description="By how much the maker's mark, or the wheel's nought, comes after it; below zero before."
    )
    p_true: float | None = Field(description="Probability that the mark is off by no more than a degree.")
    verdict: Word
    stop_depth: Figure | None = Field(description="How far below its top the stop held the piston.")


class PostAnswer(Answer):
    """One post of the cap."""

    cylinder: int
    clockwise: int = Field(description="The cylinder of the next post clockwise, seen from above the cap.")
    anticlockwise: int
    rotor_degrees: float = Field(description="From cylinder 1's post, the way the rotor turns.")
    crank_degrees: float = Field(description="After cylinder 1 has fired.")
    mark_degrees: float = Field(
        description="Where its top dead centre lies on the crank after cylinder 1's mark."
    )
    shares_mark_with: int | None
    mark_arc: Figure | None = Field(description="The same along the rim; null without a diameter.")


class OrderAnswer(SparkAnswer):
    """`evenpour spark order`"""

    firing_order: list[int]
    rotor_direction: str
    interval_degrees: float = Field(description="Of the crank, between two sparks.")
    posts: list[PostAnswer] = Field(description="Clockwise from cylinder 1's, seen from above the cap.")


class DwellAnswer(SparkAnswer):
    """`evenpour spark dwell`"""

    cylinders: int
    angle: Figure | None = Field(description="Degrees of the distributor.")
    share: Figure | None = Field(description="Per cent of the time between two sparks.")
    reading: SparkVerdict | None
    limit_share: ShownLimit | None = Field(description="The sheet's limit in per cent.")
    gap: str = Field(description="What the gap wants: `widen the gap`, `close the gap a little`, or empty.")
    later: Figure | None = Field(
        description="By how much the spark comes later once the dwell is right; below zero earlier."
    )


class CylinderLine(Answer):
    """One cylinder's figure beside the others."""

    cylinder: int
    value: Figure
    verdict: Word
    p_within: float | None
    worse: Figure | None = Field(description="Than the middle one of the others; below zero it is better.")
    p_stands_out: float | None = Field(
        description="Probability that it is worse by more than half the allowed spread; null without a limit."
    )


class CylindersAnswer(SparkAnswer):
    """`evenpour spark compression`, `leak_down` and `speed_drop`"""

    what: str
    title: str
    cylinders: list[CylinderLine]
    missing: list[int]
    limit: ShownLimit | None
    settle: str | None
    basis: str
    mean: Figure
    spread: SparkVerdict | None = Field(
        description="Largest less smallest; null with fewer than two cylinders."
    )
    verdict: Word = Field(description="Outside if any cylinder or the spread is; within if all are.")
    stand_out: list[int]
