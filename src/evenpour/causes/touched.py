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
from evenpour.machine.set_up import is_set_for

Array = NDArray[np.float64]

RESPONDS = 0.5  # of a reading's own repeatability and model error, below which it does not respond to a part
TRIED = (0.15, 0.5, 1.0)  # severities
#: A figure farther off than that many of these did not come from what at its worst moves it by less than
#: such a share of that. The house's choice.
FAR, SHARE = 10.0, 1.0 / 3.0


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


@dataclass(frozen=True, slots=True)
class Reach:
    """How far suspects move questions, each at its worst.

    Attributes:
        sound: What is foreseen without any, (questions,).
        down, up: How far, (suspects, questions), at most 0 and at least 0.
        width: Each question's own repeatability and model error, (questions,); of a choice, of its ground.
        figure: Which questions are answered by a figure, (questions,).
    """

    sound: Array
    down: Array
    up: Array
    width: Array
    figure: NDArray[np.bool_]

    def responds(self) -> NDArray[np.bool_]:
        """Which questions respond to which suspects: shape (suspects, questions)."""
        return np.asarray(np.maximum(self.up, -self.down) > RESPONDS * self.width)

    def may_have_made(self, question: int, y: float) -> NDArray[np.bool_]:
        """Which suspects may have had a part in an answer, as it is compared: shape (suspects,)."""
        off = y - self.sound[question]
        own = self.responds()[:, question]
        if not self.figure[question] or abs(off) <= FAR * self.width[question]:
            return np.asarray(own)
        reach = self.up[:, question] if off > 0.0 else -self.down[:, question]
        return np.asarray(own & (reach >= SHARE * abs(off)))


def reach_of(
    asked: Sequence[tuple[Predicted, Query]], suspects: Sequence[Suspect], answers: Answers
) -> Reach:
    """How far each suspect moves each question. That mixture and idle were set for it moves nothing by it."""
    count, tried = len(suspects), (*TRIED, *(-one for one in TRIED))
    second = np.array([_has_second_form(one) for one in suspects])
    severities = np.concatenate([np.zeros(1), *[np.where(second, one, abs(one)) for one in tried]])
    first = np.concatenate([np.zeros(1, dtype=np.int64), *[np.arange(count) for _ in tried]])
    found = answers(asked, alone(first, severities))
    moved = (found[1:] - found[0]).reshape(len(tried), count, len(asked))
    figure = np.array([isinstance(one, NumberCheck) for one, _ in asked])
    width = np.array(
        [np.hypot(one.repeats, one.model) if isinstance(one, NumberCheck) else 1.0 for one, _ in asked]
    )
    return Reach(
        found[0], np.minimum(moved.min(axis=0), 0.0), np.maximum(moved.max(axis=0), 0.0), width, figure
    )


def _has_second_form(suspect: Suspect) -> bool:
    forms = () if suspect.cause is None else suspect.cause.forms
    return len(forms) > 1 and not is_set_for(forms[1])
