"""Readings that do not go with the others: which, how surely, and whether a plain slip would put them right."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from evenpour.causes.laplace import settle
from evenpour.causes.normal import log_sum
from evenpour.causes.seen import noise_of
from evenpour.causes.unexplained import Variant, slips_of
from evenpour.job.cause_answers import ClashLine
from evenpour.job.cause_words import reading_words

if TYPE_CHECKING:
    from evenpour.job.causes_answer import Case

SUSPECTED = 0.15  # that a check does not belong, from which it is looked into
MENDED = 0.15  # share of that which a slip must take up to be named
NODES = 12  # that a slip is tried at


def clashes(case: Case) -> tuple[list[ClashLine], float]:
    """Checks that do not belong, and the probability that no cause and no plain slip explains the readings."""
    explained = case.explanation
    if not case.told:
        return [], 0.0
    lines, unexplained = [], 0.0
    apart = explained.does_not_belong
    for g in np.argsort(-apart):
        if apart[g] < SUSPECTED:
            unexplained += float(apart[g])
            continue
        check = int(explained.checks[g])
        slips, mended = _slips(case, int(g), check)
        unexplained += float(apart[g]) * (1.0 - mended)
        rows = np.flatnonzero(explained.seen.columns.check == check)
        told = case.told[int(rows[0])]
        lines.append(
            ClashLine(
                what=told.observation.check.check,
                cylinder=told.observation.query.cylinder,
                entry=told.entry,
                probability=float(apart[g]),
                words=f"{reading_words(case.job, told)} does not go with the other readings",
                slips=slips,
            )
        )
    return lines, min(unexplained, 1.0)


def _slips(case: Case, g: int, check: int) -> tuple[list[str], float]:
    """Slips that would put a check right, and the share of its not belonging that they take up."""
    explained = case.explanation
    grid, modes = explained.fitted.grid, explained.fitted.modes
    prior = grid.log_prior[grid.owner] + grid.log_weight
    aside = prior + modes.log_evidence + explained.odd[:, g]
    level = float(log_sum(aside))
    nodes = np.argsort(-aside, kind="stable")[:NODES]
    found: list[tuple[float, str]] = []
    for variant in slips_of(explained.seen.columns, check):
        found.append((_weight(case, variant, nodes, prior), variant.label))
    if not found:
        return [], 0.0
    total = float(log_sum(np.array([level, *[weight for weight, _ in found]])))
    shares = sorted(((math.exp(weight - total), label) for weight, label in found), reverse=True)
    named = [f"{label}?" for share, label in shares if share >= MENDED]
    return named, math.fsum(share for share, _ in shares)


def _weight(case: Case, variant: Variant, nodes: np.ndarray, prior: np.ndarray) -> float:
    """Log weight of the readings with a slip put right, over the nodes tried."""
    explained = case.explanation
    heard = noise_of(variant.columns.noisier(1.3))
    again = settle(
        heard, explained.severe.predict, nodes, explained.fitted.modes.take(nodes), renew=0.5, most=5
    )
    return float(log_sum(prior[nodes] + again.log_evidence)) + variant.log_prior
