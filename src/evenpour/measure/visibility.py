"""How strongly a part's fault shows in a catch, before an engine model says it better.

A port's width shows at every opening; a fault of its edge fades as the slit opens. A restriction in a line or
an injector fades to nothing at small flow, because the differential-pressure valve still makes up for it, and
a bare line has so much pressure to spare that it hides almost everything. A severe restriction shows wherever
it lies.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

#: Plate lift of the named openings, [mm]; from memory, not verified. Only used to place an opening given as a
#: lift.
LIFT_MM: Mapping[str, float] = MappingProxyType({"rest": 0.0, "idle": 3.0, "part": 20.0, "full": 55.0})

#: Visibility of a moderate restriction behind its injector at those lifts (design figures, not measured).
RESTRICTION: tuple[tuple[float, float], ...] = ((3.0, 0.1), (20.0, 0.4), (55.0, 1.0))

#: Visibility of a moderate restriction in a bare line, at any opening (design figure, not measured).
BARE_LINE = 0.1

_LIFT = re.compile(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*mm\s*")


def lift_of(opening: str) -> float | None:
    """Plate lift of an opening, [mm]: of a name, or of a text such as ``12 mm``; ``None`` if it is
    neither.
    """
    if opening in LIFT_MM:
        return LIFT_MM[opening]
    found = _LIFT.fullmatch(opening)
    return float(found[1].replace(",", ".")) if found else None


def table(through: str, opening: str) -> Mapping[str, Mapping[str, float]]:
    """Visibility of each kind of part, by the way it is off, for one catch.

    Args:
        through: ``lines`` (bare) or ``injectors``.
        opening: ``idle``, ``part``, ``full``, or a lift such as ``12 mm``; anything else counts as half open.
    Returns:
        ``{"port": {"moderate": 1.0, "edge": ...}, "line": {"moderate": ..., "severe": 1.0}, "injector":
        ...}``. ``moderate`` is also how a part's small, harmless differences show.
    """
    lift = lift_of(opening)
    lift = LIFT_MM["part"] if lift is None else lift
    edge = min(1.0, LIFT_MM["idle"] / lift) if lift > 0.0 else 1.0
    behind = _between(lift)
    bare = through == "lines"
    return {
        "port": {"moderate": 1.0, "edge": edge},
        "line": {"moderate": BARE_LINE if bare else behind, "severe": 1.0},
        "injector": {"moderate": 0.0, "severe": 0.0} if bare else {"moderate": behind, "severe": 1.0},
    }


def _between(lift: float) -> float:
    (low, at_low), *rest = RESTRICTION
    if lift <= low:
        return at_low
    for high, at_high in rest:
        if lift <= high:
            return at_low + (at_high - at_low) * (lift - low) / (high - low)
        low, at_low = high, at_high
    return at_low
