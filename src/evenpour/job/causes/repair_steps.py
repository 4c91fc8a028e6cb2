"""In which step a repair is done or proved, what is done before it, and what it warns of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from evenpour import data
from evenpour.job.causes.prior import come_along
from evenpour.job.job import Job
from evenpour.path.pieces import Step
from evenpour.path.staleness import claim_state
from evenpour.path.steps import proved_keys, unread_cautions


@dataclass(frozen=True, slots=True)
class Way:
    """How a repair is done.

    Attributes:
        step: The step in which it is done, or which proves it afterwards.
        before: Steps to be done first, whose work does not stand yet.
        cautions: Of all that it opens, those that nobody on this job has read.
    """

    step: str
    before: tuple[str, ...]
    cautions: tuple[str, ...]


def way_of(job: Job, cause: str) -> Way:
    """How *cause* is mended on this car."""
    table = _causes()[cause]
    steps = [job.plan.step[name] for name in table["steps"] if name in job.plan.step]
    warned = [name for one in steps for name in unread_cautions(job.state, one)]
    own = [name for name in table.get("cautions", ()) if name not in job.state.cautions_read]
    *before, last = steps
    open_yet = tuple(one.id for one in before if not _stands(job, one))
    return Way(last.id, open_yet, tuple(dict.fromkeys((*warned, *own))))


def mended_on(part: str, cylinder: int | None) -> tuple[str, int | None]:
    """The part that a repair is done on, and its cylinder: of what sits in another, at whichever cylinder,
    that other, for one part is one repair.
    """
    around = (outer for outer, inner in come_along().inside.items() if cylinder is not None and part in inner)
    outer = next(around, None)
    return (part, cylinder) if outer is None else (outer, None)


def _stands(job: Job, step: Step) -> bool:
    """Whether the step would prove only what stands already."""
    keys = proved_keys(job.plan, step, None)
    return bool(keys) and all(claim_state(job.state, *key).stands for key in keys)


@cache
def _causes() -> Mapping[str, Mapping[str, Any]]:
    return {str(one["id"]): one for one in data.shipped("causes.toml").values["cause"]}
