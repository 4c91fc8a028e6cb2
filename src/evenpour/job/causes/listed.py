"""Which causes, and which two at once, an explained job tells one by one, and how likely each is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from evenpour.causes.aside import TWO_RATHER
from evenpour.causes.two_faults import Pair
from evenpour.job.causes.case import Case, marginal
from evenpour.job.causes.naming import name_of, port_at, titled

LISTED = 8  # causes told in full, the same at several cylinders counting as one
LEAST = 0.005  # probability below which a cause is not listed


@dataclass(frozen=True, slots=True)
class Listed:
    """One cause, or two at once, by their hypotheses.

    Attributes:
        besides: Of the probability of one cause, that one more, not told here, is at work too.
    """

    probability: float
    which: tuple[int, ...]
    pair: Pair | None
    besides: float


def listed(case: Case) -> list[Listed]:
    """What is told one by one, the likeliest first."""
    doubles = [
        Listed(p, (pair.first, pair.second), pair, 0.0)
        for p, pair in zip(case.pair_probability, case.pairs, strict=True)
        if _worth_telling(case, p, pair)
    ]
    own = _with_untold(case, doubles)
    singles = [
        Listed(p + own.get(h, 0.0), (h,), None, own.get(h, 0.0)) for h, p in case.probability.items() if h
    ]
    chosen: list[Listed] = []
    kinds: set[tuple[str, ...]] = set()
    for one in sorted([*singles, *doubles], key=lambda one: -one.probability):
        kind = tuple(case.explanation.suspects[h].id for h in one.which)
        if len(kinds | {kind}) > LISTED or (one.probability < LEAST and chosen):
            break  # the same at another cylinder takes no line from another cause
        kinds.add(kind)
        chosen.append(one)
    return chosen


def named(case: Case, one: Listed) -> dict[str, Any]:
    """What a line says of a cause, whatever else is known of it."""
    main, second = (*(case.explanation.suspects[h] for h in one.which), None)[:2]
    assert main is not None
    assert main.cause is not None
    return {
        "cause": main.cause.id,
        "cylinder": main.cylinder,
        "port": port_at(case, main),
        "says": titled(case, main) if second is None else f"{titled(case, main)}; and {titled(case, second)}",
        "probability": one.probability,
        "with": None if second is None else name_of(case, one.which[1]),
    }


def _with_untold(case: Case, told: Sequence[Listed]) -> dict[int, float]:
    """What pairs that take no line of their own add to the line of their likelier member."""
    share = marginal(case)
    own: dict[int, float] = {}
    lines = {one.which for one in told}
    for p, pair in zip(case.pair_probability, case.pairs, strict=True):
        if (pair.first, pair.second) not in lines:
            likelier = max((pair.first, pair.second), key=lambda h: share[h])
            own[likelier] = own.get(likelier, 0.0) + p
    return own


def _worth_telling(case: Case, p: float, pair: Pair) -> bool:
    """Whether two causes explain the readings better than one of them alone: else the second is idle talk."""
    return p > TWO_RATHER * max(case.probability[pair.first], case.probability[pair.second])
