"""How strongly a part's fault shows in a catch: by an engine model where there is one, else by a plain table.

A port's width shows at every opening; a fault of its edge fades as the slit opens. A restriction in a line or
an injector fades to nothing at small flow, because the differential-pressure valve still makes up for it, and
a bare line has so much pressure to spare that it hides almost everything. A severe restriction shows wherever
it lies.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

#: Kind -> way of being off -> 0 to 1.
Visibility = Mapping[str, Mapping[str, float]]

#: Plate lift of the named openings, [m]; from memory, not verified. Serves where no sheet says better.
LIFTS: Mapping[str, float] = MappingProxyType({"rest": 0.0, "idle": 3e-3, "part": 20e-3, "full": 55e-3})

#: Visibility of a moderate restriction behind its injector at those openings (design figures, not measured).
RESTRICTION: Mapping[str, float] = MappingProxyType({"idle": 0.1, "part": 0.4, "full": 1.0})

#: Visibility of a moderate restriction in a bare line, at any opening (design figure, not measured).
BARE_LINE = 0.1

#: The larger sizes of a restriction begin so. They share the chance of one way or so: such a part is rarer.
GROSS, GROSS_WEIGHT = "gross", 0.1

_LIFT = re.compile(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*mm\s*")


def lift_of(opening: str, lifts: Mapping[str, float] = LIFTS) -> float | None:
    """Plate lift of an opening, [m]: of a name, or of a text such as ``12 mm``; ``None`` if it is neither."""
    if opening in lifts:
        return lifts[opening]
    found = _LIFT.fullmatch(opening)
    return 1e-3 * float(found[1].replace(",", ".")) if found else None


def table(through: str, opening: str, lifts: Mapping[str, float] = LIFTS) -> Visibility:
    """Visibility of each kind of part, by the way it is off, for one catch, without a model.

    Args:
        through: ``lines`` (bare) or ``injectors``.
        opening: ``idle``, ``part``, ``full``, or a lift such as ``12 mm``; anything else counts as half open.
        lifts: Plate lift of the named openings, [m].
    Returns:
        ``{"port": {"moderate": 1.0, "edge": ...}, "line": {"moderate": ..., "severe": 1.0}, "injector":
        ...}``. ``moderate`` is also how a part's small, harmless differences show.
    """
    lift = lift_of(opening, lifts)
    lift = lifts["part"] if lift is None else lift
    edge = min(1.0, lifts["idle"] / lift) if lift > 0.0 else 1.0
    behind = soft(lift, lifts)
    bare = through == "lines"
    return {
        "port": {"moderate": 1.0, "edge": edge},
        "line": {"moderate": BARE_LINE if bare else behind, "severe": 1.0},
        "injector": {"moderate": 0.0, "severe": 0.0} if bare else {"moderate": behind, "severe": 1.0},
    }


def weight(way: str) -> float:
    """How likely one way of being off is against another."""
    return GROSS_WEIGHT if way.startswith(GROSS) else 1.0


def soft(lift: float, lifts: Mapping[str, float] = LIFTS) -> float:
    """Visibility behind its injector of a restriction that a tired pressure valve hides only in part."""
    places = [(lifts[name], seen) for name, seen in RESTRICTION.items()]
    (low, at_low), *rest = places
    if lift <= low:
        return at_low
    for high, at_high in rest:
        if lift <= high:
            return at_low + (at_high - at_low) * (lift - low) / (high - low)
        low, at_low = high, at_high
    return at_low


@dataclass(frozen=True, slots=True)
class Sight:
    """What shows where on one engine, in a form that can be hashed; without anything, the plain table.

    Attributes:
        lifts: Plate lift of the named openings, [m].
        rows: Key of a catch (``lines:idle``), kind, way of being off, visibility.
    """

    lifts: tuple[tuple[str, float], ...] = tuple(LIFTS.items())
    rows: tuple[tuple[str, str, str, float], ...] = ()

    def lift(self, opening: str) -> float:
        """Plate lift, [m]; 0 for an opening that is neither a name nor a lift."""
        return lift_of(opening, dict(self.lifts)) or 0.0

    def table(self, through: str, opening: str) -> Visibility:
        """Visibility of every kind in one catch: the model's, or the plain table's where it was not asked."""
        found: dict[str, dict[str, float]] = {}
        for key, kind, way, seen in self.rows:
            if key == f"{through}:{opening}":
                found.setdefault(kind, {})[way] = seen
        return found or table(through, opening, dict(self.lifts))

    def ways(self, kind: str) -> tuple[str, ...]:
        """The ways in which a part of a kind can be off."""
        known = dict.fromkeys(way for _, part, way, _ in self.rows if part == kind)
        return tuple(known) or tuple(table("injectors", "full")[kind])


#: The plain table at the openings from memory.
PLAIN = Sight()
