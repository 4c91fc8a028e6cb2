"""Amounts that do not fit their own path's other catches: tipped, leaked, or a slip of the pen.

A slip is offered, never applied: only the person who wrote the figure knows what stood on the container.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median

from evenpour.measure.catches import Run
from evenpour.measure.dry_paths import Blocked
from evenpour.measure.odd_sets import OddSets

#: An amount is named once it is likelier spoilt than not,
LIKELIER = 0.5
#: and a slip is offered if it lands this close to what was to be expected (log), besides three standard
#: errors.
CLOSE = 0.06
#: Against the run's median alone, with nothing else known of the path, this close is close enough (log).
ROUGHLY = 0.2
#: So near to ten times or a tenth it may be a point that stands wrong, and the path short besides (log); our
#: choice, no source.
ABOUT_TEN = 0.35
#: As far apart may the neighbours be that say what is usual (log), and as many must they be.
ALIKE, NEIGHBOURS = 0.7, 2
#: 1 US fluid ounce and 1 imperial fluid ounce in ml (exact to the digits given).
US_OUNCE, IMPERIAL_OUNCE = 29.5735, 28.4131


@dataclass(frozen=True, slots=True)
class Suspect:
    """An amount better not believed. ``offer`` is what may have been meant, [m³]; ``None`` if no slip
    fits.
    """

    run: int
    position: int
    why: str
    offer: float | None
    p: float  # probability that it is spoilt
    expected: float | None  # what the other catches lead to expect there, [m³]


def suspects(odd: OddSets | None, blocked: Blocked, runs: Sequence[Run]) -> tuple[Suspect, ...]:
    """Amounts likelier spoilt than not, in the order of the runs."""
    found = [] if odd is None else list(_from_sets(odd, runs))
    for index, position in blocked.dry:
        p = blocked.p_spilt(runs[index].path(position))
        if p > LIKELIER:
            why, offer = _dry(runs[index], position)
            found.append(Suspect(index, position, why, offer, p, None))
    return tuple(sorted(found, key=lambda suspect: (suspect.run, suspect.position)))


def slips(amount: float, typed: str = "") -> Iterator[tuple[float, str]]:
    """What else may have been meant by a written amount, with the slip in words.

    Which fluid ounce is meant shows only in the text: the two are 4 % apart, less than a catch can tell.
    """
    yield amount / 10.0, "ten times too much: has the decimal point slipped?"
    yield amount * 10.0, "a tenth of what is to be expected: has the decimal point slipped?"
    ounce, name = (IMPERIAL_OUNCE, "imperial") if "imp" in typed else (US_OUNCE, "US")
    yield amount / ounce, f"millilitres written as {name} fluid ounces?"
    yield amount * ounce, f"{name} fluid ounces written as millilitres?"


def by_a_point(amount: float) -> Iterator[tuple[float, str]]:
    """What else may have been meant by a figure whose decimal point stands wrong, left out or put in."""
    yield amount / 10.0, "ten times"
    yield amount * 10.0, "a tenth of"


def off_by_a_point(amounts: Sequence[float | None]) -> tuple[int, float, str] | None:
    """The one amount of a catch that stands a decimal point apart from its neighbours, if just one does.

    Args:
        amounts: Of one catch, by position, all caught alike long, or their rates; None where one was lost.
    Returns:
        Its position, by how much it was meant to be more (10 or 0.1), and how it stands to the others in
        words. None where none or several stand apart so, or where the others are not alike: then nothing says
        what is usual.
    """
    known = [(position, amount) for position, amount in enumerate(amounts) if amount]
    found = []
    for position, amount in known:
        others = [one for place, one in known if place != position]
        if len(others) < NEIGHBOURS:
            continue
        usual = median(others)
        if any(abs(math.log(one / usual)) > ALIKE for one in others):
            continue
        meant = _fitting(by_a_point(amount), usual, ABOUT_TEN)
        if meant is not None:
            found.append((position, meant[0] / amount, meant[1]))
    return found[0] if len(found) == 1 else None


def exchanged_digits(amount: float, typed: str) -> Iterator[tuple[float, str]]:
    """What else may have been meant by the figure as typed, two neighbouring digits exchanged."""
    number = re.match(r"\s*([0-9]+(?:[.,][0-9]+)?)", typed)
    if number is None:
        return
    written = float(number[1].replace(",", "."))
    for exchanged in _exchanged(number[1]):
        meant = float(exchanged.replace(",", "."))
        if written > 0.0 and meant not in (0.0, written):
            yield amount * meant / written, exchanged


def _exchanged(number: str) -> Iterator[str]:
    places = [place for place, sign in enumerate(number) if sign.isdigit()]
    for a, b in itertools.pairwise(places):
        if number[a] != number[b]:
            signs = list(number)
            signs[a], signs[b] = signs[b], signs[a]
            yield "".join(signs)


def _from_sets(odd: OddSets, runs: Sequence[Run]) -> Iterator[Suspect]:
    parts = len(odd.model.parts)
    spoilt = odd.odd()[parts:].tolist()
    for amount, (index, position) in enumerate(odd.model.place):
        if spoilt[amount] <= LIKELIER:
            continue
        caught = float(runs[index].amounts[position] or 0.0)
        expected = caught * math.exp(-_mean_effect(odd, parts + amount))
        why, offer = _named(runs[index], position, caught, expected, float(odd.model.sigma[amount]))
        yield Suspect(index, position, why, offer, float(spoilt[amount]), expected)


def _named(run: Run, position: int, caught: float, expected: float, sigma: float) -> tuple[str, float | None]:
    share = caught / expected - 1.0
    room = min(3.0 * sigma + CLOSE, 0.5 * abs(math.log(caught / expected)))
    typed = run.typed[position] if run.typed is not None else ""
    fitting = _fitting(slips(caught, typed), expected, room)
    if fitting is not None:
        return fitting[1], fitting[0]
    side = "less" if share < 0.0 else "more"
    cause = "tipped, leaked or caught short" if share < 0.0 else "misread, or not emptied before"
    why = f"{100.0 * abs(share):.0f} % {side} than the other catches lead to expect: {cause}"
    digits = _fitting(exchanged_digits(caught, typed), expected, room)
    if digits is not None:
        return f"{why}; or two digits exchanged, {digits[1]} meant?", digits[0]
    point = _fitting(by_a_point(caught), expected, ABOUT_TEN)
    if point is not None:
        return f"{why}; or typed wrong by a point?", point[0]
    return f"{why}; or its neighbour's figure written down twice?" if _twice(
        run, position
    ) else f"{why}?", None


def _fitting(offers: Iterable[tuple[float, str]], expected: float, room: float) -> tuple[float, str] | None:
    """The offer nearest to what is expected, if it lies within *room* (log) of it."""
    near = min(offers, key=lambda offer: abs(math.log(offer[0] / expected)), default=None)
    return near if near is not None and abs(math.log(near[0] / expected)) < room else None


def _dry(run: Run, position: int) -> tuple[str, float | None]:
    """Words for a container that stayed dry under a path that pours, and an offer if a unit was mistaken."""
    amount = run.amounts[position] or 0.0
    if amount == 0.0:
        return (
            "empty, though the same path pours in other catches: tipped over, or not under its outlet?",
            None,
        )
    usual = median(rate for rate in run.rates if rate) * run.durations[position]
    typed = run.typed[position] if run.typed is not None else ""
    fitting = _fitting(slips(amount, typed), usual, ROUGHLY)
    if fitting is not None:
        return fitting[1], fitting[0]
    return "next to nothing, though the same path pours in other catches: tipped over, or a slip?", None


def _twice(run: Run, position: int) -> bool:
    beside = [run.amounts[k] for k in (position - 1, position + 1) if 0 <= k < run.size]
    return run.amounts[position] in beside


def _mean_effect(odd: OddSets, group: int) -> float:
    """Posterior mean of an amount's error, given that it is spoilt."""
    total = weight = 0.0
    for block in odd.blocks:
        here = odd.model.variants.group[block.members] == group
        total += float((block.weight[:, None] * block.mean * here).sum())
        weight += float((block.weight[:, None] * here).sum())
    return total / weight if weight > 0.0 else 0.0
