"""What ``evenpour experience`` and ``evenpour repairs`` answer, as their JSON keys."""

from __future__ import annotations

from pydantic import Field

from evenpour.job.answers import Answer


class ExperienceLine(Answer):
    """One cause: how common it is thought to be, and what one's own jobs say."""

    cause: str = Field(description="Its id; nothing_wrong for none of them.")
    title: str
    shipped: float = Field(description="Probability before any reading, as shipped.")
    own: int = Field(description="Own closed jobs in which it was confirmed.")
    others: int = Field(description="The same of other workshops whose counts were taken in.")
    now: float = Field(description="Probability before any reading, now.")


class ExperienceAnswer(Answer):
    """`evenpour experience`"""

    jobs: int = Field(description="Own closed jobs that count.")
    other_jobs: int = Field(description="Jobs of other workshops that count.")
    worth: float = Field(description="As many jobs as the shipped figures count for.")
    since: str | None = Field(description="From when jobs count; null: from the beginning.")
    lines: list[ExperienceLine] = Field(description="All causes, the commonest now first.")
    two_at_once: ExperienceLine = Field(description="That two causes are at work at once.")
    not_counted: list[str] = Field(description="Closed jobs that do not count, and why, in words.")


class TakenAnswer(Answer):
    """`evenpour experience import`, `export`, `forget` and `remember`: what was done, in words."""

    words: str
    jobs: int
    other_jobs: int


class RepairCostLine(Answer):
    """What one repair takes."""

    repair: str = Field(description="Its id: the first cause that it mends.")
    remedy: str
    causes: list[str] = Field(description="All causes that it mends.")
    minutes: float
    parts: float = Field(description="In the workshop's money.")
    source: str = Field(description="Where the figures come from, in words.")
    own: bool = Field(description="Whether any of them is the workshop's own.")


class RepairsAnswer(Answer):
    """`evenpour repairs`"""

    hour_of_work: float = Field(description="Money that counts as an hour of work.")
    hour_is_own: bool
    repairs: list[RepairCostLine]
