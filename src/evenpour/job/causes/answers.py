"""What ``evenpour causes`` answers, as its JSON keys."""

from __future__ import annotations

from pydantic import ConfigDict, Field

from evenpour.job.answers import Answer

PORT = "The port that feeds the cylinder, of what lies between the two and where its number is another."

SAME = "with it as without"  # ends a reason whose figures show no difference
BETTER, WORSE = (f"goes with the other readings {how} if so" for how in ("better", "worse"))  # the same


class CauseName(Answer):
    """A cause by its id, with its cylinder."""

    cause: str
    cylinder: int | None
    port: int | None = Field(default=None, description=PORT)


class ReasonLine(Answer):
    """What one check weighs for or against a cause."""

    what: str
    words: str
    weight: float = Field(
        description="Change of the log odds by this check, natural logarithm; above 0 is for."
    )
    strength: str = Field(description="a little, clearly or strongly")
    together: list[str] = Field(
        default=[],
        description="Checks that say it together, none of which decides alone; `weight` is of `what` alone.",
    )
    together_weight: float | None = Field(
        default=None, description="The same as `weight`, of all checks in `together` left out at once."
    )


class CauseLine(Answer):
    """One cause, or several at once."""

    model_config = ConfigDict(serialize_by_alias=True, populate_by_name=True)

    cause: str
    cylinder: int | None
    port: int | None = Field(default=None, description=PORT)
    says: str
    probability: float
    with_another: float = Field(
        default=0.0, description="Of the probability, that one more cause, not told here, is at work too."
    )
    another: str = Field(
        default="", description="The cause that this one more is in most of that; empty where none is."
    )
    severity: float | None = Field(description="0 barely noticeable to 1 gross")
    severity_u: float | None
    severity_words: str
    way: str = Field(
        default="", description="In which of two ways it is wrong, in words; empty where that is open."
    )
    for_: list[ReasonLine] = Field(alias="for", description="Checks that speak for it, strongest first.")
    against: list[ReasonLine]
    if_mended: list[str] = Field(description="What would read otherwise with this mended, in words.")
    with_: CauseName | None = Field(default=None, alias="with", description="The second cause of a pair.")
    also: list[CauseName] = Field(
        default=[],
        description="All but the first of three and more at once: other cylinders, or other causes.",
    )
    severities: list[float] = Field(
        default=[], description="Of several at once, in the order they are named."
    )
    part: str | None
    remedy: str | None


class NextCheckLine(Answer):
    """A check worth doing next."""

    what: str
    cylinder: int | None
    state: str = Field(description="The conditions it is read in, in words.")
    conditions: dict[str, str]
    information: float = Field(description="Expected information about what has to be done, bit.")
    minutes: float
    why: str
    step: str
    before: list[str] = Field(description="Steps to be done first, whose minutes are counted in.")
    cautions: list[str]
    swaps: list[str]


class RepairLine(Answer):
    """A repair, in the order in which they are worth trying."""

    remedy: str
    part: str
    cylinder: int | None
    port: int | None = Field(default=None, description=PORT)
    hangs: str = Field(default="", description="Where an exchanged part is found now; empty if in its place.")
    probability: float
    minutes: float
    cost: float = Field(description="Of parts, in the workshop's money.")
    causes: list[CauseName]
    effort: float = Field(description="Work and parts together, min: money as the time it is earned in.")
    source: str = Field(description="Where minutes and cost come from, in words.")
    step: str = Field(default="", description="In which it is done, or which proves it afterwards.")
    before: list[str] = Field(default=[], description="Steps to be done first that do not stand yet.")
    cautions: list[str] = Field(default=[], description="Of what it opens, those nobody has read yet.")
    left: str = Field(default="", description="Why it is not done yet, in words; empty if it may be.")
    checks: list[str] = Field(default=[], description="What is to be looked at first where it is left.")
    care: str = Field(default="", description="What is done before it where it may be done, in words.")


class ClashLine(Answer):
    """A reading that does not go with the others."""

    what: str
    cylinder: int | None
    entry: str
    probability: float = Field(description="That it does not belong.")
    words: str
    slips: list[str] = Field(description="Slips that would put it right, likeliest first.")


class CausesAnswer(Answer):
    """`evenpour causes`"""

    sheet: str
    notice: str
    causes: list[CauseLine]
    nothing_wrong: float
    unexplained: float = Field(
        description="That something is wrong which no cause known here describes, or that a reading clashes "
        "with all of them and no plain slip mends it."
    )
    others: float = Field(description="All causes that are not listed, together.")
    clashes: list[ClashLine]
    undivided: list[list[CauseName]]
    divided_by: list[str] = Field(
        default=[],
        description="Of each of `undivided` the check that tells them apart; empty where none does.",
    )
    next_checks: list[NextCheckLine]
    repairs: list[RepairLine]
    worth_doing: str | None = Field(
        description="The repair to do now rather than read on, in words; null if none is."
    )
    readings: int = Field(description="How many readings were explained.")
    left_out: list[str] = Field(description="Readings left out, and why, in words.")
    notes: list[str]
    all_well: str = Field(
        default="", description="That all that was read is as it should be, in words; empty where it is not."
    )
    experience: str = Field(
        default="", description="Whose closed jobs moved what is believed before any reading; empty: none's."
    )
    hour_of_work: float = Field(description="Money that counts as an hour of work in the order of repairs.")
