"""What the commands about stored jobs, sheets and written files answer."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from evenpour.job.answers import Answer, HistoryLine


class JobNumber(Answer):
    """`evenpour job new` and `evenpour job import`"""

    job: int


class JobLine(Answer):
    """A stored job in the list."""

    job: int
    car: str | None
    sheet: str
    state: Literal["open", "closed"]
    entries: int


class JobsAnswer(Answer):
    """`evenpour job list`"""

    jobs: list[JobLine]


class JournalAnswer(Answer):
    """`evenpour job show`"""

    entries: list[HistoryLine]
    corrections: list[HistoryLine]


class WrittenAnswer(Answer):
    """`evenpour job export -o` and `evenpour sheet copy`: the file that was written."""

    file: str
    unchecked: list[str] = Field(
        default=[], description="Of a sheet: what still waits for the engine's manual."
    )


class SheetListed(Answer):
    """A sheet in the list."""

    sheet: str
    title: str
    origin: str


class SheetsAnswer(Answer):
    """`evenpour sheet list`"""

    sheets: list[SheetListed]


class SheetChecked(Answer):
    """`evenpour sheet check`: no mistake was found."""

    sheet: str
    values: int
    limits: int
    unchecked: list[str] = Field(description="What still waits for the engine's manual.")
