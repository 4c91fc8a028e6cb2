"""What a diagnosis is about: hypotheses, the nodes they are tried at, and the columns that were read.

A *node* is a hypothesis at one severity. The engine knows nothing of cars: a *model* gives the values of
all columns for many nodes and nuisance draws at once, in the space in which readings are compared (logs
with a floor where values span decades). The nuisance z is what the car may be without a fault: standard
normal after scaling. A column is either a number, or the *margin* of a choice: a real number along which
its choices lie in order.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenpour.causes.choice_line import ChoiceLine

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Flags = NDArray[np.bool_]

NONE = -1


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One cause, at all its severities.

    Args:
        label: The cause's id; with its cylinder it is the only one of its name.
        remedy: What mends it. Causes that have one remedy are one for the choice of the next check.
        log_prior: Log of its prior probability, up to a constant that all hypotheses share.
        severities: Where it is tried, (K,), rising.
        edges: Cells of the severity, (K + 1,); within a cell every severity is equally likely.
        weights: Prior probability of each cell, (K,); they sum to 1.
        cylinder: From 0, or None.
    """

    label: str
    remedy: str
    log_prior: float
    severities: Array
    edges: Array
    weights: Array
    cylinder: int | None = None


def graded(
    label: str,
    remedy: str,
    log_prior: float,
    *,
    low: float = 0.05,
    high: float = 1.0,
    count: int = 8,
    cylinder: int | None = None,
) -> Hypothesis:
    """A cause whose severity is uniform from *low* to *high*, tried in the middle of *count* equal cells."""
    edges = np.linspace(low, high, count + 1)
    return Hypothesis(
        label=label,
        remedy=remedy,
        log_prior=log_prior,
        severities=0.5 * (edges[1:] + edges[:-1]),
        edges=edges,
        weights=np.full(count, 1.0 / count),
        cylinder=cylinder,
    )


def ungraded(label: str, remedy: str, log_prior: float, *, severity: float = 0.0) -> Hypothesis:
    """A cause that has one severity only; nothing wrong is one of severity 0."""
    at = np.array([severity])
    return Hypothesis(label, remedy, log_prior, at, np.array([severity, severity]), np.ones(1))


@dataclass(frozen=True, slots=True)
class Faults:
    """What is wrong, row by row: up to K hypotheses at once, each at its severity.

    ``which``, (R, K), counts the hypotheses from 0 and is -1 where there is no more; ``severity`` runs alike.
    """

    which: Indices
    severity: Array

    def __len__(self) -> int:
        return len(self.which)

    def take(self, rows: Indices | slice) -> Faults:
        """These rows, in this order; a row may come often."""
        return Faults(self.which[rows], self.severity[rows])


def alone(which: Indices, severity: Array) -> Faults:
    """One hypothesis in each row, (R,)."""
    return Faults(which[:, None], severity[:, None])


#: Faults (R rows) and nuisance (R, d) to the values of all columns, (R, M).
Model = Callable[[Faults, Array], Array]
#: The same by node: rows of a grid (R,) and nuisance (R, d) to (R, M).
Predict = Callable[[Indices, Array], Array]
#: Which numbers change what nodes foresee: rows of a grid (R,) to (R, d).
Moving = Callable[[Indices], Flags]


@dataclass(frozen=True, slots=True)
class Grid:
    """Nodes of all owners one after the other: an owner is one hypothesis, or several at once."""

    faults: Faults  # N rows, K at once
    owner: Indices  # (N,)
    log_weight: Array  # (N,) log prior of the node's cell within its owner
    low: Array  # (N, K) cell of each severity
    high: Array  # (N, K)
    log_prior: Array  # (H,) of the owners, up to a common constant
    remedy: tuple[str, ...]  # (H,)
    name: tuple[str, ...]  # (H,)
    #: (N, K) correlation of those of a node's severities that go together, 0 of the others; none: none do
    alike: Array | None = None

    def __len__(self) -> int:
        return len(self.owner)

    def best_of_each(self, evidence: Array) -> Indices:
        """The node of most weight of every owner, (H,), by the nodes' log evidence, (N,)."""
        return best_of_each(self.owner, self.log_weight + evidence)


def best_of_each(group: Indices, weight: Array) -> Indices:
    """Of each group the place with most weight, in the order of the groups, from both, (N,)."""
    order = np.lexsort((weight, group))
    return np.asarray(order[np.flatnonzero(np.diff(group[order], append=-1))])


def grid_of(hypotheses: Sequence[Hypothesis]) -> Grid:
    """All single causes at all their severities."""
    owner = np.concatenate([np.full(len(h.severities), index) for index, h in enumerate(hypotheses)])
    severity = np.concatenate([h.severities for h in hypotheses])
    with np.errstate(divide="ignore"):
        log_weight = np.log(np.concatenate([h.weights for h in hypotheses]))
    return Grid(
        faults=alone(owner, severity),
        owner=owner,
        log_weight=log_weight,
        low=np.concatenate([h.edges[:-1] for h in hypotheses])[:, None],
        high=np.concatenate([h.edges[1:] for h in hypotheses])[:, None],
        log_prior=np.array([h.log_prior for h in hypotheses]),
        remedy=tuple(h.remedy for h in hypotheses),
        name=tuple(named(h) for h in hypotheses),
    )


def named(hypothesis: Hypothesis) -> str:
    """``injector_shut[4]``: the cause with its cylinder as a person counts."""
    return (
        hypothesis.label if hypothesis.cylinder is None else f"{hypothesis.label}[{hypothesis.cylinder + 1}]"
    )


@dataclass(frozen=True, slots=True)
class Columns:
    """What was read, and how well.

    Args:
        column: Place of each among the model's columns, (m,). Two readings of one thing share a place.
        check: The check and state it belongs to, (m,); what is left out together when one does not belong.
        reading: The reading it came with, (m,); a catch is one reading of several columns.
        y: Values, (m,); not used where a choice stands.
        covariance: Noise of the numbers, (m, m); rows of choices are not used.
        choices: What was chosen, or None for a number, (m,).
        flat: Width of the physical range of a number, (m,), in the space of the columns.
        cylinder: From 0, -1 without, (m,).
        stray: Probability that a number has nothing to do with what was there, (m,); none: as any.
    """

    column: Indices
    check: Indices
    reading: Indices
    y: Array
    covariance: Array
    choices: tuple[ChoiceLine | None, ...]
    flat: Array
    cylinder: Indices
    stray: Array | None = None

    def __len__(self) -> int:
        return len(self.column)

    @property
    def is_choice(self) -> Flags:
        """Where a choice stands, (m,)."""
        return np.array([choice is not None for choice in self.choices], dtype=bool)

    def keep(self, rows: Flags) -> Columns:
        """Only these rows."""
        at = np.flatnonzero(rows)
        return Columns(
            column=self.column[at],
            check=self.check[at],
            reading=self.reading[at],
            y=self.y[at],
            covariance=self.covariance[np.ix_(at, at)],
            choices=tuple(self.choices[row] for row in at),
            flat=self.flat[at],
            cylinder=self.cylinder[at],
            stray=None if self.stray is None else self.stray[at],
        )

    def noisier(self, factor: float) -> Columns:
        """The same readings with all noise widened by a factor, that of choices too."""
        return replace(
            self,
            covariance=self.covariance * factor**2,
            choices=tuple(choice and choice.blurred(factor) for choice in self.choices),
        )
