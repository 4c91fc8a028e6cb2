"""Where a part sits, in words that name port and cylinder where their numbers differ."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evenpour.machine.line_map import LineMap

#: Parts that are told by the port, and parts that are told by the cylinder with the port that feeds them.
AT_PORT, FED = frozenset({"port", "pressure_valve", "line"}), frozenset({"injector"})

#: A cylinder, and the port that feeds it where that has another number and matters; see `port_of`.
Place = tuple[int, int | None]


def port_of(line_map: LineMap, part: str, cylinder: int | None) -> int | None:
    """The port that feeds a cylinder, of parts between the two; None where it has the same number."""
    if cylinder is None or part not in AT_PORT | FED:
        return None
    port = line_map.port(cylinder)
    return None if port == cylinder else port


def where_words(part: str, places: Sequence[Place]) -> str:
    """``cylinder 2, 3 or 5``; ``port 2 or 3, feeding cylinder 4 or 2``; ``cylinder 4, fed by port 2``."""
    if all(port is None for _, port in places):
        return f"cylinder {either(sorted({cylinder for cylinder, _ in places}))}"
    both = sorted({(port or cylinder, cylinder) for cylinder, port in places})
    if part in AT_PORT:
        return f"port {either([p for p, _ in both])}, feeding cylinder {either([c for _, c in both])}"
    both.sort(key=lambda one: one[1])
    return f"cylinder {either([c for _, c in both])}, fed by port {either([p for p, _ in both])}"


def caught_words(line_map: LineMap, port: int) -> str:
    """``port 2``; where it feeds another cylinder ``port 2, which feeds cylinder 4``."""
    cylinder = line_map.cylinder(port)
    return f"port {port}" if port == cylinder else f"port {port}, which feeds cylinder {cylinder}"


def either(numbers: Sequence[int]) -> str:
    """``2, 3 or 5``."""
    *some, last = map(str, numbers)
    return f"{', '.join(some)} or {last}" if some else last
