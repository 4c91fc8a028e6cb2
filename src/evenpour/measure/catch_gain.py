"""How much a catch not made yet would tell.

The doubt is the entropy of *which parts are off*, over the leading odd sets. For every candidate the amounts
are foreseen under each set, drawn, and weighed again (Lindley, Ann. Math. Stat. 27 (1956) 986; from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.measure import arrangements
from evenpour.measure.arrangements import Candidate
from evenpour.measure.catch_model import SMALL, Array, CatchModel, Ints
from evenpour.measure.catches import KINDS, Part, Run
from evenpour.measure.dry_paths import Blocked
from evenpour.measure.odd_sets import DEEPEST, Block, OddSets
from evenpour.measure.part_findings import Effects
from evenpour.measure.visibility import PLAIN, Sight

LEADING, DRAWS, SEED = 80, 200, 7
#: Standard noise of one amount where an opening has not been caught yet, log; design figures, not measured.
FORESEEN_NOISE: Mapping[str, float] = {"idle": 0.035, "part": 0.015, "full": 0.012}
OTHER_NOISE = 0.02


@dataclass(frozen=True, slots=True)
class Foreseen:
    """Leading sets with what they say about every part, ready to foresee further amounts."""

    model: CatchModel
    weight: Array  # (H,)
    off: Array  # (H, p) 1 where the part is off
    scale: Array  # (H,) noise scale
    mean: Array  # (H, e) of the stacked effects: parts' columns, then small effects
    odd: Array  # (H, e, k) what the odd ones add to them: times itself transposed, a covariance
    block: Ints  # (H,) index into small
    small: Array  # (blocks, p, p) covariance of the small effects, the odd ones given


def leading(odd: OddSets, effects: Effects, most: int = LEADING) -> Foreseen:
    """The heaviest sets and the joint Gaussian of all effects under each."""
    model = odd.model
    weights = np.concatenate([block.weight for block in odd.blocks])
    heaviest = np.argsort(-weights, kind="stable")[:most]
    parts, size = len(model.parts), model.full.shape[1] + len(model.parts)
    off, scale = np.zeros((len(heaviest), parts)), np.zeros(len(heaviest))
    mean, shares = np.zeros((len(heaviest), size)), np.zeros((len(heaviest), size, DEEPEST))
    of, small = np.zeros(len(heaviest), dtype=np.int64), []
    begin = 0
    for number, (block, beyond) in enumerate(zip(odd.blocks, effects.beyond, strict=True)):
        rows = np.nonzero((heaviest >= begin) & (heaviest < begin + len(block.weight)))[0]
        places = heaviest[rows] - begin
        of[rows], off[rows], scale[rows] = number, beyond[places] > 0.5, block.kernel.scale
        mean[rows], shares[rows, :, : block.members.shape[1]] = _stacked(model, block, places)
        small.append(odd.small_cov(block))
        begin += len(block.weight)
    weight = weights[heaviest]
    return Foreseen(model, weight / weight.sum(), off, scale, mean, shares, of, np.array(small))


def gain(
    foreseen: Foreseen,
    current: Array,
    candidate: Candidate,
    parts: Sequence[Part],
    runs: Sequence[Run],
    sight: Sight = PLAIN,
) -> float:
    """Expected fall of the entropy of which of the *current* parts (a mask over the model's parts) are off,
    once the candidate has been caught, [nat].
    """
    design, extra = _design(foreseen.model, candidate, parts, runs, sight)
    n = len(design)
    sigma = noise_foreseen(runs, candidate.opening, foreseen.model)
    contrast = _contrasts(n)
    mean = foreseen.mean @ design.T @ contrast.T
    plain = np.eye(n) * (sigma * foreseen.scale[:, None, None]) ** 2 + np.diag(extra)
    odd, design_small = design @ foreseen.odd, design[:, foreseen.model.full.shape[1] :]
    small = design_small @ foreseen.small @ design_small.T
    cov = contrast @ (odd @ odd.transpose(0, 2, 1) + small[foreseen.block] + plain) @ contrast.T
    root = np.linalg.cholesky(0.5 * (cov + cov.transpose(0, 2, 1)))
    edges = np.cumsum(foreseen.weight)
    source = np.minimum(np.searchsorted(edges, (np.arange(DRAWS) + 0.5) / DRAWS), len(edges) - 1)
    z = np.random.default_rng(SEED).standard_normal((DRAWS, n - 1))
    y = mean[source] + np.einsum("tij,tj->ti", root[source], z)
    scaled = np.linalg.inv(root) @ (y.T - mean[:, :, None])  # (H, n-1, draws)
    logs = -0.5 * (scaled**2).sum(axis=1) - np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)[:, None]
    logs += np.log(foreseen.weight)[:, None]
    after = np.exp(logs - logs.max(axis=0))
    after /= after.sum(axis=0)
    signature = _by_signature(foreseen, current)
    return _entropy(signature @ foreseen.weight) - _entropy(signature @ after) / DRAWS


def noise_foreseen(runs: Sequence[Run], opening: str, model: CatchModel) -> float:
    """Standard noise of one amount at an opening: as it was there before, else a design figure."""
    known = [model.sigma[row] for row, (index, _) in enumerate(model.place) if runs[index].opening == opening]
    return float(np.median(known)) if known else FORESEEN_NOISE.get(opening, OTHER_NOISE)


def dry_gain(blocked: Blocked, candidate: Candidate, parts: Sequence[Part]) -> float:
    """How much doubt about blocked parts a candidate removes: each hypothesis foresees which outlets stay
    dry.
    """
    rows = arrangements.arranged(parts, candidate)
    groups: dict[frozenset[int], list[float]] = {}
    for hypothesis, weight in blocked.hypotheses:
        pattern = frozenset(
            position
            for position in range(min(len(row) for row in rows.values()))
            if any((kind, row[position]) in hypothesis for kind, row in rows.items())
        )
        groups.setdefault(pattern, []).append(weight)
    before = _entropy(np.array([weight for _, weight in blocked.hypotheses]))
    after = sum(sum(found) * _entropy(np.array(found) / sum(found)) for found in groups.values())
    return before - after


def _stacked(model: CatchModel, block: Block, places: Ints) -> tuple[Array, Array]:
    """Mean of (odd effect of each parts' column, small effect of each part) under some sets of a block, and
    what the odd effects, made independent, add to each, (M, e), (M, e, k).
    """
    columns = model.full.shape[1]
    own, column = model.small_column, model.variants.column[block.members[places]]
    x, C = block.mean[places], block.cov[places]
    mean = np.zeros((len(places), columns + len(own)))
    moved = np.zeros((*mean.shape, column.shape[1]))
    # Small effects answer the odd ones.
    lift = -(SMALL**2) * block.kernel.G[own][:, column].transpose(1, 0, 2)
    mean[:, columns:] = SMALL**2 * block.kernel.b[own] + np.einsum("mpk,mk->mp", lift, x)
    moved[:, columns:] = lift
    for k in range(column.shape[1]):
        rows = np.nonzero(column[:, k] < columns)[0]  # the others are amounts
        mean[rows, column[rows, k]] = x[rows, k]
        moved[rows, column[rows, k], k] = 1.0
    return mean, moved @ np.linalg.cholesky(0.5 * (C + C.transpose(0, 2, 1)))


def _design(
    model: CatchModel, candidate: Candidate, parts: Sequence[Part], runs: Sequence[Run], sight: Sight
) -> tuple[Array, Array]:
    """Rows of the foreseen run over the stacked effects, and the variance of parts never caught, (n, e),
    (n,).
    """
    rows = arrangements.arranged(parts, candidate)
    n = min(len(row) for row in rows.values())
    columns, p = model.full.shape[1], len(model.parts)
    design, extra = np.zeros((n, columns + p)), np.zeros(n)
    shown = next(
        (run.visibility for run in reversed(runs) if run.key == f"{candidate.through}:{candidate.opening}"),
        None,
    )
    table = {**sight.table(candidate.through, candidate.opening), **(shown or {})}
    for kind in KINDS:
        for position, identity in enumerate(rows.get(kind, ())[:n]):
            seen = table[kind].get("moderate", 0.0)
            part = None if identity is None else model.part_index.get((kind, identity))
            if part is None:
                extra[position] += (seen * SMALL) ** 2
                continue
            design[position, columns + part] = seen
            for way in model.ways:
                if way.part == part:
                    design[position, way.column] = table[kind].get(way.name, seen)
    return design, extra


def _contrasts(n: int) -> Array:
    """Orthonormal rows that sum to zero: the run's level drops out."""
    full, _ = np.linalg.qr(np.column_stack([np.ones(n), np.eye(n)[:, : n - 1]]))
    return np.asarray(full[:, 1:].T)


def _by_signature(foreseen: Foreseen, current: Array) -> Array:
    _, which = np.unique(foreseen.off * current, axis=0, return_inverse=True)
    which = which.ravel()
    return np.asarray(np.arange(which.max() + 1)[:, None] == which, dtype=np.float64)


def _entropy(weights: Array) -> float:
    held = weights[weights > 1e-12]
    return float(-(held * np.log(held)).sum())
