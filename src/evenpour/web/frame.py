"""What stands around every page: the running head, the contents, and what the page's script must know."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from evenpour import __version__
from evenpour.web.contents import Entry, job_contents, shop_contents

if TYPE_CHECKING:
    from evenpour.job.job import Job
    from evenpour.web.preferences import Preferences


@dataclass(frozen=True, slots=True)
class JobFrame:
    """The job that a page is of."""

    number: int
    car: str
    head: str
    closed: bool
    notice: str
    address: str


@dataclass(frozen=True, slots=True)
class Frame:
    """Everything base.html may use besides the page's own content.

    ``clock`` is this server's time in ms: a phone's clock may be wrong, and entries carry their time.
    """

    title: str
    theme: str
    who: str
    job: JobFrame | None
    contents: tuple[Entry, ...]
    shop: tuple[Entry, ...]
    clock: int
    version: str


def frame_of(title: str, here: str, job: Job | None, preferences: Preferences, *, at_machine: bool) -> Frame:
    """The frame of a page.

    Args:
        here: The page's address.
        job: The job that it is of, if it is of one.
        at_machine: Whether a browser on the machine that serves asks for it.
    """
    return Frame(
        title=title,
        theme=preferences.theme,
        who=preferences.who,
        job=_job_frame(job) if job else None,
        contents=job_contents(job, here) if job else (),
        shop=shop_contents(here, at_machine=at_machine, in_job=job is not None),
        clock=int(time.time() * 1000),
        version=__version__,
    )


def _job_frame(job: Job) -> JobFrame:
    car = str(job.engine.get("car") or f"Job {job.number}")
    return JobFrame(
        number=job.number or 0,
        car=car,
        head=job.chain_head,
        closed=job.closed,
        notice=job.sheet.notice,
        address=f"/jobs/{job.number}",
    )
