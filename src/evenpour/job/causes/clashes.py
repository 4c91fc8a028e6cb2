"""Readings that do not go with the others: which, how surely, and whether a plain slip would put them
right.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from evenpour.causes.explanation import strays
from evenpour.causes.laplace import begin, settle
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Slip
from evenpour.causes.seen import noise_of
from evenpour.causes.unexplained import Variant, slips_of
from evenpour.job.causes.answers import ClashLine
from evenpour.job.causes.facts import Told
from evenpour.job.causes.words import named, reading_words, value_words
from evenpour.job.job import Job
from evenpour.machine.checks import NumberCheck

if TYPE_CHECKING:
    from evenpour.job.causes.case import Case

SUSPECTED = 0.15  # that a check does not belong, from which it is looked into
MENDED = 0.15  # share of that which a slip must take up to be named
AT_ODDS = 6.0  # standard uncertainties between two readings of the same, from which they contradict
NODES = 12  # that a slip is tried at


def clashes(case: Case) -> tuple[list[ClashLine], float]:
    """Checks that do not belong, and how much of "nothing wrong" is really something that is not known here.

    A cause that explains all but one reading stays that cause, with the one reading told as a clash. Where
    no cause explains the odd one and the rest is sound, it is no cause that is known here, unless a plain
    slip mends it.
    """
    explained = case.explanation
    if not case.told:
        return [], 0.0
    lines = list(contradictions(case.job, case.told))
    # under two causes at once every reading is taken to belong
    apart = explained.does_not_belong * math.fsum(case.probability.values())
    # of each check, where nothing is wrong
    odd = np.exp(explained.odd[0] - strays(explained.odd[:1])[0])
    unexplained = 0.0
    for g in np.argsort(-apart):
        told = _first(case, int(g))
        slips, mended = _slips(case, int(g)) if max(apart[g], odd[g]) >= SUSPECTED else ([], 0.0)
        unexplained += float(odd[g]) * (1.0 - mended)
        if apart[g] >= SUSPECTED:
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


def contradictions(job: Job, told: Sequence[Told]) -> Iterator[ClashLine]:
    """Readings of the same, taken alike, that lie further apart than gauge and repeating let them."""
    for one in told:
        check, group = one.observation.check, one.group
        if group is None or not isinstance(check, NumberCheck) or len(group.reading.values) < 2:
            continue
        values = group.reading.values
        scale = max(map(abs, values)) if check.logarithmic else 1.0
        apart = AT_ODDS * math.hypot(group.reading.u_b, check.repeats * scale)
        if max(values) - min(values) > apart:
            low, high = (value_words(job, check.check, value) for value in (min(values), max(values)))
            name = named(job.known.checks[check.check])
            yield ClashLine(
                what=check.check,
                cylinder=one.observation.query.cylinder,
                entry=one.entry,
                probability=1.0,
                words=f"{name} was read as {low} and as {high}: these contradict each other; read it again",
                slips=[],
            )


def _first(case: Case, g: int) -> Told:
    """The reading of a check that lies farthest from what the likeliest explanation foresees."""
    explained = case.explanation
    rows = np.flatnonzero(explained.seen.columns.check == explained.checks[g])
    best = int(np.argmax(explained.node_weight))
    f = explained.fitted.modes.f[best][explained.seen.columns.column[rows]]
    far = np.abs(explained.noise.columns.y[rows] - f) * explained.noise.per_sd[rows]
    return case.told[int(rows[int(np.argmax(far))])]


def _slips(case: Case, g: int) -> tuple[list[str], float]:
    """Slips that would put a check right, and the share of its not belonging that they take up."""
    explained = case.explanation
    check = int(explained.checks[g])
    grid, modes = explained.fitted.grid, explained.fitted.modes
    prior = grid.log_prior[grid.owner] + grid.log_weight
    aside = prior + modes.log_evidence + explained.odd[:, g]
    level = float(log_sum(aside))
    nodes = np.argsort(-aside, kind="stable")[:NODES]
    tried = slips_of(explained.seen.columns, check)
    columns = explained.seen.columns
    meant = [_meant(case, one) for one in columns.slips if columns.check[one.rows[0]] == check]
    found = [
        (_weight(case, variant, nodes, prior), words) for variant, words in zip(tried, meant, strict=True)
    ]
    if not found:
        return [], 0.0
    total = float(log_sum(np.array([level, *[weight for weight, _ in found]])))
    shares = sorted(((math.exp(weight - total), label) for weight, label in found), reverse=True)
    named = [f"{label}?" for share, label in shares if share >= MENDED]
    return named, math.fsum(share for share, _ in shares)


def _meant(case: Case, slip: Slip) -> str:
    """A slip in words, with the figure that was meant where it is one: ``meant 3.62 bar (psi ...)``."""
    told = case.told[int(slip.rows[0])]
    check = told.observation.check
    if len(slip.rows) > 1 or not isinstance(check, NumberCheck):
        return slip.label
    value = float(check.uncompared(slip.y[0]))
    return f"meant {value_words(case.job, check.check, value)} ({slip.label})"


def _weight(case: Case, variant: Variant, nodes: np.ndarray, prior: np.ndarray) -> float:
    """Log weight of the readings with a slip put right, over the nodes tried."""
    explained = case.explanation
    heard = noise_of(variant.columns.noisier(1.3))
    again = settle(
        heard, explained.severe.predict, nodes, explained.fitted.modes.take(nodes), renew=0.5, most=5
    )
    log = again.log_evidence
    if not again.arrived.any():  # what was written had pulled the places too far off: begin at the middle car
        fresh = begin(explained.severe.predict, nodes, np.zeros_like(again.z))
        log = settle(heard, explained.severe.predict, nodes, fresh, renew=0.5, most=8).log_evidence
    return float(log_sum(prior[nodes] + log)) + variant.log_prior
