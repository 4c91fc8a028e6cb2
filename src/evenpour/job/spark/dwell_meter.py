"""A mean duty read on a dwell meter: degrees of the scale it stood on, as a share of the time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from evenpour.errors import FieldProblem, OutOfRange
from evenpour.measure.checks import Check
from evenpour.measure.quantities import parse
from evenpour.measure.readings import Condition
from evenpour.physics.crank import dwell_share

SCALE = "meter_scale"


def without_dwell(text: Any, check: Check, conditions: Mapping[str, Condition]) -> Any:
    """*text* in per cent where a duty was read in degrees; anything else as it is.

    Args:
        conditions: The reading's; they say on which scale the meter stood.
    Raises:
        FieldProblem: degrees without the scale.
        OutOfRange: more degrees than the scale has.
    """
    if check.id != "lambda_duty" or not isinstance(text, str) or not _in_degrees(text):
        return text
    angle = parse(text, "angle", field=check.id)
    scale = conditions.get(SCALE)
    if scale is None or scale.choice is None:
        raise FieldProblem(
            check.id,
            text,
            "cannot be told: nobody said on which scale the dwell meter stood",
            remedy=f"Add {SCALE}=4 for its 4-cylinder scale (90° is always on), 6 (60°) or 8 (45°).",
        )
    cylinders = int(scale.choice.partition("_")[0])
    if not 0.0 <= angle.value * cylinders <= 1.0:
        raise OutOfRange(
            check.id,
            text,
            f"is off the meter's {cylinders}-cylinder scale",
            allowed=f"0 to {360 // cylinders}°",
            remedy="Did it stand on another scale?",
        )
    share = f"{100.0 * dwell_share(angle.value, cylinders):.6g}"
    if angle.half_width is None:
        return f"{share} %"
    return f"{share} ± {100.0 * dwell_share(angle.half_width, cylinders):.4g} %"


def _in_degrees(text: str) -> bool:
    return "deg" in text.lower() or "°" in text
