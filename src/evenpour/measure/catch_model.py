r"""Catches as a linear model of logarithms.

.. math:: y_{rk} = level_r + \sum_{parts} v\,(small + odd) + container + noise

Every part has a small effect. A few are *odd* and have a broad one, in one of the ways a part can be off (a
way is a column of visibilities). Every amount may be *spoilt*. Given the odd ones all is Gaussian, so this
module only builds the matrices; which sets are odd is weighed in ``odd_sets``.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from evenpour.measure import visibility
from evenpour.measure.catches import Part, Run

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Standard deviation of the small effects, as a fraction of flow.
SMALL = 0.012
#: Chance that a part is odd, and that an amount is spoilt; common practice, no source.
P_ODD, P_SPOILT = 0.04, 0.01
#: Widths of an odd effect in log flow and their shares: a heavy tail made of Gaussians.
WIDTHS: tuple[tuple[float, float], ...] = ((0.06, 0.45), (0.3, 0.45), (0.9, 0.1))
#: The widest one is for gross faults. A way must show well in one catch the part lay in, and somewhat or not
#: at all in the others: else a few per cent at one opening would be read as nine tenths missing at another.
GROSS, SHOWS_WELL, SHOWS = 0.5, 0.5, 0.15
#: What hides even a gross effect behind the small ones.
HIDES = SMALL / max(width for width, _ in WIDTHS)
#: A spoilt amount: mean and width in log amount, share. Tipped or leaked (loses only); a slip of the pen.
SPOILT: tuple[tuple[str, float, float, float], ...] = (("tipped", -0.4, 0.3, 0.7), ("slip", 0.0, 1.2, 0.3))
#: The stated noise is often too good: scales tried, and the width of their log-normal prior.
NOISE_SCALES: tuple[float, ...] = (0.8, 1.0, 1.4, 2.0)
NOISE_WIDTH = 0.4
#: Repeat scatter beyond the reading error, as a fraction of the amount; common practice, no source.
REPEATABILITY = 0.01
#: Where the reading error exceeds this share of an amount, the logarithm's noise is capped here.
MOST_NOISE = 0.5


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which a part can be off, with its column in the model."""

    part: int  # index into Columns.parts
    name: str  # "moderate", "severe", "edge"
    column: int
    weight: float = 1.0  # of all ways that share this column in the catches at hand
    broad: bool = True  # shows so well where the part lay that a gross effect is believable


@dataclass(frozen=True, slots=True)
class Variants:
    """Everything that can be odd, one entry each: a part's way with a width, or a way of spoiling an
    amount.
    """

    column: Ints  # (N,) column of B
    width: Array  # (N,) standard deviation, log
    mean: Array  # (N,) mean, log
    log_odds: Array  # (N,) log of prior odds against "nothing odd here"
    group: Ints  # (N,) the part (from 0) or amount (from the number of parts): one at a time
    way: Ints  # (N,) index into CatchModel.ways, -1 for an amount

    @property
    def size(self) -> int:
        return len(self.column)


@dataclass(frozen=True, slots=True)
class Kernel:
    """The model at one noise scale, levels integrated out.

    ``base`` is the log density with nothing odd, up to a constant that depends on neither scale nor odd set.
    """

    scale: float
    log_prior: float
    base: float
    P: Array  # (m, m)
    G: Array  # (q, q) = B' P B
    b: Array  # (q,) = B' P y


@dataclass(frozen=True)
class CatchModel:
    """Matrices for a set of runs.

    ``place`` lists (run, position) of each usable amount, in the order of ``y``; ``full`` holds the parts'
    columns for every position of every run, used or not, run after run (``start[run]`` is its first row).
    """

    parts: tuple[Part, ...]  # every part that lay in a usable path
    ways: tuple[Way, ...]
    small_column: Ints  # (p,) column of each part's small effect
    place: tuple[tuple[int, int], ...]
    y: Array  # (m,) log of rate
    sigma: Array  # (m,) stated standard noise of y
    levels: Array  # (m, R)
    containers: Array  # (m, containers), already times their width
    B: Array  # (m, q): parts' columns, then one per amount
    full: Array  # (rows, parts' columns)
    start: Mapping[int, int]
    variants: Variants

    @cached_property
    def part_index(self) -> dict[tuple[str, int], int]:
        return {(part.kind, part.identity): index for index, part in enumerate(self.parts)}

    def rows(self, run: int, size: int) -> Array:
        """Parts' columns of one run, (size, columns)."""
        return self.full[self.start[run] : self.start[run] + size]

    def kernel(self, scale: float, log_prior: float) -> Kernel:
        """Project out the levels at one noise scale."""
        A0 = self.B[:, self.small_column]
        V = np.diag((scale * self.sigma) ** 2) + SMALL**2 * A0 @ A0.T + self.containers @ self.containers.T
        inverse = np.linalg.inv(V)
        inverse = 0.5 * (inverse + inverse.T)
        L = self.levels
        inner = L.T @ inverse @ L
        P = inverse - inverse @ L @ np.linalg.solve(inner, L.T @ inverse)
        P = 0.5 * (P + P.T)
        Py = P @ self.y
        base = -0.5 * (np.linalg.slogdet(V)[1] + np.linalg.slogdet(inner)[1] + float(self.y @ Py))
        return Kernel(scale, log_prior, float(base), P, self.B.T @ P @ self.B, self.B.T @ Py)

    def kernels(self) -> tuple[Kernel, ...]:
        return tuple(
            self.kernel(scale, math.log(weight))
            for scale, weight in zip(NOISE_SCALES, scale_weights(), strict=True)
        )


def scale_weights() -> tuple[float, ...]:
    """Prior weight of each noise scale: the log-normal's mass between the midpoints of the grid."""
    edges = [
        -math.inf,
        *(0.5 * (math.log(a) + math.log(b)) for a, b in itertools.pairwise(NOISE_SCALES)),
        math.inf,
    ]
    below = [0.5 * math.erfc(-edge / NOISE_WIDTH / math.sqrt(2.0)) for edge in edges]
    return tuple(high - low for low, high in itertools.pairwise(below))


def widths(*, broad: bool) -> tuple[tuple[float, float], ...]:
    """Widths of an odd effect with their shares."""
    kept = [(width, share) for width, share in WIDTHS if broad or width <= GROSS]
    total = sum(share for _, share in kept)
    return tuple((width, share / total) for width, share in kept)


def visibility_of(run: Run, kind: str, way: str) -> float:
    """How strongly *way* of a *kind* shows in *run*; a way the run does not know counts as the moderate
    one.
    """
    known = run.visibility if run.visibility is not None and kind in run.visibility else None
    row = (known or visibility.table(run.through, run.opening))[kind]
    return row.get(way, row.get("moderate", 0.0))


def build(
    runs: Sequence[Run],
    parts: Sequence[Part],
    usable: Sequence[tuple[int, int]],
    repeatability: float = REPEATABILITY,
) -> CatchModel:
    """The model of *runs*, restricted to the usable (run, position) amounts.

    Args:
        runs: Checked runs.
        parts: Every part, replaced ones too.
        usable: Amounts with a logarithm: known, not dry, of a run with at least two such.
        repeatability: Relative standard scatter from catch to catch beyond the reading error.
    """
    used = sorted({index for index, _ in usable})
    paths = [frozenset(runs[index].path(position)) for index, position in usable]
    seen = frozenset().union(*paths)
    lying = tuple(part for part in parts if (part.kind, part.identity) in seen)
    start: dict[int, int] = {}
    rows = 0
    for index in used:
        start[index], rows = rows, rows + runs[index].size
    columns: list[Array] = []
    ways: list[Way] = []
    small: list[int] = []
    kept = np.array([start[index] + position for index, position in usable], dtype=np.int64)
    for part_index, part in enumerate(lying):
        lies = np.array([(part.kind, part.identity) in path for path in paths], dtype=np.bool_)
        own: dict[bytes, int] = {}  # what the part's ways show where it was caught
        for way in _way_names(runs, used, part.kind):
            column = np.zeros(rows)
            for index in used:
                row = runs[index].at(part.kind)
                if row is not None and part.identity in row:
                    column[start[index] + row.index(part.identity)] = visibility_of(
                        runs[index], part.kind, way
                    )
            seen_at = column[kept]
            twin = own.setdefault(seen_at.tobytes(), len(ways))
            if twin < len(ways):
                ways[twin] = replace(ways[twin], weight=ways[twin].weight + visibility.weight(way))
                continue
            broad = _broad(seen_at[lies])
            ways.append(Way(part_index, way, len(columns), visibility.weight(way), broad))
            columns.append(column)
        small.append(ways[next(iter(own.values()))].column)
    full = np.column_stack(columns) if columns else np.zeros((rows, 0))
    levels = np.array([[float(index == run) for run in used] for index, _ in usable]).reshape(
        len(usable), len(used)
    )
    return CatchModel(
        parts=lying,
        ways=tuple(ways),
        small_column=np.array(small, dtype=np.int64),
        place=tuple(usable),
        y=np.array([math.log(runs[i].rates[k] or math.nan) for i, k in usable]),
        sigma=np.array([_noise(runs[i], k, repeatability) for i, k in usable]),
        levels=levels,
        containers=_containers(runs, usable),
        B=np.hstack([full[kept], np.eye(len(usable))]),
        full=full,
        start=start,
        variants=_variants(ways, len(lying), full.shape[1], len(usable)),
    )


def _broad(seen: Array) -> bool:
    return bool(seen.max(initial=0.0) >= SHOWS_WELL and ((seen >= SHOWS) | (seen <= HIDES)).all())


def _way_names(runs: Sequence[Run], used: Sequence[int], kind: str) -> tuple[str, ...]:
    names: dict[str, None] = {"moderate": None}
    for index in used:
        given = runs[index].visibility
        row = (
            given[kind]
            if given is not None and kind in given
            else visibility.table("injectors", "full")[kind]
        )
        names |= dict.fromkeys(row)
    return tuple(names)


def _noise(run: Run, position: int, repeatability: float) -> float:
    amount = run.amounts[position]
    assert amount is not None  # usable amounts only
    clock = run.u_duration / run.durations[position] if run.timed_each else 0.0
    return math.hypot(min(run.u[position] / amount, MOST_NOISE), repeatability, clock)


def _containers(runs: Sequence[Run], usable: Sequence[tuple[int, int]]) -> Array:
    """One column per container that is told apart, holding its relative error where it stood."""
    rows: dict[int, Array] = {}
    for at, (index, position) in enumerate(usable):
        run = runs[index]
        if run.containers is not None and run.u_container > 0.0:
            rows.setdefault(run.containers[position], np.zeros(len(usable)))[at] = run.u_container
    return np.column_stack(list(rows.values())) if rows else np.zeros((len(usable), 0))


def _variants(ways: Sequence[Way], parts: int, columns: int, amounts: int) -> Variants:
    total = [0.0] * parts
    for way in ways:
        total[way.part] += way.weight
    rows: list[tuple[int, float, float, float, int, int]] = []
    odds, spoilt = P_ODD / (1.0 - P_ODD), P_SPOILT / (1.0 - P_SPOILT)
    for index, way in enumerate(ways):
        for width, part_of in widths(broad=way.broad):
            prior = odds * part_of * way.weight / total[way.part]
            rows.append((way.column, width, 0.0, math.log(prior), way.part, index))
    for amount in range(amounts):
        for _, mean, width, part_of in SPOILT:
            rows.append((columns + amount, width, mean, math.log(spoilt * part_of), parts + amount, -1))
    table = np.array(rows, dtype=np.float64).reshape(len(rows), 6)
    return Variants(
        column=table[:, 0].astype(np.int64),
        width=table[:, 1],
        mean=table[:, 2],
        log_odds=table[:, 3],
        group=table[:, 4].astype(np.int64),
        way=table[:, 5].astype(np.int64),
    )
