"""The journal, its store, job files in and out; joins the layers below, and answers the faces."""

from evenpour.job.desk import (
    add_words,
    close_job,
    export_job,
    import_job,
    import_photos,
    listed_jobs,
    new_job,
    write_export,
)
from evenpour.job.job import Job, job_of_file, job_of_text
from evenpour.job.opening import is_number, open_job, stored_job

__all__ = [
    "Job",
    "add_words",
    "close_job",
    "export_job",
    "import_job",
    "import_photos",
    "is_number",
    "job_of_file",
    "job_of_text",
    "listed_jobs",
    "new_job",
    "open_job",
    "stored_job",
    "write_export",
]
