"""What `evenpour sheet show` answers."""

from __future__ import annotations

from pydantic import Field

from evenpour.job.answers import Answer


class SheetLine(Answer):
    """A value or a limit of the sheet with where it comes from."""

    name: str
    title: str
    shown: str
    source: str = Field(description="Where it comes from, and what the sheet notes beside it.")
    origin: str = Field(default="", description="Where it comes from, alone.")
    note: str = ""


class SheetAnswer(Answer):
    """`evenpour sheet show`"""

    sheet: str
    title: str
    notice: str
    cylinders: int
    devices: list[str]
    values: list[SheetLine]
    limits: list[SheetLine]
