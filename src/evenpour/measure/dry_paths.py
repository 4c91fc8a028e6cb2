"""Paths that gave nothing, or next to nothing: which part in them is blocked?

A logarithm has no place for zero, so these amounts stay out of the evenness model and are answered here by
plain
logic: a blocked part leaves every path dry it lies in, and a path that pours clears every part in it.
Exchanged parts divide the blame like they do for small differences.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.measure.catches import Part, Run

#: A path is nearly dry below this share of the run's median rate,
NEARLY_DRY = 0.1
#: or below this many standard reading errors while also well under the others.
READING_ERRORS = 3.0
WELL_UNDER = 0.4
#: Just a tenth of the others, within this (log): as likely a slipped decimal point, so not counted as dry.
A_TENTH = 0.25

#: Chances, common practice without source: a part is blocked; a container stands empty though its path pours
#: (tipped, or not under its line); a path pours although something in it is blocked, caught just as it was
#: when it gave nothing, or caught in another way (more flow, more pressure to spare).
BLOCKED, SPILT, POURS_SAME, POURS_OTHER = 0.004, 0.0001, 0.002, 0.02

#: More suspects than this at once are not enumerated three deep: it would change nothing and take long.
MANY = 30

PartKey = tuple[str, int]


@dataclass(frozen=True, slots=True)
class DryPath:
    """One container that stayed dry, and who may be the reason."""

    run: int
    position: int
    parts: tuple[tuple[str, int, float], ...]  # kind, own number, probability that this part is blocked
    p_spilt: float  # probability that the path poured and the container was empty for another reason


@dataclass(frozen=True, slots=True)
class Blocked:
    """What the dry containers say about every part.

    ``hypotheses`` pairs a set of blocked parts with its probability; they sum to one.
    """

    dry: frozenset[tuple[int, int]]
    hypotheses: tuple[tuple[frozenset[PartKey], float], ...]

    def probability(self, part: PartKey) -> float:
        return sum(weight for parts, weight in self.hypotheses if part in parts)

    def p_spilt(self, path: Sequence[PartKey]) -> float:
        return sum(weight for parts, weight in self.hypotheses if not parts.intersection(path))


def dry_positions(run: Run) -> tuple[int, ...]:
    """Positions of *run* that gave nothing or nearly nothing against the others."""
    rates = [rate for rate in run.rates if rate is not None]
    if not rates:
        return ()
    median = float(np.median([rate for rate in rates if rate > 0.0] or [0.0]))
    found = []
    for position, (amount, rate) in enumerate(zip(run.amounts, run.rates, strict=True)):
        if amount is None or rate is None:
            continue
        lost_in_error = amount < READING_ERRORS * run.u[position] and rate < WELL_UNDER * median
        tenth = rate > 0.0 and abs(math.log(rate / (0.1 * median))) < A_TENTH
        if not tenth and (rate < NEARLY_DRY * median or lost_in_error or amount == 0.0):
            found.append(position)
    return tuple(found)


def blocked_parts(runs: Sequence[Run], used: Sequence[int]) -> Blocked:
    """Weigh every set of up to three blocked parts against the pattern of dry and pouring paths.

    Args:
        runs: All runs.
        used: Indices of the runs that count (a run in which nothing poured tells nothing apart).
    """
    dry = frozenset((index, position) for index in used for position in dry_positions(runs[index]))
    if not dry:
        return Blocked(dry, ((frozenset(), 1.0),))
    paths: dict[tuple[int, int], tuple[PartKey, ...]] = {}
    for index in used:
        for position, amount in enumerate(runs[index].amounts):
            if amount is not None:
                paths[index, position] = runs[index].path(position)
    dry_keys = {runs[index].key for index, _ in dry}
    pours = {place: POURS_SAME if runs[place[0]].key in dry_keys else POURS_OTHER for place in paths}
    suspects = sorted({part for place in dry for part in paths[place]})
    deepest = 3 if len(suspects) <= MANY else 2
    found: list[tuple[frozenset[PartKey], float]] = []
    for size in range(min(deepest, len(suspects)) + 1):
        found += [
            (frozenset(blocked), _log_weight(frozenset(blocked), paths, pours, dry))
            for blocked in itertools.combinations(suspects, size)
        ]
    found.extend(_many(paths, pours, dry, deepest))
    logs = np.array([weight for _, weight in found])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    kept = [
        (parts, float(weight)) for (parts, _), weight in zip(found, weights, strict=True) if weight > 1e-9
    ]
    return Blocked(dry, tuple(sorted(kept, key=lambda item: (-item[1], sorted(item[0])))))


def dry_findings(runs: Sequence[Run], parts: Mapping[PartKey, Part], blocked: Blocked) -> tuple[DryPath, ...]:
    """The dry containers one by one, each with the parts of its path."""
    return tuple(
        DryPath(
            run=index,
            position=position,
            parts=tuple(
                (kind, parts[kind, identity].number, blocked.probability((kind, identity)))
                for kind, identity in runs[index].path(position)
            ),
            p_spilt=blocked.p_spilt(runs[index].path(position)),
        )
        for index, position in sorted(blocked.dry)
    )


def _many(
    paths: Mapping[tuple[int, int], tuple[PartKey, ...]],
    pours: Mapping[tuple[int, int], float],
    dry: frozenset[tuple[int, int]],
    deepest: int,
) -> list[tuple[frozenset[PartKey], float]]:
    """More than *deepest* dry paths at once: one part out of each path, each kind in turn, must do."""
    found = []
    for kind in ("port", "line", "injector"):
        parts = frozenset(part for place in dry for part in paths[place] if part[0] == kind)
        if len(parts) > deepest:
            found.append((parts, _log_weight(parts, paths, pours, dry)))
    return found


def _log_weight(
    parts: frozenset[PartKey],
    paths: Mapping[tuple[int, int], tuple[PartKey, ...]],
    pours: Mapping[tuple[int, int], float],
    dry: frozenset[tuple[int, int]],
) -> float:
    total = len(parts) * float(np.log(BLOCKED / (1.0 - BLOCKED)))
    for place, path in paths.items():
        p_dry = 1.0 - pours[place] if parts.intersection(path) else SPILT
        total += float(np.log(p_dry if place in dry else 1.0 - p_dry))
    return total
