"""Spread of the true flows, by drawing odd sets and effects.

The spread of the amounts themselves is too large: six equal ports read with 3.5 % noise show about 9 %, since
the range of six normals is 2.53 standard deviations.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.measure.catch_model import SMALL, Array, CatchModel, Ints
from evenpour.measure.catches import Run
from evenpour.measure.dry_paths import Blocked
from evenpour.measure.odd_sets import Block, OddSets

DRAWS, SEED = 4000, 20_250_301


@dataclass(frozen=True, slots=True)
class Spread:
    """(largest - smallest) / mean of one catch, as a fraction."""

    value: float
    u: float


@dataclass(frozen=True, slots=True)
class Draws:
    """Effects drawn from the posterior: of odd columns and of small ones."""

    odd: Array  # (draws, columns)
    columns: Ints  # the parts' columns that are odd in any draw: a few of many
    small: Array  # (draws, parts)


def draw(odd: OddSets, count: int = DRAWS, seed: int = SEED) -> Draws:
    """Draw effects. The same seed gives the same normals whatever the amounts, so answers move smoothly."""
    model = odd.model
    p, columns = len(model.parts), model.full.shape[1]
    random = np.random.default_rng(seed)
    normals, fifths = random.standard_normal((count, p)), random.standard_normal((count, 8))
    drawn, small = np.zeros((count, columns)), np.zeros((count, p))
    weights = np.concatenate([block.weight for block in odd.blocks])
    edges = np.cumsum(weights) / weights.sum()
    chosen = np.minimum(np.searchsorted(edges, (np.arange(count) + 0.5) / count), len(edges) - 1)
    begin, roots = 0, {}
    for block in odd.blocks:
        end = begin + len(block.weight)
        rows = np.nonzero((chosen >= begin) & (chosen < end))[0]
        if len(rows):
            if block.kernel.scale not in roots:
                roots[block.kernel.scale] = _root(odd.small_cov(block))
            sets = chosen[rows] - begin
            small[rows] = normals[rows] @ roots[block.kernel.scale].T
            _fill(drawn, small, rows, sets, model, block, fifths[rows])
        begin = end
    ever = np.nonzero(drawn.any(axis=0))[0]
    return Draws(drawn[:, ever], ever, small)


def true_spread(
    run: Run, index: int, model: CatchModel, draws: Draws, blocked: Blocked
) -> tuple[Spread, Array]:
    """Posterior of the true spread of one run, and the draws behind it.

    A dry path gives nothing, except in the share of draws in which its container was merely spilt.
    """
    rows = model.rows(index, run.size)
    small_rows = rows[:, model.small_column]
    odd_rows = rows[:, draws.columns]
    flow = np.exp(np.clip(draws.odd @ odd_rows.T + draws.small @ small_rows.T, -20.0, 20.0))
    chance = (np.arange(len(flow)) * 0.6180339887498949) % 1.0
    for run_index, position in sorted(blocked.dry):
        if run_index == index:
            flow[chance >= blocked.p_spilt(run.path(position)), position] = 0.0
    mean = flow.mean(axis=1)
    spread = np.where(
        mean > 0.0, (flow.max(axis=1) - flow.min(axis=1)) / np.where(mean > 0.0, mean, 1.0), 0.0
    )
    return Spread(float(spread.mean()), float(spread.std())), spread


def observed_spread(run: Run) -> float | None:
    """(largest - smallest) / mean of the caught rates as they stand; ``None`` with fewer than two amounts."""
    rates = [rate for rate in run.rates if rate is not None]
    mean = sum(rates) / len(rates) if rates else 0.0
    return (max(rates) - min(rates)) / mean if len(rates) > 1 and mean > 0.0 else None


def newest_by_key(runs: Sequence[Run], used: Sequence[int]) -> Mapping[str, int]:
    """The newest usable run of each key: evenness is stated for that arrangement."""
    return {runs[index].key: index for index in used}


def _root(cov: Array) -> Array:
    """A square root of one covariance or of many, whose smallest values may have come out below zero."""
    values, vectors = np.linalg.eigh(cov)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0))[..., None, :])


def _fill(
    odd: Array, small: Array, rows: Ints, sets: Ints, model: CatchModel, block: Block, z: Array
) -> None:
    """Lay the odd effects of some draws, and what they mean for the small ones, into the tables of all."""
    own = model.small_column
    size = block.members.shape[1]
    column = model.variants.column[block.members[sets]]  # (rows, k)
    small[rows] += SMALL**2 * block.kernel.b[own]
    if not size:
        return
    some, which = np.unique(sets, return_inverse=True)
    root = _root(0.5 * (block.cov[some] + block.cov[some].transpose(0, 2, 1)))[which]
    x = block.mean[sets] + np.einsum("mkl,ml->mk", root, z[:, :size])
    cross = block.kernel.G[own][:, column].transpose(1, 0, 2)  # (rows, p, k)
    small[rows] -= SMALL**2 * np.einsum("mpk,mk->mp", cross, x)
    for place in range(size):
        part = column[:, place] < odd.shape[1]  # the others are amounts
        odd[rows[part], column[part, place]] = x[part, place]
