"""Several causes that may be at work at once, worth a fit: what they are, how common, and where to begin."""

from __future__ import annotations

from dataclasses import dataclass

PAIR = 2  # of one cause, as many cylinders each go their own way and are told one by one; more go together


@dataclass(frozen=True, slots=True)
class Tried:
    """Several hypotheses that may be true at once, worth a fit.

    Attributes:
        which: By number.
        log_prior: Log prior of all of them at once, on the scale of the single ones'.
        cells: Cells of their severities, each a pair of ends for each of *which*.
        start: Severities to begin with, in every cell, on the middle car; None: in the middle, on the car
            as one of them alone has it.
        alike: Of each cell, how far each severity goes together with the others that do, as a correlation; 0
            of one that goes by itself, as all do where nothing is said.
        hidden_by: Checks that speak against it alone: without one of them it would be among the likeliest.
        fewer: Those of them that explain as much where the rest of them shows nothing: one hypothesis, or a
            set.
    """

    which: tuple[int, ...]
    log_prior: float
    cells: tuple[tuple[tuple[float, float], ...], ...]
    start: tuple[float, ...] | None = None
    alike: tuple[tuple[float, ...], ...] = ()
    hidden_by: frozenset[int] = frozenset()
    fewer: tuple[tuple[int, ...], ...] = ()
