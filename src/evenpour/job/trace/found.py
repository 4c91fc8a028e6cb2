"""What was found in a trace, before it is answered: fit, what follows, readings, and the chart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.job.entries import Draft
from evenpour.job.trace.answers import Prediction, TraceFit, TracePlot
from evenpour.job.trace.bench import Bench
from evenpour.job.trace.input import Recorded
from evenpour.measure.units import shown, unit_for


@dataclass(frozen=True, slots=True)
class Asking:
    """What a trace is looked at with."""

    recorded: Recorded
    bench: Bench
    at: str | None
    sure: bool
    started: float | None  # when the pump stopped or the heater was switched on, where a person said so, [s]
    warm: bool  # the engine was warm throughout
    state: str | None  # how it ran throughout

    @property
    def source(self) -> dict[str, str]:
        """Where a reading comes from, as an entry keeps it."""
        return {
            "file": self.recorded.file,
            "sha256": self.recorded.sha256,
            "rows": self.recorded.rows_words,
        }

    def after(self, moment: float, *, seen: bool) -> str:
        """How long after the stop or the switching on, as a reading's condition.

        Where the recording shows that moment, to the nearest of its rows.
        """
        words = shown(moment, "time")
        spacing = max(1.0, float(np.median(np.diff(self.recorded.time))))
        return f"{words} ± {shown(spacing, 'time', unit='s')}" if seen or self.started is not None else words

    def unit(self, dimension: str) -> str:
        """The unit in which figures of that kind are shown."""
        system = self.bench.job.units
        if dimension == "pressure":
            return self.recorded.unit if system is None else unit_for("pressure", system, "bar")
        return unit_for(dimension, system or "metric")


@dataclass(frozen=True, slots=True)
class FoundIn:
    """What a trace tells."""

    fit: TraceFit
    predictions: Sequence[Prediction]
    drafts: Sequence[Draft]
    plot: TracePlot
    notes: Sequence[str]
    step: str  # of the path, whose cautions belong to such a recording
