r"""Which parts are odd and which amounts spoilt: the weight of every set, exactly.

With :math:`K = G_{SS} + D^{-2}` and :math:`h = b_S + D^{-2}\mu` the density of the amounts under the set S is

.. math:: \log m(S) = base + \tfrac12 h'K^{-1}h - \tfrac12 \mu'D^{-2}\mu - \tfrac12\log|K| - \sum\log D

Adding one member to a set costs a Schur complement, so all pairs come out of one N × N table; from three on
only the heavier sets are added to, and no longer than that still finds weight.

Source: conjugate Gaussian algebra; the mixture of narrow and broad effects follows Mitchell and Beauchamp,
J. Am. Stat. Assoc. 83 (1988) 1023, and spoilt values Box and Tiao, Biometrika 55 (1968) 119 (both from
memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.measure.catch_model import SMALL, Array, CatchModel, Ints, Kernel, Variants

#: Growth stops when a further member adds less weight than this.
ENOUGH = 1e-3
DEEPEST = 5
#: How many sets are added to at each depth; pairs are complete.
BEAM = {2: 2000, 3: 400, 4: 200}
#: Sets lighter than exp(-FAINT) of the heaviest are dropped, and at most KEPT are kept for the answers.
FAINT, KEPT = 16.0, 3000
#: and sets of two or more lighter than exp(-REACH) of it are not added to.
REACH = 9.0
#: Sets are added to a few at a time, so that tables of this many values stay near the processor.
AT_ONCE = 30_000


@dataclass(frozen=True, slots=True)
class Block:
    """Sets of one size at one noise scale.

    ``weight`` is posterior probability; effects given the set are N(mean, cov).
    """

    kernel: Kernel
    members: Ints  # (M, k) indices into the variants, rising
    weight: Array  # (M,)
    mean: Array  # (M, k)
    cov: Array  # (M, k, k)


@dataclass(frozen=True, slots=True)
class OddSets:
    """Posterior over the sets; block weights sum to one together."""

    model: CatchModel
    blocks: tuple[Block, ...]

    def odd(self) -> Array:
        """Probability that each group (parts, then amounts) is odd, (groups,)."""
        variants = self.model.variants
        total = np.zeros(len(self.model.parts) + len(self.model.place))
        for block in self.blocks:
            for column in range(block.members.shape[1]):
                np.add.at(total, variants.group[block.members[:, column]], block.weight)
        return np.clip(total, 0.0, 1.0)

    def both_odd(self) -> Array:
        """Probability that two parts are odd together, (p, p)."""
        p = len(self.model.parts)
        table = np.zeros((p, p))
        for block in self.blocks:
            present = self.present(block)
            table += (present * block.weight[:, None]).T @ present
        return table

    def present(self, block: Block) -> Array:
        """1 where a part is odd in a set, (M, p)."""
        p = len(self.model.parts)
        here = np.zeros((len(block.weight), p + 1))
        group = self.model.variants.group[block.members]
        for column in range(block.members.shape[1]):
            here[np.arange(len(here)), np.minimum(group[:, column], p)] = 1.0
        return here[:, :p]

    def scale_weight(self) -> dict[float, float]:
        """Posterior weight of each noise scale."""
        found: dict[float, float] = {}
        for block in self.blocks:
            found[block.kernel.scale] = found.get(block.kernel.scale, 0.0) + float(block.weight.sum())
        return found

    def small(self, block: Block) -> tuple[Array, Array]:
        """Mean and variance of every part's small effect in every set of a block, both (M, p)."""
        column = self.model.variants.column[block.members]  # (M, k)
        own = self.model.small_column
        cross = block.kernel.G[own][:, column].transpose(1, 0, 2)  # (M, p, k)
        mean = SMALL**2 * (block.kernel.b[own] - np.einsum("mpk,mk->mp", cross, block.mean))
        spread = np.einsum("mpk,mkl,mpl->mp", cross, block.cov, cross)
        variance = SMALL**2 - SMALL**4 * (np.diag(block.kernel.G)[own] - spread)
        return mean, np.maximum(variance, 0.0)

    def small_cov(self, block: Block) -> Array:
        """Covariance of the small effects when the odd ones are known: the same for every set, (p, p)."""
        own = self.model.small_column
        return np.asarray(SMALL**2 * np.eye(len(own)) - SMALL**4 * block.kernel.G[np.ix_(own, own)])


def weigh(model: CatchModel) -> OddSets:
    """Enumerate: nothing, one, every pair, then deeper from the heavier sets while that finds weight."""
    searches = [_Search(model.variants, kernel) for kernel in model.kernels()]
    levels = [[search.nothing() for search in searches], [search.one() for search in searches]]
    total = _log_sum([logs for level in levels for _, logs in level])
    for _ in range(2, DEEPEST + 1):
        best = max(float(logs.max(initial=-np.inf)) for level in levels for _, logs in level)
        grown = [
            search.one_more(sets, logs, best)
            for search, (sets, logs) in zip(searches, levels[-1], strict=True)
        ]
        here = _log_sum([logs for _, logs in grown])
        levels.append(grown)
        total = float(np.logaddexp(total, here))
        if here - total < np.log(ENOUGH):
            break
    flat = [
        (search, sets, logs) for level in levels for search, (sets, logs) in zip(searches, level, strict=True)
    ]
    every = np.concatenate([logs for _, _, logs in flat])
    kept = min(KEPT, len(every))
    floor = max(float(every.max()) - FAINT, float(np.partition(every, -kept)[-kept]))
    whole = _log_sum([every[every >= floor]])
    blocks = []
    for search, sets, logs in flat:
        heavy = logs >= floor
        if heavy.any():
            blocks.append(_block(model, search.kernel, sets[heavy], np.exp(logs[heavy] - whole)))
    return OddSets(model, tuple(blocks))


def log_density(model: CatchModel, kernel: Kernel, members: Sequence[int]) -> float:
    """Log density of the amounts given a set, without any prior; for tests and for judging one set alone."""
    variants, S = model.variants, np.array(members, dtype=np.int64)
    if not len(S):
        return kernel.base
    inverse_square = variants.width[S] ** -2.0
    h = kernel.b[variants.column[S]] + inverse_square * variants.mean[S]
    K = kernel.G[np.ix_(variants.column[S], variants.column[S])] + np.diag(inverse_square)
    fit = 0.5 * float(h @ np.linalg.solve(K, h)) - 0.5 * float((inverse_square * variants.mean[S] ** 2).sum())
    return kernel.base + fit - 0.5 * float(np.linalg.slogdet(K)[1]) - float(np.log(variants.width[S]).sum())


def _log_sum(logs: Sequence[Array]) -> float:
    every = np.concatenate(logs)
    top = float(every.max(initial=-np.inf))
    return top + float(np.log(np.exp(every - top).sum())) if np.isfinite(top) else -np.inf


class _Search:
    """Grows sets at one noise scale."""

    def __init__(self, variants: Variants, kernel: Kernel) -> None:
        self.kernel, self.group = kernel, variants.group
        self.inverse_square = variants.width**-2.0
        self.G = kernel.G.take(variants.column, axis=0).take(variants.column, axis=1)
        self.h = kernel.b[variants.column] + self.inverse_square * variants.mean
        self.diagonal = np.diag(self.G) + self.inverse_square
        fixed = -0.5 * self.inverse_square * variants.mean**2 - np.log(variants.width) + variants.log_odds
        self.fixed: Array = np.asarray(fixed)
        # A Schur complement is no less than the member's own D^-2: so much at most is added besides the fit.
        self.most: Array = self.fixed + np.log(variants.width) + 1e-9

    def nothing(self) -> tuple[Ints, Array]:
        return np.zeros((1, 0), dtype=np.int64), np.array([self.kernel.base + self.kernel.log_prior])

    def one(self) -> tuple[Ints, Array]:
        fit = 0.5 * self.h**2 / self.diagonal - 0.5 * np.log(self.diagonal) + self.fixed
        return np.arange(len(self.h))[:, None], self.kernel.base + self.kernel.log_prior + fit

    def one_more(self, sets: Ints, logs: Array, best: float) -> tuple[Ints, Array]:
        """Every set with one more member of another group, each resulting set once.

        Pairs are complete; deeper, only sets within REACH of the heaviest so far are added to.
        """
        size = sets.shape[1]
        if size > 1:
            sets, logs = _heaviest(sets, logs, BEAM[size], best - REACH)
        if not len(sets):
            return np.zeros((0, size + 1), dtype=np.int64), np.zeros(0)
        slab = max(1, AT_ONCE // (size * len(self.group)))
        slabs = [self._grown(sets[a : a + slab], logs[a : a + slab], best) for a in range(0, len(sets), slab)]
        found, grown = (np.concatenate(of_all) for of_all in zip(*slabs, strict=True))
        heavy = grown >= max(best, float(grown.max(initial=-np.inf))) - FAINT
        found, grown = found[heavy], grown[heavy]
        _, first = np.unique(found @ (len(self.group) ** np.arange(size + 1)), return_index=True)
        return found[first], grown[first]

    def _grown(self, sets: Ints, logs: Array, best: float) -> tuple[Ints, Array]:
        """Each of a few sets with each further member, but for those too light to count."""
        size = sets.shape[1]
        after = int(sets[0, 0]) + 1 if size == 1 else 0  # single ones come rising, and each pair once
        K = self.G[sets[:, :, None], sets[:, None, :]] + self.inverse_square[sets][:, :, None] * np.eye(size)
        g = self.G[sets, after:]  # (M, k, N)
        W = np.linalg.inv(K) @ g
        schur = self.diagonal[after:] - (g * W).sum(axis=1)
        fit = 0.5 * (self.h[after:] - (self.h[sets][:, :, None] * W).sum(axis=1)) ** 2 / schur
        parent, place = np.nonzero(logs[:, None] + fit + self.most[after:] >= best - FAINT)
        allowed = place + after > sets[parent, 0] if size == 1 else np.ones(len(place), dtype=np.bool_)
        for column in sets.T:
            allowed &= self.group[column][parent] != self.group[place + after]
        parent, place = parent[allowed], place[allowed]
        grown = logs[parent] + fit[parent, place] - 0.5 * np.log(schur[parent, place])
        return _with(sets[parent], place + after), grown + self.fixed[place + after]


def _with(sets: Ints, member: Ints) -> Ints:
    """Each set with its new member put where it stands in the rising order."""
    found = np.empty((len(sets), sets.shape[1] + 1), dtype=np.int64)
    for place in range(sets.shape[1]):
        found[:, place] = np.minimum(sets[:, place], member)
        member = np.maximum(sets[:, place], member)
    found[:, -1] = member
    return found


def _heaviest(sets: Ints, logs: Array, most: int, floor: float) -> tuple[Ints, Array]:
    reach = np.nonzero(logs >= floor)[0]
    if len(reach) > most:
        reach = reach[np.argpartition(logs[reach], -most)[-most:]]
    return sets[reach], logs[reach]


def _block(model: CatchModel, kernel: Kernel, sets: Ints, weight: Array) -> Block:
    variants = model.variants
    size = sets.shape[1]
    column = variants.column[sets]
    inverse_square = variants.width[sets] ** -2.0
    K = kernel.G[column[:, :, None], column[:, None, :]] + inverse_square[:, :, None] * np.eye(size)
    cov: Array = np.asarray(np.linalg.inv(K), dtype=np.float64)
    h = kernel.b[column] + inverse_square * variants.mean[sets]
    return Block(kernel, sets, weight, np.einsum("mkl,ml->mk", cov, h), cov)
