"""What speaks for and against a cause: check by check, and several that say it together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.parts import ASTRAY
from evenpour.causes.problem import Array
from evenpour.causes.reasons import better_than_sound
from evenpour.job.causes.answers import BETTER, SAME, WORSE, ReasonLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.expected import Expectations
from evenpour.job.causes.words import (
    bare_words,
    meant_otherwise,
    reason_words,
    strength_of,
    together_words,
    without_words,
)

SPEAKS = 0.3  # nat below which a check speaks neither for nor against
CLEARLY = 1.0  # the same, from which it speaks clearly
LIKELY = 0.1  # that it is one cause, wherever it may sit, from which it wants a reason
MOST = 4  # readings named of those that say it together
TOGETHER = "several readings together"
NONE_ALONE = f"{TOGETHER}, none of which decides alone"


@dataclass(frozen=True, slots=True)
class Weighing:
    """What the checks weigh for one line, and all that is told with it, against everything else.

    Attributes:
        chance: How likely all that is told with it is.
        each: Of each check, all others in place, (G,).
        at_once: Of several checks, by their numbers, left out at once.
    """

    chance: float
    each: Array
    at_once: Callable[[Sequence[int]], float]


def reasons_of(
    case: Case, owner: int, weighed: Weighing, expect: Expectations, cars: tuple[Array, Array]
) -> list[ReasonLine]:
    """What each check weighs. Where no single figure bears out what speaks for a cause, the check that does
    most so is told by what the same car would read mended, the others without figures: it is how the readings
    go together.

    Args:
        cars: All columns of the car with the cause, and of the same car with it mended.
    """
    speaks = list(speaking(case, weighed.each))
    words = [reason_words(case, expect, owner, g, weight, cars) for g, weight in speaks]
    best = max(range(len(speaks)), key=lambda n: speaks[n][1], default=None)
    shown = any(
        weight > 0.0 and said and not said.endswith(SAME)
        for (_, weight), said in zip(speaks, words, strict=True)
    )
    if best is not None and speaks[best][1] > 0.0 and not shown:
        words[best] = together_words(case, speaks[best][0], *cars)
    found = [
        _told(case, g, said or bare_words(case, g, better=weight > 0.0), weight)
        for (g, weight), said in zip(speaks, words, strict=True)
    ]
    return [*found, *_together(case, weighed, found, cars)]


def joint_reasons(case: Case, weighed: Weighing, cars: tuple[Array, Array]) -> list[ReasonLine]:
    """What each check weighs for several causes at once, told by what the same car would read without."""
    found = [
        _told(case, g, together_words(case, g, *cars, several=True, better=weight > 0.0), weight)
        for g, weight in speaking(case, weighed.each)
    ]
    return [*found, *_together(case, weighed, found, cars, several=True)]


def speaks_for(one: ReasonLine) -> bool:
    """Whether a reason is one for a cause."""
    return one.weight >= 0.0 or bool(one.together)


def whole_weight(one: ReasonLine) -> float:
    """What a reason weighs, with all checks that it names."""
    return one.weight if one.together_weight is None else one.together_weight


def speaking(case: Case, weights: Array) -> Iterator[tuple[int, float]]:
    """Which checks speak, and by how much; what is told as a clash, or was meant otherwise, does not."""
    meant = meant_otherwise(case)
    for g in _that_belong(case):
        weight = float(weights[g])
        if abs(weight) >= SPEAKS and int(case.explanation.checks[g]) not in meant:
            yield g, weight


def _together(
    case: Case,
    weighed: Weighing,
    found: Sequence[ReasonLine],
    cars: tuple[Array, Array],
    *,
    several: bool = False,
) -> Iterator[ReasonLine]:
    """Where several checks say the same, none of them alone weighs much: what they weigh left out at once.

    Those that a car with the cause makes likelier than the best one with nothing wrong does, and that do not
    speak against it. What was written wrongly says it too, as it was meant.
    """
    most = max((one.weight for one in found if not one.words.endswith((BETTER, WORSE))), default=0.0)
    if weighed.chance < LIKELY or most >= CLEARLY:
        return
    gain = better_than_sound(case.explanation, cars[0])
    some = [g for g in _that_belong(case) if gain[g] >= SPEAKS and weighed.each[g] > -SPEAKS]
    some.sort(key=lambda g: -gain[g])
    weight = weighed.at_once(some) if some else 0.0
    if weight < (CLEARLY if most > 0.0 else SPEAKS):
        return
    own = float(weighed.each[some[0]])
    alone = max((one.weight for one in found), default=0.0)
    if len(some) > 1:
        named = "; ".join(without_words(case, g, *cars, several=several) for g in some[:MOST])
        words = f"{TOGETHER if alone >= CLEARLY else NONE_ALONE}: {named}"
    elif int(case.explanation.checks[some[0]]) in meant_otherwise(case):
        words = f"{together_words(case, some[0], *cars, several=several)}; read as it was meant"
        weight = own
    else:
        return  # one check by itself: what it weighs is told already
    one = _told(case, some[0], words, own)
    checks = [_what(case, g) for g in some]
    yield one.model_copy(
        update={"strength": strength_of(weight), "together": checks, "together_weight": weight}
    )


def _that_belong(case: Case) -> list[int]:
    """Checks of what is told from that are not told as a clash, or were as they were meant."""
    checks, everything = case.explanation.checks, case.weighed.parts[0].told
    meant = meant_otherwise(case)
    astray = case.weighed.does_not_belong[np.searchsorted(everything.checks, checks)]
    return [g for g, check in enumerate(map(int, checks)) if astray[g] <= ASTRAY or check in meant]


def _told(case: Case, g: int, words: str, weight: float) -> ReasonLine:
    return ReasonLine(what=_what(case, g), words=words, weight=weight, strength=strength_of(weight))


def _what(case: Case, g: int) -> str:
    row = int(np.argmax(case.explanation.seen.columns.check == case.explanation.checks[g]))
    return case.told[row].observation.check.check
