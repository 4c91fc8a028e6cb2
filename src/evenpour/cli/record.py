"""``evenpour record``: the printed record of a job."""

from __future__ import annotations

from pathlib import Path

import click

from evenpour.cli import show


@click.command("record")
@show.job_argument
@click.option(
    "-o",
    "--output",
    required=True,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="A .pdf or .html file.",
)
@click.option(
    "--units", metavar="metric|us|imperial", help="Units to print; also EVENPOUR_UNITS. Else as typed."
)
@click.option("--causes", is_flag=True, help="Work out what may be wrong if that is not kept yet: seconds.")
def command(job: str, output: Path, units: str | None, causes: bool) -> None:
    """Write the printed record of JOB.

    It says on its first page where the job stands: handed over, handed over with overrides, or not finished,
    and what is missing.
    """
    from evenpour.record.drawing import drawn_beside

    chosen = show.units_chosen(units)
    with drawn_beside() as beside:
        from evenpour.job import open_job
        from evenpour.job.causes.considered import considered
        from evenpour.record.charts import IN_ONE_FIGURE
        from evenpour.record.content import record_of
        from evenpour.record.html import ACROSS
        from evenpour.record.writing import check_place, write_record

        check_place(output)
        opened = open_job(job, units=chosen)
        known = considered(opened, work_out=causes)
        across = ACROSS if output.suffix.lower() == ".html" else IN_ONE_FIGURE
        record = record_of(opened, chosen or "metric", beside, known, across)
    write_record(record, output)
    show.line(f"{output}: {record.title}, {record.standing.lower()}.")
    if known is None:
        show.line("The causes are not in it: they were not worked out yet. With --causes they are.")
