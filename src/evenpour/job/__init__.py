"""The journal, its store, job files in and out; joins the layers below, and answers the faces."""

from evenpour.job.job import Job, job_of_file, job_of_text
from evenpour.job.opening import is_number, open_job, stored_job

__all__ = ["Job", "is_number", "job_of_file", "job_of_text", "open_job", "stored_job"]
