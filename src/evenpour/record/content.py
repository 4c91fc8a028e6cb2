"""The record of a job: everything the paper will say, in order, before anything is set in type."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from multiprocessing.pool import Pool

from evenpour import __version__
from evenpour.job.causes.considered import Considered
from evenpour.record.asked import Answers, AskedJob, answers_of
from evenpour.record.blocks import Record, Section
from evenpour.record.catches import catches_section
from evenpour.record.causes import causes_section, snapshot_section, snapshot_sketch
from evenpour.record.charts import IN_ONE_FIGURE, Chart, Sketch, flow_sketches
from evenpour.record.closing import about_section, instruments_section, sheet_section
from evenpour.record.drawing import drawn
from evenpour.record.front_page import front_page
from evenpour.record.photos import photos_section
from evenpour.record.readings import readings_section
from evenpour.record.recordings import recording_sketches, recordings_section
from evenpour.record.stages import renewed_section, stages_section
from evenpour.record.words import moment_of
from evenpour.record.work import (
    cautions_section,
    corrections_section,
    journal_section,
    overrides_section,
    put_back_section,
    screws_section,
)

SECTIONS: tuple[Callable[[Answers], Section | None], ...] = (
    stages_section,
    readings_section,
    photos_section,
    screws_section,
    renewed_section,
    corrections_section,
    overrides_section,
    put_back_section,
    cautions_section,
    sheet_section,
    instruments_section,
    journal_section,
    about_section,
)
AFTER_READINGS = 2  # the place of recordings and catches, which come with their drawings


def record_of(
    job: AskedJob,
    units: str = "metric",
    beside: Pool | None = None,
    found: Considered | None = None,
    across: int = IN_ONE_FIGURE,
) -> Record:
    """The record of *job*.

    Args:
        job: Opened with the same *units*, so that its texts are in them.
        units: "metric", "us" or "imperial": for the labels of the charts.
        beside: A process in which the charts are drawn meanwhile; None draws them here.
        found: What is known of its causes; None leaves them out.
        across: How many catches' panels stand beside each other in one drawing: one where a small screen
            must show it.
    Returns:
        Content only; ``pdf`` and ``html`` set it. Sections of which there is nothing are left out.
    """
    # What needs no catch weighed is drawn first, and what is drawn beside is begun before all else is asked.
    recorded = _begun(recording_sketches(job.recordings()), beside)
    modelled = _begun(snapshot_sketch(found), beside)
    catch = job.catch()
    caught = _begun(flow_sketches(catch.runs, catch.limit_by_run, units, across) if catch else [], beside)
    asked = answers_of(job, units, found.answer if found else None)
    front = front_page(asked)
    parts = [make(asked) for make in SECTIONS]
    parts.insert(AFTER_READINGS, snapshot_section(found, modelled()))
    parts.insert(AFTER_READINGS, causes_section(found))
    parts.insert(AFTER_READINGS, catches_section(asked, caught()))
    parts.insert(AFTER_READINGS, recordings_section(asked, recorded()))
    name = asked.name if asked.number is None else f"Job {asked.number}"
    return Record(
        title=f"Record of work: {front.car}",
        running=f"{front.car} · {name}" if front.car != asked.name else name,
        standing=front.status,
        front=front,
        sections=tuple(part for part in parts if part is not None),
        seconds=_last_moment(asked),
        version=__version__,
    )


def _begun(sketches: Sequence[Sketch], beside: Pool | None) -> Callable[[], list[Chart]]:
    """The charts when they are asked for; meanwhile they are drawn beside, if there is a process for that."""
    if beside is None:
        return lambda: [one.chart() for one in sketches]
    drawings = [beside.apply_async(drawn, (one.spec, one.name)) for one in sketches]
    return lambda: [one.chart(drawing.get()) for one, drawing in zip(sketches, drawings, strict=True)]


def _last_moment(asked: Answers) -> int:
    moments = [moment_of(at) for line in asked.history for at in (line.at, line.entered)]
    known = [one if one.tzinfo else one.replace(tzinfo=UTC) for one in moments if one is not None]
    return int(max(known, default=datetime.fromtimestamp(0, UTC)).timestamp())
