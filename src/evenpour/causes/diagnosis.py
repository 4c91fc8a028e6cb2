"""From readings to an answer: all hypotheses, all readings together, and what if one does not belong."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from evenpour.causes.evidence import DRAWS, Evidence, by_laplace, put_right
from evenpour.causes.laplace import Modes, settle
from evenpour.causes.memory import TURNED, Looked, Memory, strays, update
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.posterior import Component, Posterior
from evenpour.causes.problem import Array, Columns, Indices
from evenpour.causes.seen import Noise, noise_of
from evenpour.causes.severe import Severe
from evenpour.causes.unexplained import SET_ASIDE, Variant, as_read, checks_of, set_aside, slips_of

#: Hypotheses above this share are weighed by draws; variants above it are tried in earnest.
DRAWN, TRIED = 1e-3, 0.02
#: A second check is looked for where one set aside has more than this.
SECOND = 0.1
#: Nodes within this of the best are tried under a variant, [nat]; those above a share get new slopes.
NEAR_BEST, ALIVE = 9.0, 1e-3
#: Nodes above this share foresee the next check.
FORESEEING = 1e-4


def diagnose(
    severe: Severe, columns: Columns, memory: Memory, *, thorough: bool = True, draws: int = DRAWS
) -> Posterior:
    """Explain all readings together.

    Args:
        severe: The model at the nodes of all hypotheses, its spread widened as wanted.
        columns: What was read, its noise widened as wanted.
        memory: Where the nodes were; brought up to date in place.
        thorough: Look at every node; else only at those that had weight before.
        draws: Draws that weigh each hypothesis alive.
    Returns:
        Probabilities of all hypotheses, of slips and of readings that fit nothing; they sum to 1.
    """
    work = _Work(severe, memory, draws)
    noise = noise_of(columns)
    looked = update(noise, severe, memory, thorough=thorough)
    first = work.tried(as_read(columns), noise, looked.which, memory.modes.take(looked.which))
    rows = [first]
    for check, odds in _screened(severe, looked, first):
        rows.append(_row(set_aside(columns, [check]), first, odds))
    rows = _in_earnest(work, columns, looked, rows)
    return _together(severe, memory, rows)


@dataclass(frozen=True, slots=True)
class Tried:
    """One variant of the readings with the evidence of every hypothesis under it."""

    variant: Variant
    evidence: Evidence
    noise: Noise
    which: Indices  # nodes that were settled under it, rising; none where only screened
    modes: Modes

    def log_weight(self, log_prior: Array) -> Array:
        """Log weight of every hypothesis under it, (H,)."""
        return np.asarray(log_prior + self.evidence.log_evidence + self.variant.log_prior)


@dataclass(frozen=True, slots=True)
class _Work:
    severe: Severe
    memory: Memory
    draws: int

    def tried(self, variant: Variant, noise: Noise, which: Indices, modes: Modes) -> Tried:
        """Weigh the likely hypotheses by draws, from nodes settled under this variant."""
        evidence = by_laplace(self.severe.grid, which, modes)
        weight = evidence.log_evidence + self.severe.grid.log_prior
        alive = np.flatnonzero(weight > log_sum(weight) + np.log(DRAWN))
        evidence = put_right(evidence, noise, self.severe, which, modes, alive, count=self.draws)
        return Tried(variant, evidence, noise, which, modes)

    def afresh(self, variant: Variant, which: Indices, start: Modes) -> Tried:
        """Settle these nodes under a variant and weigh."""
        noise, predict, grid = noise_of(variant.columns), self.severe.predict, self.severe.grid
        modes = settle(noise, predict, which, start, renew=math.inf, most=8)
        own = grid.log_weight[which] + grid.log_prior[grid.owner[which]] + modes.log_evidence
        turned = np.flatnonzero((own > log_sum(own) + np.log(ALIVE)) & (modes.moved > TURNED))
        if len(turned):
            modes.put(turned, settle(noise, predict, which[turned], modes.take(turned), renew=TURNED, most=4))
        return self.tried(variant, noise, which, modes)


def _screened(severe: Severe, looked: Looked, first: Tried) -> Iterable[tuple[int, Array]]:
    """Every check with the log odds, by hypothesis, that it does not belong (H,): the closed formula."""
    grid = severe.grid
    own = grid.log_weight[looked.which] + first.modes.log_evidence
    count, owner = len(grid.log_prior), grid.owner[looked.which]
    base = log_sum_by(own, owner, count)
    for g, check in enumerate(looked.checks):
        with np.errstate(invalid="ignore"):
            odds = log_sum_by(own + looked.stray[:, g], owner, count) - base
        yield int(check), np.where(np.isfinite(base), odds, -np.inf)


def _row(variant: Variant, first: Tried, odds: Array) -> Tried:
    none = np.zeros(0, dtype=np.int64)
    evidence = Evidence(
        first.evidence.log_evidence + odds - variant.log_prior, first.evidence.error, first.evidence.effective
    )
    return Tried(variant, evidence, first.noise, none, first.modes.take(none))


def _in_earnest(work: _Work, columns: Columns, looked: Looked, rows: list[Tried]) -> list[Tried]:
    """Try what the screening left standing: the check set aside, its slips, and a second check with it."""
    found = [rows[0]]
    for g, share in enumerate(_shares(work, rows)[1:]):
        row = rows[g + 1]
        if share < TRIED:
            found.append(row)
            continue
        which = _likely(work, looked, looked.stray[:, g])
        aside = work.afresh(row.variant, which, work.memory.modes.take(which))
        found.append(aside)
        found += [work.afresh(slip, which, aside.modes) for slip in slips_of(columns, row.variant.checks[0])]
    tried: set[tuple[int, ...]] = set()
    for row, share in zip(list(found), _shares(work, found), strict=True):
        if row.variant.kind != SET_ASIDE or not len(row.which) or share < SECOND:
            continue
        for check in _clashing(work, row):
            pair = tuple(sorted((*row.variant.checks, check)))
            if pair not in tried:
                tried.add(pair)
                found.append(work.afresh(set_aside(columns, pair), row.which, row.modes))
    return found


def _shares(work: _Work, rows: list[Tried]) -> Array:
    totals = np.array([log_sum(row.log_weight(work.severe.grid.log_prior)) for row in rows])
    return np.asarray(np.exp(totals - log_sum(totals)))


def _clashing(work: _Work, row: Tried) -> list[int]:
    """Checks that do not belong either, by the closed formula, where one is set aside already."""
    grid = work.severe.grid
    stray = strays(row.noise, row.modes, checks_of(row.noise.columns))
    own = grid.log_weight[row.which] + grid.log_prior[grid.owner[row.which]] + row.modes.log_evidence
    odds = log_sum(own[:, None] + stray, axis=0) - log_sum(own)
    checks = checks_of(row.noise.columns)
    return [int(check) for check in checks[odds > np.log(TRIED)]]


def _likely(work: _Work, looked: Looked, odds: Array) -> Indices:
    grid, modes = work.severe.grid, work.memory.modes
    which = looked.which
    weight = grid.log_weight[which] + grid.log_prior[grid.owner[which]] + modes.log_evidence[which] + odds
    return np.asarray(which[weight > weight.max() - NEAR_BEST])


def _together(severe: Severe, memory: Memory, rows: list[Tried]) -> Posterior:
    grid = severe.grid
    table = np.array([row.log_weight(grid.log_prior) for row in rows])
    weight = np.exp(table - log_sum(table.ravel()))
    weight /= weight.sum()
    components = []
    for row, share in zip(rows, weight, strict=True):
        own = grid.log_weight[row.which] + row.modes.log_evidence
        total = log_sum_by(own, grid.owner[row.which], len(grid.log_prior))
        with np.errstate(invalid="ignore"):
            mine = share[grid.owner[row.which]] * np.exp(own - total[grid.owner[row.which]])
        strong = np.flatnonzero(mine > FORESEEING)
        if len(strong):
            components.append(Component(row.noise, row.which[strong], row.modes.take(strong), mine[strong]))
    log_evidence = np.full(len(grid), -np.inf)
    log_evidence[rows[0].which] = rows[0].modes.log_evidence
    return Posterior(
        severe=severe,
        variants=tuple(row.variant for row in rows),
        weight=weight,
        evidence=rows[0].evidence,
        node_log_evidence=log_evidence,
        components=tuple(components),
    )
