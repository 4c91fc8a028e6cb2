"""The gases as a page asks for them: what there is to choose from, and the entries that are kept of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from evenpour.job.asking import Choice, asked_reading, unit_choices
from evenpour.job.catalogue import catalogue
from evenpour.job.gas.answer import gas_caution
from evenpour.job.gas.keeping import gas_drafts
from evenpour.measure.analysers import CLASSES, HC_AS

if TYPE_CHECKING:
    from evenpour.job.answers import CautionLine
    from evenpour.job.entries import Draft
    from evenpour.job.gas.answer import GasAsked
    from evenpour.job.job import Job


@dataclass(frozen=True, slots=True)
class AskedGas:
    """Everything a form for gases offers. ``fuel`` is the job's own, where it states one."""

    fuels: tuple[Choice, ...]
    fuel: str
    classes: tuple[Choice, ...]
    hc_as: tuple[Choice, ...]
    states: tuple[Choice, ...]
    temperatures: tuple[Choice, ...]
    instruments: tuple[Choice, ...]
    caution: CautionLine


def asked_gas(job: Job | None, units: str | None) -> AskedGas:
    """What to ask for; without a job there are no instruments, and nothing is known of its fuel."""
    known = catalogue()
    stated = job.facts.general.get("fuel") if job else None
    system = job.system if job else units or "metric"
    return AskedGas(
        fuels=tuple((name, name) for name in known.kinds["fuel"].choices),
        fuel=(stated.choice or "") if stated else "",
        classes=tuple((name, name) for name in CLASSES),
        hc_as=tuple((name, name) for name in HC_AS),
        states=tuple((name, name.replace("_", " ")) for name in known.kinds["state"].choices),
        temperatures=unit_choices(("temperature",), system),
        instruments=asked_reading(job, "exhaust_co").instruments if job else (),
        caution=gas_caution(known, job.facts if job else None),
    )


def gas_entries(
    job: Job, asked: GasAsked, pairs: Mapping[str, str], entry_id: str, at: str | None
) -> list[Draft]:
    """The readings as entries sent together under *entry_id*, a number behind it.

    Raises:
        Problem: a reading cannot be understood, is odd, or surely wrong.
    """
    _, drafts = gas_drafts(job, asked, pairs, at)
    return [replace(one, id=f"{entry_id}.{row}") for row, one in enumerate(drafts, start=1)]
