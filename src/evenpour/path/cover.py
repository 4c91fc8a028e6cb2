"""Weighted set cover, exactly: the cheapest choice of sets that together hold every element."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import TypeVar

E = TypeVar("E", bound=Hashable)


def cheapest_cover(
    costs: Sequence[int], sets: Sequence[frozenset[E]], wanted: frozenset[E]
) -> tuple[int, ...]:
    """The sets, by number and in order, of least total cost whose union holds *wanted*.

    Equal costs: the choice whose highest number is lowest wins, then the next highest, and so on. This is
    kept exact by adding 2^number below the cost's last digit: every choice then has a cost of its own.

    Args:
        costs: Whole numbers, not negative.
        sets: What each choice covers, in the same order.
        wanted: What must be covered; all of it must be in some set.
    Raises:
        ValueError: an element is in no set.
    Method:
        Reduction (forced sets, dominated sets, implied elements), split into independent parts, then branch
        and bound on the element with the fewest sets, bounded by shared cost: each element costs at least
        the least of cost / number of elements still to cover among its sets.
    """
    if not wanted <= frozenset[E]().union(*sets):
        raise ValueError("an element is in no set, so nothing covers it")
    unit = 1 << len(costs)
    priced = {
        number: (cost * unit + (1 << number), members & wanted)
        for number, (cost, members) in enumerate(zip(costs, sets, strict=True))
        if members & wanted
    }
    chosen: list[int] = []
    for part, elements in _independent(priced, wanted):
        chosen += _solved(part, elements)
    return tuple(sorted(chosen))


Priced = dict[int, tuple[int, frozenset[E]]]


def _independent(priced: Priced[E], wanted: frozenset[E]) -> list[tuple[Priced[E], frozenset[E]]]:
    """Groups of sets that share no element with another group."""
    groups: list[tuple[Priced[E], frozenset[E]]] = []
    for number, (cost, members) in priced.items():
        joined: Priced[E] = {number: (cost, members)}
        elements = members
        apart = []
        for group, covered in groups:
            if covered & members:
                joined |= group
                elements |= covered
            else:
                apart.append((group, covered))
        groups = [*apart, (joined, elements)]
    return [(group, covered & wanted) for group, covered in groups]


def _solved(priced: Priced[E], wanted: frozenset[E]) -> list[int]:
    """The cheapest cover of one group."""
    forced: list[int] = []
    while wanted:
        priced = _without_dominated({n: (c, m & wanted) for n, (c, m) in priced.items() if m & wanted})
        wanted = _without_implied(priced, wanted)
        single = next((by[0] for by in _holders(priced, wanted).values() if len(by) == 1), None)
        if single is None:
            priced = {n: (c, m & wanted) for n, (c, m) in priced.items() if m & wanted}
            return forced + _branched(priced, wanted)
        forced.append(single)
        wanted -= priced.pop(single)[1]
    return forced


def _holders(priced: Priced[E], wanted: frozenset[E]) -> dict[E, list[int]]:
    holders: dict[E, list[int]] = {element: [] for element in wanted}
    for number, (_, members) in priced.items():
        for element in members & wanted:
            holders[element].append(number)
    return holders


def _without_dominated(priced: Priced[E]) -> Priced[E]:
    """Without sets that another, cheaper one holds entirely."""
    return {
        number: (cost, members)
        for number, (cost, members) in priced.items()
        if not any(other < cost and members <= more for other, more in priced.values())
    }


def _without_implied(priced: Priced[E], wanted: frozenset[E]) -> frozenset[E]:
    """Without elements that are covered whenever another one is."""
    by_holders: dict[frozenset[int], E] = {}
    for element, holders in _holders(priced, wanted).items():
        by_holders.setdefault(frozenset(holders), element)
    return frozenset(
        element for holders, element in by_holders.items() if not any(other < holders for other in by_holders)
    )


def _branched(priced: Priced[E], wanted: frozenset[E]) -> list[int]:
    best_cost = sum(cost for cost, _ in priced.values()) + 1
    best: list[int] = []

    def search(left: frozenset[E], cost: int, chosen: list[int], barred: frozenset[int]) -> None:
        nonlocal best_cost, best
        if not left:
            if cost < best_cost:
                best_cost, best = cost, chosen
            return
        open_sets = {n: (c, m & left) for n, (c, m) in priced.items() if n not in barred and m & left}
        holders = _holders(open_sets, left)
        # Integer division only lowers the bound, so it stays one.
        bound = sum(
            min((open_sets[n][0] // len(open_sets[n][1]) for n in by), default=best_cost)
            for by in holders.values()
        )
        if cost + bound >= best_cost:
            return
        branch = min(holders.values(), key=len)
        tried: set[int] = set()
        for number in sorted(branch, key=lambda n: open_sets[n][0] / len(open_sets[n][1])):
            price, members = open_sets[number]
            search(left - members, cost + price, [*chosen, number], barred | tried)
            tried.add(number)

    search(wanted, 0, [], frozenset())
    return best
