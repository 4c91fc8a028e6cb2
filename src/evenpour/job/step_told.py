"""A step told whole: cautions first, how with this sheet's figures, why, what to look out for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from evenpour.job.answers import CautionLine, PathAnswer, StepTold
from evenpour.job.catalogue import Catalogue
from evenpour.job.wording import filled
from evenpour.machine.sheet import Sheet
from evenpour.path.plan import Step

# The command that works out what a step reads, by step.
WORKED_OUT_BY: Final[Mapping[str, str]] = {
    "compression_test": "spark compression",
    "leak_down_test": "spark leak_down",
    "dead_centre": "spark dead_centre",
    "spark_parts": "spark order",
    "points_and_dwell": "spark dwell",
    "static_timing": "spark timing",
    "timing_by_lamp": "spark timing",
    "timing_by_light_running": "spark timing",
    "cylinder_drops": "spark speed_drop",
    "onset_lines": "screw",
    "onset_injectors": "screw",
    "idle_mixture_and_speed": "screw",
    "idle_mixture_by_duty": "screw",
    "read_control_warm": "trace FILE --kind warm_up",
    "read_holding": "trace FILE --kind holding",
    "road_steady": "trace FILE --kind running",
    "full_load": "trace FILE --kind running",
}


def step_told(
    step: Step, path: PathAnswer, read: Sequence[CautionLine], sheet: Sheet, known: Catalogue, system: str
) -> StepTold:
    """The step in this sheet's figures and the user's units."""
    by_id = {caution.id: caution for caution in read}
    states = [one for stage in path.stages for one in stage.steps if one.step == step.id]
    foresee = [words for one in path.next if one.step == step.id for words in one.foresee]
    return StepTold(
        step=step.id,
        title=step.title,
        stage=step.stage,
        minutes=step.minutes,
        how=filled(step.how, sheet, known, system).strip(),
        why=filled(step.why, sheet, known, system),
        look_out=filled(step.look_out, sheet, known, system).strip(),
        tools=[filled(tool, sheet, known, system) for tool in step.tools],
        cautions=[by_id.get(name) or _unread(name, known) for name in step.cautions],
        checks=list(step.checks),
        foresee=foresee,
        worked_out_by=WORKED_OUT_BY.get(step.id),
        state=states,
        notice=sheet.notice,
    )


def _unread(name: str, known: Catalogue) -> CautionLine:
    caution = known.cautions[name]
    return CautionLine(
        id=caution.id, title=caution.title, text=caution.text, sign=caution.sign, read_by=None, read_at=None
    )
