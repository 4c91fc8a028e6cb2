"""What one's own closed jobs say about how common causes are."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenpour.job.cause_prior import Prior, shipped_prior

if TYPE_CHECKING:
    from evenpour.job.job import Job
    from evenpour.job.store import Store


def prior_now(job: Job, *, store: Store | None = None) -> Prior:
    """What is believed of this car before any reading."""
    return shipped_prior()
