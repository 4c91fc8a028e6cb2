"""The section on recordings: the chart of each log that readings were made of, and which file it was."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour.job.trace.answers import KeptRecording
from evenpour.record.asked import Answers
from evenpour.record.blocks import Figure, Section, section
from evenpour.record.charts import Chart, Sketch
from evenpour.record.trace_chart import trace_sketch


def recording_sketches(recordings: Sequence[KeptRecording]) -> list[Sketch]:
    """The chart of each."""
    return [trace_sketch(one.plot, f"t{number}") for number, one in enumerate(recordings)]


def recordings_section(asked: Answers, charts: Sequence[Chart]) -> Section | None:
    """One figure a recording; nothing without any."""
    if not asked.recordings:
        return None
    figures = [
        Figure(chart.svg, chart.alt, f"{chart.caption} From {one.file}, {one.rows}; SHA-256 {one.sha256}.")
        for one, chart in zip(asked.recordings, charts, strict=True)
    ]
    return section("recordings", "Recordings", figures)
