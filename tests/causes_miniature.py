"""A miniature diagnosis, for others to check: 6 hypotheses, 8 spread parameters, 12 readings.

Bent like the real one: a leak that decays, a pump that runs out, a flow through two restrictions in series,
CO that vanishes on the lean side. Three cylinders. Two of the readings are choices.
"""

from __future__ import annotations

import numpy as np

from evenpour.causes.choice_line import ChoiceLine
from evenpour.causes.problem import (
    NONE,
    Array,
    Columns,
    Faults,
    Grid,
    Hypothesis,
    alone,
    graded,
    grid_of,
    ungraded,
)
from evenpour.causes.severe import Severe

D, READINGS = 8, 12
NAMES = ("nothing_wrong", "valve_leaks", "pump_weak", "control_low", "port_restricted", "injector_restricted")
NOISE = np.array([0.05, 0.05, 0.04, 0.06, 0.03, 0.03, 0.03, 0.04, 0.04, 0.04, 1.0, 1.0])
LINES = (ChoiceLine(cuts=(0.0,)), ChoiceLine(cuts=(-1.0, 1.0)))


def hypotheses(count: int = 8) -> tuple[Hypothesis, ...]:
    """Nothing wrong, and five causes that are less likely."""
    causes = [graded(name, name, float(np.log(0.14)), low=0.1, count=count) for name in NAMES[1:]]
    return (ungraded(NAMES[0], "none", float(np.log(0.3))), *causes)


def model(faults: Faults, z: Array) -> Array:
    """All columns, (R, 12)."""
    s = [np.where(faults.which[:, 0] == h, faults.severity[:, 0], 0.0) for h in range(len(NAMES))]
    leak = np.exp(-3.0 + 0.6 * z[:, 0] + 3.5 * s[1])
    pump = np.exp(0.1 * z[:, 1] - 1.2 * s[2])
    control = 3.6 + 0.12 * z[:, 2] - 1.0 * s[3]
    system = 4.9 + 0.1 * z[:, 3] - 0.8 * np.logaddexp(0.0, (0.62 - pump) / 0.05) * 0.05
    ports = np.exp(0.03 * z[:, 4:7] - 0.5 * s[4][:, None] * np.array([1.0, 0.0, 0.0]))
    restriction = np.exp(-1.2 + 0.3 * z[:, 7:8] + 2.5 * s[5][:, None] * np.array([0.0, 1.0, 0.0]))
    flows = ports / np.sqrt(1.0 + (0.5 * restriction * ports) ** 2)
    lam = 0.95 * np.sqrt(control[:, None] / 3.6) / flows * flows.mean(axis=1, keepdims=True)
    co = np.logaddexp(0.0, (1.0 - lam) * 40.0).mean(axis=1) / 40.0 * 18.0
    return np.column_stack(
        [
            system,
            control,
            np.log(pump),
            np.log(2.4 * np.exp(-leak * 4.0) + 0.1),
            np.log(flows),
            np.log(ports * 0.1),
            (np.log(leak) + 2.0) * 1.5,
            (co - 1.0) * 2.0,
        ]
    )


def columns_of(y: Array, chosen: tuple[int, int]) -> Columns:
    """Readings as columns; the three flows share a level."""
    covariance = np.diag(NOISE**2)
    covariance[4:7, 4:7] += 0.02**2
    choices = tuple(ChoiceLine(line.cuts, one) for line, one in zip(LINES, chosen, strict=True))
    check = np.array([0, 1, 2, 3, 4, 4, 4, 5, 5, 5, 6, 7])
    return Columns(
        column=np.arange(READINGS),
        check=check,
        reading=check.copy(),
        y=y,
        covariance=covariance,
        choices=(None,) * 10 + choices,
        flat=60.0 * NOISE,
        cylinder=np.array([NONE] * 4 + [0, 1, 2] * 2 + [NONE] * 2),
    )


def drawn(random: np.random.Generator, grid: Grid) -> tuple[int, Columns]:
    """A car from the prior with readings as modelled: its hypothesis and its columns."""
    prior = np.exp(grid.log_prior)
    h = int(random.choice(len(prior), p=prior / prior.sum()))
    own = np.flatnonzero(grid.owner == h)
    severity = random.uniform(grid.low[own].min(), grid.high[own].max())
    faults = alone(np.array([h]), np.array([severity]))
    f = model(faults, random.standard_normal((1, D)))[0]
    blank = columns_of(f, (0, 0))
    root = np.linalg.cholesky(blank.covariance[:10, :10])
    y = f.copy()
    y[:10] += root @ random.standard_normal(10)
    chosen = []
    for line, margin in zip(LINES, f[10:], strict=True):
        seen = int(np.searchsorted(line.cuts, margin + random.standard_normal()))
        stray = random.random() < line.misread
        chosen.append(int(random.integers(line.count)) if stray else seen)
    return h, columns_of(y, (chosen[0], chosen[1]))


def world(count: int = 8) -> Severe:
    return Severe(model, grid_of(hypotheses(count)), D)
