"""Where a part sits, in words that name port and cylinder where their numbers differ."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour.machine.line_map import LineMap, line_map_of
from evenpour.machine.sheet import Sheet
from evenpour.path.words import in_cylinders, listed

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


def at_each(part: str, places: Sequence[Place]) -> str:
    """``cylinders 2, 3 and 5``; ``ports 2 and 3, feeding cylinders 4 and 2``; ``..., fed by ports 2``."""
    cylinders = [str(cylinder) for cylinder, _ in places]
    ports = [str(port or cylinder) for cylinder, port in places]
    if ports == cylinders:
        return f"cylinders {listed(cylinders)}"
    if part in AT_PORT:
        return f"ports {listed(ports)}, feeding cylinders {listed(cylinders)}"
    return f"cylinders {listed(cylinders)}, fed by ports {listed(ports)}"


def caught_words(line_map: LineMap, port: int) -> str:
    """``port 2``; where it feeds another cylinder ``port 2, which feeds cylinder 4``."""
    cylinder = line_map.cylinder(port)
    return f"port {port}" if port == cylinder else f"port {port}, which feeds cylinder {cylinder}"


def read_at(places: Sequence[Place]) -> str:
    """Where readings were taken: ``cylinders 2 to 4``; ``ports 2 and 3, feeding cylinders 4 and 2``."""
    if all(port is None for _, port in places):
        return in_cylinders(sorted(cylinder for cylinder, _ in places))
    both = sorted((port or cylinder, cylinder) for cylinder, port in places)
    ports, cylinders = (listed([str(one) for one in row]) for row in zip(*both, strict=True))
    more = "s" if len(both) > 1 else ""
    return f"port{more} {ports}, feeding cylinder{more} {cylinders}"


def exchange_words(sheet: Sheet, swaps: Sequence[str]) -> str:
    """``injector 2 with 4 and injector 1 with 3``; by the ports, and that is said where it matters."""
    return " and ".join(swaps) + (" (numbers of the ports)" if swaps and line_map_of(sheet).crosses else "")


def fed_words(line_map: LineMap) -> str:
    """``Numbered by cylinder: ports 1, 2 and 3 feed cylinders 1, 3 and 2.``; empty where all are alike."""
    if not line_map.crosses:
        return ""
    cylinders = listed([str(one) for one in line_map.fed])
    ports = listed([str(port) for port in range(1, len(line_map.fed) + 1)])
    return f"Numbered by cylinder: ports {ports} feed cylinders {cylinders}."


def either(numbers: Sequence[int]) -> str:
    """``2, 3 or 5``."""
    *some, last = map(str, numbers)
    return f"{', '.join(some)} or {last}" if some else last
