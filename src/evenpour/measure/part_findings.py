"""What the catches say about each part: how far off where it shows most, and the probability that it is off.

*Off* means that its effect, times its visibility at the opening where it shows most, exceeds half the sheet's
spread limit there. That is a statement about the part, so an opening not caught yet counts as well: an even
catch at the idle opening clears no line and no injector.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from evenpour.measure.catch_model import P_ODD, SMALL, Array, CatchModel, Ints, widths
from evenpour.measure.catches import THROUGH, Part, Run
from evenpour.measure.odd_sets import Block, OddSets
from evenpour.measure.visibility import PLAIN, Sight, Visibility
from evenpour.measure.visibility import weight as weight_of

#: Parts share one blame where both may well be odd, yet hardly ever together.
NOTICEABLE, SELDOM_TOGETHER = 0.1, 0.3
#: Or where the chances of being odd run against each other this strongly.
OPPOSED = -0.8

#: The normal distribution function is worked out at STEPS places to the unit up to FARTHEST either way.
FARTHEST, STEPS = 9, 128


@dataclass(frozen=True, slots=True)
class PartFinding:
    """One part. ``deviation`` (negative pours less) and ``u`` are fractions of flow where it shows most."""

    kind: str
    number: int
    deviation: float
    u: float
    p_off: float | None  # None where the sheet gives no limit for any opening


@dataclass(frozen=True, slots=True)
class Showing:
    """Where one way of being off shows most."""

    key: str
    visibility: float
    small: float  # visibility of the small effects there
    half_limit: float  # nan without any limit


@dataclass(frozen=True, slots=True)
class Effects:
    """Posterior of every part's effect where it shows most, by part index of the model."""

    deviation: Array
    u: Array
    p_off: Array
    beyond: tuple[Array, ...]  # by block of the sets: probability that each part is off in each set, (M, p)


def showing_of(
    kind: str, way: str, runs: Sequence[Run], limits: Mapping[str, float | None], sight: Sight = PLAIN
) -> Showing:
    """The catch in which *way* shows most; ties go to what was caught, then to the tightest limit."""
    best: tuple[float, int, float] | None = None
    found = Showing("", 1.0, 1.0, math.nan)
    for key, seen, small, limit, caught in _places(kind, way, runs, limits, sight):
        rank = (seen, int(caught), -limit)
        if best is None or rank > best:
            best, found = rank, Showing(key, seen, small, 0.5 * limit)
    return found


def effects(
    odd: OddSets, runs: Sequence[Run], limits: Mapping[str, float | None], sight: Sight = PLAIN
) -> Effects:
    """Mean, doubt and probability of being off for each part of the model, over all sets and noise scales."""
    model = odd.model
    named = [(model.parts[way.part].kind, way.name) for way in model.ways]
    shown = {one: showing_of(*one, runs, limits, sight) for one in dict.fromkeys(named)}
    showing = tuple(shown[one] for one in named)
    p = len(model.parts)
    first, second, off = np.zeros(p), np.zeros(p), np.zeros(p)
    tables = []
    for block in odd.blocks:
        mean, variance, half = block_effects(odd, block, showing)
        deviation, spread = np.expm1(mean), np.exp(mean) * np.sqrt(variance)
        first += block.weight @ deviation
        second += block.weight @ (deviation**2 + spread**2)
        tables.append(p_beyond(mean, variance, half))
        off += block.weight @ tables[-1]
    doubt = np.sqrt(np.maximum(second - first**2, 0.0))
    return Effects(first, doubt, np.clip(off, 0.0, 1.0), tuple(tables))


def block_effects(odd: OddSets, block: Block, showing: Sequence[Showing]) -> tuple[Array, Array, Array]:
    """Log effect where it shows most, its variance and half the limit there, by set and part, each (M, p)."""
    model = odd.model
    part_of = np.array([way.part for way in model.ways], dtype=np.int64)
    seen, seen_small, half_limit = np.array([(s.visibility, s.small, s.half_limit) for s in showing]).T
    first_way = np.searchsorted(part_of, np.arange(len(model.parts)))  # ways run part after part
    small, small_variance = odd.small(block)
    mean, variance = seen_small[first_way] * small, seen_small[first_way] ** 2 * small_variance
    half = np.broadcast_to(half_limit[first_way], mean.shape).copy()
    way_of = model.variants.way[block.members]
    column = model.variants.column[block.members]
    for place in range(block.members.shape[1]):
        rows = np.nonzero(way_of[:, place] >= 0)[0]
        ways = way_of[rows, place]
        part, v, v0 = part_of[ways], seen[ways], seen_small[ways]
        toward = _covariance(block, model, rows, part, column, place)
        mean[rows, part] = v * block.mean[rows, place] + v0 * small[rows, part]
        variance[rows, part] = (
            v**2 * block.cov[rows, place, place] + v0**2 * small_variance[rows, part] + 2.0 * v * v0 * toward
        )
        half[rows, part] = half_limit[ways]
    return mean, np.maximum(variance, 0.0), half


def p_beyond(mean: Array, variance: Array, half: Array) -> Array:
    """P(|exp(x) - 1| > half) for x ~ N(mean, variance); nan where half is."""
    sd = np.sqrt(np.maximum(variance, 1e-18))
    over = _normal_below((mean - np.log1p(half)) / sd)
    under = _normal_below((np.log1p(-np.minimum(half, 0.999)) - mean) / sd)
    return over + under


def _normal_below(x: Array) -> Array:
    """The normal distribution function, to 1e-14: five terms of its series from the nearest known place.

    A hundred thousand values one by one take as long as all else, and loading a library for it takes longer.
    """
    x = np.clip(x, -FARTHEST, FARTHEST)
    step = np.rint(x * STEPS)
    near = step / STEPS
    below, density = (known[np.nan_to_num(step).astype(np.int64) + FARTHEST * STEPS] for known in _normal())
    d, n2 = x - near, near * near
    fourth = (n2 - 3.0) * near * d / -4.0 + (n2 - 1.0)
    series = 1.0 + d / 2.0 * (-near + d / 3.0 * fourth)
    return np.asarray(below + density * d * series)


@cache
def _normal() -> tuple[Array, Array]:
    """The normal distribution function and its density at the known places."""
    places = np.arange(-FARTHEST * STEPS, FARTHEST * STEPS + 1) / STEPS
    below = [0.5 * math.erfc(-place / math.sqrt(2.0)) for place in places.tolist()]
    return np.array(below), np.exp(-0.5 * places**2) / math.sqrt(2.0 * math.pi)


def unseen(
    part: Part, runs: Sequence[Run], limits: Mapping[str, float | None], sight: Sight = PLAIN
) -> PartFinding:
    """A part that no usable amount ran through: what was believed before is all there is."""
    shares = {way: weight_of(way) for way in sight.ways(part.kind)}
    variance, off = 0.0, 0.0
    for way, mine in shares.items():
        showing = showing_of(part.kind, way, runs, limits, sight)
        base = (showing.small * SMALL) ** 2
        for width, share in ((0.0, 1.0), *widths(broad=False)):
            weight = (share * P_ODD if width else 1.0 - P_ODD) * mine / sum(shares.values())
            total = base + (showing.visibility * width) ** 2
            variance += weight * total
            off += weight * float(p_beyond(np.zeros(1), np.array([total]), np.array([showing.half_limit]))[0])
    return PartFinding(part.kind, part.number, 0.0, math.sqrt(variance), None if math.isnan(off) else off)


def undivided(
    odd: OddSets, p_off: Array, runs: Sequence[Run], blame: Mapping[int, float] | None = None
) -> tuple[tuple[int, ...], ...]:
    """Groups of parts (model indices) that these catches cannot tell apart and that carry some weight.

    Two parts belong together when they have the same columns in every run, when both may be odd but hardly
    ever together on one path, or when their chances run against each other. Two that are both surely odd are
    told apart.
    """
    model, p = odd.model, len(odd.model.parts)
    alone, both = odd.odd()[:p], odd.both_odd()
    paths = [run.path(position) for run in runs for position in range(run.size)]
    known = [[model.part_index.get(part) for part in path] for path in paths]
    sharing = {frozenset(pair) for path in known for pair in _pairs(path)}
    leader = list(range(p))

    def top(part: int) -> int:
        while leader[part] != part:
            part = leader[part]
        return part

    for a in range(p):
        for b in range(a + 1, p):
            noticed = max(float(p_off[a]), float(p_off[b])) >= NOTICEABLE
            if noticed and (_same_columns(model, a, b) or _exclusive(alone, both, a, b, {a, b} in sharing)):
                leader[top(b)] = top(a)
    found: dict[int, list[int]] = {}
    for part in range(p):
        found.setdefault(top(part), []).append(part)
    return tuple(tuple(group) for group in found.values() if len(group) > 1)


def _exclusive(alone: Array, both: Array, a: int, b: int, on_one_path: bool) -> bool:
    if not NOTICEABLE <= min(alone[a], alone[b]) <= 1.0 - NOTICEABLE:
        return False  # one of them hardly is, or both surely are: nothing left to tell
    expected = alone[a] * alone[b]
    if on_one_path and both[a, b] < SELDOM_TOGETHER * expected:
        return True
    spread = alone[a] * (1.0 - alone[a]) * alone[b] * (1.0 - alone[b])
    return bool(spread > 0.0 and (both[a, b] - expected) / math.sqrt(spread) < OPPOSED)


def _same_columns(model: CatchModel, a: int, b: int) -> bool:
    own, other = ([way.column for way in model.ways if way.part == part] for part in (a, b))
    if len(own) != len(other):
        return False
    return all(np.allclose(model.B[:, i], model.B[:, j], atol=1e-9) for i, j in zip(own, other, strict=True))


def _pairs(path: Sequence[int | None]) -> list[tuple[int, int]]:
    here = [part for part in path if part is not None]
    return [(a, b) for i, a in enumerate(here) for b in here[i + 1 :]]


def _covariance(block: Block, model: CatchModel, rows: Ints, part: Ints, column: Ints, place: int) -> Array:
    """Covariance of an odd effect with the small effect of its own part, one for each row."""
    own = model.small_column[part]
    cross = block.kernel.G[own[:, None], column[rows]]
    return np.asarray(-(SMALL**2) * np.einsum("mk,mk->m", cross, block.cov[rows][:, :, place]))


@lru_cache(maxsize=64)
def _table(sight: Sight, through: str, opening: str) -> Visibility:
    return sight.table(through, opening)


def _places(
    kind: str, way: str, runs: Sequence[Run], limits: Mapping[str, float | None], sight: Sight
) -> list[tuple[str, float, float, float, bool]]:
    """(key, visibility, that of the small effects, limit, caught) of every catch with a limit."""
    found = []
    for run in runs:
        limit = limits.get(run.opening)
        if limit is not None and run.at(kind) is not None:
            row = run.visibility[kind] if run.visibility and kind in run.visibility else None
            row = row if row is not None else _table(sight, run.through, run.opening)[kind]
            small = row.get("moderate", 0.0)
            found.append((run.key, row.get(way, small), small, limit, True))
    for opening, limit in limits.items():
        for through in THROUGH:
            if limit is not None and not (kind == "injector" and through == "lines"):
                row = _table(sight, through, opening)[kind]
                small = row.get("moderate", 0.0)
                found.append((f"{through}:{opening}", row.get(way, small), small, limit, False))
    return found
