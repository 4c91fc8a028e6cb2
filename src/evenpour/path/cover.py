"""Weighted set cover, exactly: the cheapest choice of sets that together hold every element."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import TypeVar

E = TypeVar("E", bound=Hashable)

# Inside, a set of elements is the bits of a whole number, and each offer a price and such bits, by number.
_Offers = dict[int, tuple[int, int]]
_Found = tuple[int, tuple[int, ...]]


def cheapest_cover(
    costs: Sequence[int], sets: Sequence[frozenset[E]], wanted: frozenset[E]
) -> tuple[int, ...]:
    """The sets, by number and in order, of least total cost whose union holds *wanted*.

    Equal costs: the choice whose highest number is lowest wins, then the next highest, and so on. This is
    kept exact by adding 2^number below the cost's last digit: every choice then has a price of its own.

    Args:
        costs: Whole numbers, not negative.
        sets: What each choice covers, in the same order.
        wanted: What must be covered; all of it must be in some set.
    Raises:
        ValueError: an element is in no set.
    Method:
        At every turn reduce (sets held by a cheaper one, elements covered along with another, sets that
        alone hold an element), treat parts that share no set apart, bound from below by dual ascent, and
        branch on taking one set or doing without it.
    """
    if not wanted <= frozenset[E]().union(*sets):
        raise ValueError("an element is in no set, so nothing covers it")
    bit = {element: 1 << place for place, element in enumerate(wanted)}
    unit = 1 << len(costs)
    offers = {
        number: (cost * unit + (1 << number), sum(bit[element] for element in members & wanted))
        for number, (cost, members) in enumerate(zip(costs, sets, strict=True))
    }
    found = _cheapest(offers, (1 << len(wanted)) - 1, (sum(costs) + 1) * unit)
    assert found is not None  # taking every set covers all, at less than the limit
    return tuple(sorted(found[1]))


def _cheapest(offers: _Offers, wanted: int, limit: int) -> _Found | None:
    """The cheapest cover below *limit*; None if there is none."""
    offers, wanted, price, taken = _reduced(offers, wanted)
    parts = _apart(offers, wanted)
    bounds = [_bound(*part) for part in parts]
    price += sum(bounds)
    for part, bound in zip(parts, bounds, strict=True):
        if price >= limit:
            return None
        # What this part may cost, if the others cost no more than their bounds.
        found = _branched(*part, limit - price + bound)
        if found is None:
            return None
        price += found[0] - bound
        taken += found[1]
    return (price, taken) if price < limit else None


def _branched(offers: _Offers, wanted: int, limit: int) -> _Found | None:
    held = _holders(offers, wanted)
    fewest = min(held.values(), key=len)
    number = min(fewest, key=lambda each: offers[each][0] // (offers[each][1] & wanted).bit_count())
    price, members = offers[number]
    rest = {other: offer for other, offer in offers.items() if other != number}
    best: _Found | None = None
    with_it = _cheapest(rest, wanted & ~members, limit - price)
    if with_it is not None:
        best = (price + with_it[0], (number, *with_it[1]))
        limit = best[0]
    # None of the elements is held by this set alone, so the others still cover it all.
    return _cheapest(rest, wanted, limit) or best


def _reduced(offers: _Offers, wanted: int) -> tuple[_Offers, int, int, tuple[int, ...]]:
    """The question made smaller without losing the answer, and what must be taken at what price."""
    price = 0
    taken: tuple[int, ...] = ()
    while True:
        before = (len(offers), wanted)
        offers = _without_dominated(
            {
                number: (cost, members & wanted)
                for number, (cost, members) in offers.items()
                if members & wanted
            }
        )
        wanted = _without_implied(offers, wanted)
        forced = {held[0] for held in _holders(offers, wanted).values() if len(held) == 1}
        for number in forced:
            cost, members = offers.pop(number)
            price, taken, wanted = price + cost, (*taken, number), wanted & ~members
        if (len(offers), wanted) == before:
            return offers, wanted, price, taken


def _without_dominated(offers: _Offers) -> _Offers:
    """Without sets whose elements a cheaper set holds as well."""
    by_price = sorted(offers.items(), key=lambda offer: offer[1][0])
    kept: _Offers = {}
    for number, (cost, members) in by_price:
        if not any(members & ~more == 0 for _, more in kept.values()):
            kept[number] = (cost, members)
    return kept


def _without_implied(offers: _Offers, wanted: int) -> int:
    """Without elements that are covered whenever another one is."""
    kept: list[int] = []
    left = 0
    held = {element: sum(1 << number for number in by) for element, by in _holders(offers, wanted).items()}
    for element, by in sorted(held.items(), key=lambda entry: entry[1].bit_count()):
        if not any(other & ~by == 0 for other in kept):
            kept.append(by)
            left |= element
    return left


def _apart(offers: _Offers, wanted: int) -> list[tuple[_Offers, int]]:
    """The parts of the question that share no set."""
    parts: list[tuple[_Offers, int]] = []
    for number, (cost, members) in offers.items():
        joined, elements = {number: (cost, members)}, members & wanted
        if not elements:
            continue
        others = []
        for part in parts:
            if part[1] & elements:
                joined, elements = joined | part[0], elements | part[1]
            else:
                others.append(part)
        parts = [*others, (joined, elements)]
    return parts


def _bound(offers: _Offers, wanted: int) -> int:
    """No cover costs less: each element in turn is charged what its sets can still bear (dual ascent)."""
    left = {number: cost for number, (cost, _) in offers.items()}
    total = 0
    for held in sorted(_holders(offers, wanted).values(), key=len):
        charge = min(left[number] for number in held)
        total += charge
        for number in held:
            left[number] -= charge
    return total


def _holders(offers: _Offers, wanted: int) -> dict[int, list[int]]:
    """For each wanted element the sets that hold it."""
    holders: dict[int, list[int]] = {}
    for number, (_, members) in offers.items():
        inside = members & wanted
        while inside:
            element = inside & -inside
            holders.setdefault(element, []).append(number)
            inside ^= element
    return holders
