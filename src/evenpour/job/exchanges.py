"""Parts that hang in each other's place since a catch, until somebody says that they are back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from evenpour.job.port_words import caught_words
from evenpour.job.rules import read_swap
from evenpour.machine.line_map import LineMap, line_map_of

if TYPE_CHECKING:
    from evenpour.job.facts import Facts
    from evenpour.job.job import Job

KINDS = ("injector", "line")

#: What was exchanged: its kind, and the two ports to which the parts belong.
Swap = tuple[str, int, int]


def stands_at(kind: str, port: int, swaps: Sequence[Swap]) -> int:
    """At which port what belongs to a port stands after exchanges."""
    standing: dict[int, int] = {}  # of parts by where they belong; exchanges name them so
    for which, one, two in swaps:
        if which == kind:
            standing[one], standing[two] = standing.get(two, two), standing.get(one, one)
    return standing.get(port, port)


def exchanged_now(job: Job) -> tuple[Swap, ...]:
    """What was exchanged for a catch and is still on the put-back list."""
    if not any(fact.swaps for fact in job.facts.catches):
        return ()
    on_list = [(one.item, one.cylinder) for one in job.path().put_back]
    return still_exchanged(job.facts, line_map_of(job.sheet), on_list)


def still_exchanged(
    facts: Facts, line_map: LineMap, on_list: Sequence[tuple[str, int | None]]
) -> tuple[Swap, ...]:
    """The same of a put-back list: its items, each with its cylinder."""
    return tuple(swap for kind in KINDS for swap in _of_kind(facts, line_map, on_list, kind))


def _of_kind(
    facts: Facts, line_map: LineMap, on_list: Sequence[tuple[str, int | None]], kind: str
) -> Iterator[Swap]:
    out = {cylinder for item, cylinder in on_list if item == put_back_item(kind)}
    if not out:
        return
    told = [[one for one in fact.swaps if one[0] == kind] for fact in facts.catches]
    newest = next((swaps for swaps in reversed(told) if swaps), [])
    yield from (one for one in newest if {line_map.cylinder(port) for port in one[1:]} & out)


def put_back_item(kind: str) -> str:
    """What stands on the put-back list for exchanged parts of a kind."""
    return f"exchanged_{kind}"


def swap_words(swap: Swap) -> str:
    """``injector 4 with 1``, as a catch says it."""
    kind, one, other = swap
    return f"{kind} {one} with {other}"


def hangs_now(job: Job, part: str, cylinder: int | None) -> str:
    """``now at port 1, exchanged with injector 1``: where a cylinder's part is found; empty where it is in
    its own place, or is none that is exchanged for catches.
    """
    if cylinder is None or part not in KINDS:
        return ""
    return hangs_after(part, cylinder, line_map_of(job.sheet), exchanged_now(job))


def hangs_after(part: str, cylinder: int, line_map: LineMap, swaps: Sequence[Swap]) -> str:
    """The same of what belongs to a cylinder, after exchanges."""
    home = line_map.port(cylinder)
    port = stands_at(part, home, swaps)
    other = f"that of port {port}" if line_map.crosses else f"{part} {port}"
    return "" if port == home else f"now at {caught_words(line_map, port)}, exchanged with {other}"


def left_unsaid(standing: Sequence[Swap], catch: Mapping[str, Any]) -> list[Swap]:
    """Which of the exchanges that stand a catch does not name, though it is caught through those parts.

    Args:
        standing: As :func:`exchanged_now` gives them, before the catch.
        catch: The content of its entry.
    """
    read = [swap for text in catch.get("swaps", ()) if (swap := read_swap(str(text))) is not None]
    named = {(kind, port) for kind, *both in read for port in both}
    through = [one for one in standing if one[0] == "line" or catch.get("through") == "injectors"]
    return [(kind, one, other) for kind, one, other in through if not {(kind, one), (kind, other)} <= named]
