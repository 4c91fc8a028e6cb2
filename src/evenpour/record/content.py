"""The record of a job: everything the paper will say, in order, before anything is set in type."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from multiprocessing.pool import Pool

from evenpour import __version__
from evenpour.job.causes.considered import Considered
from evenpour.record.asked import Answers, AskedJob, answers_of
from evenpour.record.blocks import Record, Section
from evenpour.record.catches import catches_section
from evenpour.record.causes import causes_section, snapshot_section, snapshot_spec
from evenpour.record.charts import flow_charts
from evenpour.record.closing import about_section, instruments_section, sheet_section
from evenpour.record.drawing import drawn
from evenpour.record.front_page import front_page
from evenpour.record.photos import photos_section
from evenpour.record.readings import readings_section
from evenpour.record.recordings import recording_charts, recordings_section
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
) -> Record:
    """The record of *job*.

    Args:
        job: Opened with the same *units*, so that its texts are in them.
        units: "metric", "us" or "imperial": for the labels of the charts.
        beside: A process in which the charts are drawn meanwhile; None draws them here.
        found: What is known of its causes; None leaves them out.
    Returns:
        Content only; ``pdf`` and ``html`` set it. Sections of which there is nothing are left out.
    """
    catch = job.catch()
    recorded = (job.recordings(),)
    caught = (catch.runs, catch.limit_by_run, units) if catch else ([], {}, units)
    meanwhile = beside.apply_async(flow_charts, caught) if beside and catch else None
    traces = beside.apply_async(recording_charts, recorded) if beside and recorded[0] else None
    spec = snapshot_spec(found)
    model = beside.apply_async(drawn, (spec, "w")) if beside and spec else None
    asked = answers_of(job, units, found.answer if found else None)
    charts = meanwhile.get() if meanwhile else flow_charts(*caught)
    trace_charts = traces.get() if traces else recording_charts(*recorded)
    curve = model.get() if model else drawn(spec, "w") if spec else ""
    front = front_page(asked)
    parts = [make(asked) for make in SECTIONS]
    parts.insert(AFTER_READINGS, snapshot_section(found, curve))
    parts.insert(AFTER_READINGS, causes_section(found))
    parts.insert(AFTER_READINGS, catches_section(asked, charts))
    parts.insert(AFTER_READINGS, recordings_section(asked, trace_charts))
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


def _last_moment(asked: Answers) -> int:
    moments = [moment_of(at) for line in asked.history for at in (line.at, line.entered)]
    known = [one if one.tzinfo else one.replace(tzinfo=UTC) for one in moments if one is not None]
    return int(max(known, default=datetime.fromtimestamp(0, UTC)).timestamp())
