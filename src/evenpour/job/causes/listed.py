"""Which causes, and which at once, an explained job tells one by one, and how likely each is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from evenpour.causes.parts import SEVERAL_RATHER
from evenpour.causes.together import Together
from evenpour.job.causes.case import Case, marginal
from evenpour.job.causes.naming import at_once, name_of, port_at

LISTED = 8  # causes told in full, the same at several cylinders counting as one
LEAST = 0.005  # probability below which a cause is not listed


@dataclass(frozen=True, slots=True)
class Listed:
    """One cause, or several at once, by their hypotheses.

    Attributes:
        besides: Of the probability of one cause, that one more, not told here, is at work too.
        untold: Those that are told with it.
        second: The cause that is the second one in most of that; empty where none is.
    """

    probability: float
    which: tuple[int, ...]
    joint: Together | None
    besides: float
    untold: tuple[tuple[int, ...], ...] = ()
    second: str = ""


def listed(case: Case) -> list[Listed]:
    """What is told one by one, the likeliest first."""
    joint = [
        Listed(p, one.which, one, 0.0)
        for p, one in zip(case.joint_probability, case.joint, strict=True)
        if _worth_telling(case, p, one)
    ]
    own = _with_untold(case, joint)
    singles = []
    for h, p in case.probability.items():
        with_it = own.get(h, [])
        besides = math.fsum(more for more, _ in with_it)
        if h:
            untold = tuple(which for _, which in with_it)
            singles.append(Listed(p + besides, (h,), None, besides, untold, _second(case, h, with_it)))
    chosen: list[Listed] = []
    kinds: set[tuple[str, ...]] = set()
    for one in sorted([*singles, *joint], key=lambda one: -one.probability):
        kind = tuple(case.explanation.suspects[h].id for h in one.which)
        if len(kinds | {kind}) > LISTED or (one.probability < LEAST and chosen):
            break  # the same at another cylinder takes no line from another cause
        kinds.add(kind)
        chosen.append(one)
    return chosen


def named(case: Case, one: Listed) -> dict[str, Any]:
    """What a line says of a cause, whatever else is known of it."""
    some = [case.explanation.suspects[h] for h in one.which]
    main = some[0]
    assert main.cause is not None
    several = len(some) > 2
    return {
        "cause": main.cause.id,
        "cylinder": main.cylinder,
        "port": port_at(case, main),
        "says": at_once(case, some),
        "probability": one.probability,
        "with_another": one.besides,
        "another": one.second,
        "with": name_of(case, one.which[1]) if len(some) == 2 else None,
        "also": [name_of(case, h) for h in one.which[1:]] if several else [],
    }


def _with_untold(case: Case, told: Sequence[Listed]) -> dict[int, list[tuple[float, tuple[int, ...]]]]:
    """Several at once that take no line of their own, with how likely they are, by the one of them that is
    likeliest alone: it explains as much by itself, so it is what they are told as, and what would be mended.
    """
    share = marginal(case)
    own: dict[int, list[tuple[float, tuple[int, ...]]]] = {}
    lines = {one.which for one in told}
    for p, one in zip(case.joint_probability, case.joint, strict=True):
        if one.which not in lines:
            likeliest = max(one.which, key=lambda h: (case.probability[h], share[h]))
            own.setdefault(likeliest, []).append((p, one.which))
    return own


def _second(case: Case, h: int, with_it: Sequence[tuple[float, tuple[int, ...]]]) -> str:
    """The cause that stands beside another in most of what is told with it; empty where none does."""
    found: dict[str, float] = {}
    for p, which in with_it:
        for name in {case.explanation.suspects[one].id for one in which if one != h}:
            found[name] = found.get(name, 0.0) + p
    most = max(found, key=lambda name: found[name], default="")
    return most if most and 2.0 * found[most] > math.fsum(p for p, _ in with_it) else ""


def _worth_telling(case: Case, p: float, one: Together) -> bool:
    """Whether several causes explain the readings better than one of them alone: else the others are idle
    talk.
    """
    return p > SEVERAL_RATHER * max(case.probability[h] for h in one.which)
