"""Who sits where in a catch that has not been made yet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from evenpour.measure.catches import KINDS, Part

Swap = tuple[str, int, int]

#: Minutes, common practice without source: one catch with draining; fitting all injectors to their lines;
#: fitting a spare line; exchanging one pair.
CATCH, FIT_INJECTORS, SPARE_LINE = 10.0, 20.0, 12.0
PAIR: Mapping[str, float] = {"injector": 5.0, "line": 10.0}


@dataclass(frozen=True, slots=True)
class Candidate:
    """A catch that could be made next.

    ``swaps`` are counted from the home arrangement (line 1 on port 1, injector 1 on line 1 ...), by the
    parts' own numbers, done one after the other. ``spare`` is the number of a line replaced by a known good
    one for this catch.
    """

    through: str
    opening: str
    swaps: tuple[Swap, ...]
    minutes: float
    kind: str  # "again", "opening", "through", "pairs", "ring", "farthest", "spare"
    spare: int | None = None


def numbers(parts: Sequence[Part], kind: str) -> tuple[int, ...]:
    """Own numbers of the parts of a kind that are on the car, rising: their home positions."""
    return tuple(sorted({part.number for part in parts if part.kind == kind and part.current}))


def arranged(parts: Sequence[Part], candidate: Candidate) -> Mapping[str, tuple[int | None, ...]]:
    """Identity at each position for each kind in the path; ``None`` for the spare line."""
    rows: dict[str, tuple[int | None, ...]] = {}
    for kind in KINDS:
        if kind == "injector" and candidate.through == "lines":
            continue
        order: list[int] = list(numbers(parts, kind))
        for swapped, a, b in candidate.swaps:
            if swapped == kind and a in order and b in order:
                i, j = order.index(a), order.index(b)
                order[i], order[j] = order[j], order[i]
        identity = {part.number: part.identity for part in parts if part.kind == kind and part.current}
        rows[kind] = tuple(
            None if kind == "line" and number == candidate.spare else identity[number] for number in order
        )
    return rows


def pairs(kind: str, order: Sequence[int], resting: int) -> tuple[Swap, ...]:
    """Neighbours exchanged in pairs; where the number is odd the one at place *resting* stays where it is."""
    movers = [number for place, number in enumerate(order) if len(order) % 2 == 0 or place != resting]
    return tuple((kind, a, b) for a, b in zip(movers[::2], movers[1::2], strict=True))


def ring(kind: str, order: Sequence[int]) -> tuple[Swap, ...]:
    """Pairs, and the last three in a ring: two exchanges one after the other. For an odd number only."""
    a, b, c = order[-3:]
    return (*pairs(kind, order[:-3], 0), (kind, a, b), (kind, b, c))


def farthest(kind: str, order: Sequence[int], suspect: int) -> tuple[Swap, ...]:
    """The suspect exchanged with the one farthest from it."""
    other = order[-1] if order.index(suspect) < len(order) / 2 else order[0]
    return ((kind, suspect, other),)


def moved(
    kind: str, order: Sequence[int], suspect: int | None, least: int
) -> Iterator[tuple[str, tuple[Swap, ...]]]:
    """Exchanges worth trying for one kind, named.

    Args:
        suspect: Own number of the part most suspected of this kind, if any.
        least: Place in *order* of the least suspected one; it rests where the number is odd.
    """
    if len(order) < 2:
        return
    yield "pairs", pairs(kind, order, least)
    if len(order) % 2 and len(order) >= 3:
        yield "ring", ring(kind, order)
    if suspect is not None:
        yield "farthest", farthest(kind, order, suspect)


def swap_minutes(swaps: Sequence[Swap]) -> float:
    """Minutes that exchanging the pairs takes."""
    return sum(PAIR[kind] for kind, _, _ in swaps)
