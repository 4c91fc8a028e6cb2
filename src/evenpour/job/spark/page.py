"""The spark calculators as pages offer them: what each works out, what it asks for, and its cautions."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from evenpour.job.asking import AskedReading, asked_reading
from evenpour.job.caution_told import cautions_told
from evenpour.job.entries import Draft, linked
from evenpour.job.job import Job, job_from
from evenpour.job.wording import sheet_value_words

if TYPE_CHECKING:
    from evenpour.job.answers import CautionLine


@dataclass(frozen=True, slots=True)
class Calculator:
    """One calculator. ``check`` is what is read for it, ``step`` where its cautions come from.

    ``needs`` is a device without which the engine has nothing of the kind.
    """

    name: str
    title: str
    line: str
    step: str
    check: str = ""
    needs: str = ""


CALCULATORS: Final = (
    Calculator("timing", "Timing on the pulley", "from degrees to a length along the rim, a reading judged",
               "static_timing", "timing_static"),
    Calculator("lamp", "Timing by lamp", "read with the engine running, at its speed, the hose off or on",
               "timing_by_light_running", "timing_running"),
    Calculator("dead_centre", "Top dead centre", "half way between the two marks of a piston stop",
               "dead_centre"),
    Calculator("order", "Firing order and leads", "which lead sits next to which, which mark is whose",
               "spark_parts"),
    Calculator("dwell", "Dwell", "in degrees and per cent, and which way the gap must go",
               "points_and_dwell", "dwell", "points_ignition"),
    Calculator("compression", "Compression", "each cylinder judged, and held beside the others",
               "compression_test", "compression"),
    Calculator("leak_down", "Leak-down", "each cylinder judged, and held beside the others",
               "leak_down_test", "leak_down"),
    Calculator("speed_drop", "Fall of idle speed", "what each cylinder does, its spark earthed in turn",
               "cylinder_drops", "cylinder_drop"),
)  # fmt: skip
_OPTION = re.compile(r"--[a-z]+ ")
_LIKE = re.compile(r", like --[a-z]+ \S+?(?=\.$|\. |$)")
_AT_A_PROMPT = re.compile(r"(State the speed|Write it like|Write them like): .*$")


def calculators(job: Job) -> tuple[Calculator, ...]:
    """Those of which this engine has the thing."""
    return tuple(one for one in CALCULATORS if not one.needs or one.needs in job.sheet.devices)


def bare_job(sheet: str, units: str | None) -> Job:
    """A sheet as if a job had just begun on it, for who has none.

    Raises:
        FieldProblem: there is no such sheet, or it is not sound.
    """
    entries = linked([Draft("engine", {"sheet": sheet}, id="engine")])
    return job_from(f"sheet {sheet}", entries, units=units)


def asked(job: Job, one: Calculator) -> AskedReading | None:
    """What to ask for; None where nothing is read."""
    return asked_reading(job, one.check) if one.check else None


def cautions(job: Job, one: Calculator) -> list[CautionLine]:
    """What can hurt at it; who has read them is known in a stored job only."""
    return cautions_told(one.step, job.known, job.facts if job.number else None)


def on_the_sheet(job: Job) -> Mapping[str, str]:
    """Values that belong beside the calculators, as the sheet states them."""
    names = {"firing_order": "firing order", "rotor_direction": "rotor turns"}
    return {
        title: sheet_value_words(job.sheet, name, job.system)
        for name, title in names.items()
        if name in job.sheet.values
    }


def on_a_page(words: str) -> str:
    """Without the options that one would type at a prompt."""
    return _OPTION.sub("", _LIKE.sub("", _AT_A_PROMPT.sub(r"\1 below.", words)))
