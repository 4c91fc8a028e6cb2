"""What `evenpour trace` answers."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from evenpour.job.answers import AddAnswer, Answer, CautionLine, JudgedReading, Word


class TraceColumn(Answer):
    """A column of the file as understood."""

    number: int = Field(description="From 1.")
    name: str = Field(description="Its head; empty where it has none.")
    unit: str | None
    quantity: str | None = Field(description="The kind of quantity; null where it is not known.")
    used_as: str | None = Field(description="null where nothing is made of it.")
    why: str = Field(description="How it was understood.")


class TraceFigure(Answer):
    """A figure with its doubt: half of what is likely lies below the value, 95 % from low to high."""

    name: str
    title: str
    value: float | None = Field(description="null where it has no end.")
    u: float | None = Field(description="About a standard uncertainty: the 95 % over 3.92.")
    low: float | None
    high: float | None = Field(description="null where it has no end.")
    unit: str
    shown: str
    range_shown: str = Field(description="Where 95 % of what is likely lies.")
    note: str = ""


class LawShare(Answer):
    """A law and how likely it is among those tried."""

    law: str
    title: str
    probability: float


class TraceFit(Answer):
    """The law that the trace follows, and its parameters, averaged over what it does not choose between."""

    law: str = Field(description="The likeliest.")
    law_words: str
    laws: list[LawShare]
    parameters: list[TraceFigure]
    undivided: list[list[str]] = Field(default=[], description="Causes that this trace cannot tell apart.")
    notes: list[str]


class Prediction(TraceFigure):
    """What follows from the fit, with the sheet's limit where there is one."""

    limit: str | None = None
    p: float | None = Field(default=None, description="Probability that the limit is met.")
    beyond: bool = Field(default=False, description="Whether it lies beyond the end of the trace.")


class PlotPoint(Answer):
    """What was recorded: one sample, or one steady stretch with its expanded uncertainty."""

    x: float
    y: float
    half: float = 0.0


class PlotLine(Answer):
    """The fit, with where 95 % of what is likely lies."""

    x: float
    y: float
    low: float
    high: float


class PlotMark(Answer):
    """A limit of the sheet: a level, or the piece of a line where it holds."""

    label: str
    x: list[float]
    y: list[float]


class TracePlot(Answer):
    """What the chart of a trace is made of, in the units shown."""

    title: str
    x_title: str
    y_title: str
    log_x: bool = False
    points: list[PlotPoint]
    line: list[PlotLine]
    marks: list[PlotMark]


class KeptRecording(Answer):
    """A recording that readings of a job were made of, with its chart."""

    file: str
    sha256: str
    rows: str
    kind: Literal["holding", "warm_up", "running"]
    plot: TracePlot


class TraceAnswer(Answer):
    """`evenpour trace`"""

    kind: Literal["holding", "warm_up", "running"]
    file: str
    sha256: str
    rows: str = Field(description="Which lines of the file were used.")
    samples: int
    columns: list[TraceColumn]
    fit: TraceFit
    verdict: Word = Field(description="Of the readings made of it, the worst.")
    readings: list[JudgedReading] = Field(description="Readings made of the trace, held against the sheet.")
    predictions: list[Prediction]
    plot: TracePlot
    notes: list[str] = Field(description="What was left out, missing or assumed.")
    cautions: list[CautionLine]
    added: AddAnswer | None = Field(default=None, description="What the readings changed in the job.")
    kept: list[str] = Field(default=[], description="The entries that the job kept.")
    sheet: str
    notice: str
