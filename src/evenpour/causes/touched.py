"""Which readings a touched part spoils for the car as it is now.

The answer is about the car now. After a touch the part has fresh parameters, so an earlier reading still
counts only if what it reads does not respond to that part. (Other parts that such a reading shares are not
followed further: it is left out, and said to be.) Work on a part that only mends a cause elsewhere makes
nothing fresh there: it cannot have spoiled what was in order.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpour.causes.along import Along
from evenpour.causes.problem import Faults, alone
from evenpour.causes.suspects import Suspect
from evenpour.machine.checks import NumberCheck, Predicted
from evenpour.machine.readout import Query

Array = NDArray[np.float64]

RESPONDS = 0.5  # of a reading's own repeatability and model error, below which it does not respond to a part
TRIED = (0.15, 0.5, 1.0)  # severities


@dataclass(frozen=True, slots=True)
class Touched:
    """A part that was replaced, cleaned, adjusted or otherwise opened. ``cylinder`` from 1; None: of all."""

    part: str
    cylinder: int | None
    action: str


def is_touched(suspect: Suspect, touch: Touched, along: Along) -> bool:
    """Whether a suspect sits in what was touched."""
    return suspect.cause is not None and _touches(suspect, touch, along, (suspect.cause.part,))


def can_be_mended(suspect: Suspect, touch: Touched, along: Along) -> bool:
    """Whether work on what was touched can have mended a suspect that does not sit in it."""
    return suspect.cause is not None and _touches(suspect, touch, along, suspect.cause.mended_by)


def is_there(suspect: Suspect, touch: Touched) -> bool:
    """Whether what was touched is at the cylinder of a suspect, as far as either has one."""
    return touch.cylinder is None or suspect.cylinder is None or touch.cylinder == suspect.cylinder


def _touches(suspect: Suspect, touch: Touched, along: Along, parts: Sequence[str]) -> bool:
    return not along.parts_of(touch.part, touch.action).isdisjoint(parts) and is_there(suspect, touch)


#: All columns for faults and numbers z, of questions.
Answers = Callable[[Sequence[tuple[Predicted, Query]], Faults], Array]


def responding(
    asked: Sequence[tuple[Predicted, Query]], suspects: Sequence[Suspect], answers: Answers
) -> NDArray[np.bool_]:
    """Which questions respond to which suspects: shape (suspects, questions)."""
    count = len(suspects)
    severities = np.concatenate([np.zeros(1), *[np.full(count, tried) for tried in TRIED]])
    first = np.concatenate([np.zeros(1, dtype=np.int64), *[np.arange(count) for _ in TRIED]])
    found = answers(asked, alone(first, severities))
    moved = np.abs(found[1:] - found[0]).reshape(len(TRIED), count, len(asked)).max(axis=0)
    width = np.array(
        [np.hypot(one.repeats, one.model) if isinstance(one, NumberCheck) else 1.0 for one, _ in asked]
    )
    return np.asarray(moved > RESPONDS * width)
