"""What the record says of causes: those considered as a job stands, and the likeliest tried on the model.

The causes take seconds to work out, a record may not: so the kept answer is taken where there is one, and
worked out only when asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from evenpour import data
from evenpour.job.causes.answers import CauseLine, CausesAnswer
from evenpour.job.causes.groups import named_by
from evenpour.job.causes.kept import answer_at_hand, kept_answer
from evenpour.job.sheet.found import own_sheets
from evenpour.job.whatif.answers import WhatIfAnswer

if TYPE_CHECKING:
    from evenpour.job.job import Job
    from evenpour.job.store import Store

WORTH_TRYING: Final = 0.5  # from which probability on a cause is set on the model; our choice


@dataclass(frozen=True, slots=True)
class Considered:
    """The causes of a job, and what the model of its engine says with the likeliest set.

    ``snapshot`` is None where the engine's sheet cannot be found by its name alone; ``tried`` is what was
    set, empty where no cause is likely enough.
    """

    answer: CausesAnswer
    snapshot: WhatIfAnswer | None
    tried: str


def considered(job: Job, *, store: Store | None = None, work_out: bool = False) -> Considered | None:
    """What is known of the job's causes.

    Args:
        job: As its journal stands.
        store: Where the own closed jobs lie; the workshop's if not given.
        work_out: Whether to work out what was not kept; it takes seconds.
    Returns:
        None where nothing was kept and nothing may be worked out.
    """
    answer = kept_answer(job, store=store) if work_out else answer_at_hand(job, store=store)
    if answer is None:
        return None
    likeliest = answer.causes[0] if answer.causes else None
    tried = likeliest if likeliest is not None and likeliest.probability >= WORTH_TRYING else None
    return Considered(answer, _snapshot(job, tried), tried.says if tried else "")


def _snapshot(job: Job, tried: CauseLine | None) -> WhatIfAnswer | None:
    if job.sheet_name not in data.sheet_names() and job.sheet_name not in own_sheets():
        return None
    from evenpour.job.whatif.bench import settings_of_job
    from evenpour.job.whatif.worked_out import whatif  # the engine's model: only where it is needed

    settings = settings_of_job(job)
    if tried is not None:
        how: list[float | None] = [*tried.severities] or [tried.severity]
        settings += [
            _setting(one.cause, one.cylinder, severity)
            for one, severity in zip(named_by(tried), how, strict=True)
        ]
    return whatif(job.sheet_name, settings, units=job.system)


def _setting(cause: str, cylinder: int | None, severity: float | None) -> str:
    place = f"[{cylinder}]" if cylinder else ""
    return f"{cause}{place}" + ("" if severity is None else f"={severity:.2f}")
