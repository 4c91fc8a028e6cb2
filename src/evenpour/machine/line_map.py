"""Ports of the fuel distributor and the cylinders that they feed: which number means what.

Decided here, for the model, the causes and everything that is told of them:

* A part is numbered by its cylinder: the one it sits at, or the one it feeds. So is a parameter of the car, a
  cause, a touch, and whatever is read on it, of an injector too: it is numbered by its cylinder when it comes
  out. The port, the differential-pressure valve and the line of cylinder 4 are those that feed it, whichever
  port of the distributor that is. A running engine is therefore worked out without a map.
* A catch alone is numbered by the ports, and so is what is weighed of its ports, lines and injectors. An
  exchange in it names lines and injectors by the ports on which they belong.
* Words name both numbers where they differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evenpour.machine.sheet import Sheet


@dataclass(frozen=True, slots=True)
class LineMap:
    """Which cylinder each port feeds. ``fed``: the cylinders, from port 1 on; numbers count from 1."""

    fed: tuple[int, ...]

    def cylinder(self, port: int) -> int:
        """The cylinder that a port feeds."""
        return self.fed[port - 1]

    def port(self, cylinder: int) -> int:
        """The port that feeds a cylinder."""
        return self.fed.index(cylinder) + 1

    @property
    def crosses(self) -> bool:
        """Whether a port feeds a cylinder of another number."""
        return any(cylinder != port for port, cylinder in enumerate(self.fed, start=1))

    def by_cylinder(self, at_port: Sequence[int]) -> tuple[int, ...]:
        """What serves each cylinder, from what serves each port: both count from 0, by port and by cylinder.

        Example: with ports feeding 1, 3, 2 and the lines of ports 1 and 2 exchanged, (1, 0, 2), cylinder 1
        has the line of cylinder 3, and 3 that of 1: (2, 1, 0).
        """
        found = [0] * len(self.fed)
        for port, part in enumerate(at_port):
            found[self.fed[port] - 1] = self.fed[part] - 1
        return tuple(found)


def line_map_of(sheet: Sheet) -> LineMap:
    """The map of a sheet; each port its own cylinder where it says nothing."""
    stated = sheet.values.get("line_map")
    if stated is not None and isinstance(stated.value, tuple) and stated.value:
        return LineMap(tuple(int(str(one)) for one in stated.value))
    return LineMap(tuple(range(1, sheet.cylinders + 1)))
