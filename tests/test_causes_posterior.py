"""What a posterior must do whatever the model: on a made-up car of 98 causes, and on a miniature of six."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

import causes_miniature as miniature
import causes_world as world
from evenpour.causes.evidence import by_laplace
from evenpour.causes.fitting import Fitted, fit
from evenpour.causes.laplace import begin, settle
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Array, Columns, alone
from evenpour.causes.refine import put_right
from evenpour.causes.seen import noise_of
from evenpour.causes.severe import Severe
from evenpour.causes.slip_kinds import Slip
from evenpour.causes.unexplained import checks_of, doubts_of
from long_run import refined

COUNT = 4  # cells of the severity
SMALL = (
    "system_pressure",
    "warm_pressure",
    "delivery",
    "holding_20",
    "lines_idle",
    "injectors_full",
    "co",
    "plug",
)


@cache
def severe(spread: float = 1.0) -> Severe:
    return Severe(world.car, world.world(COUNT), world.D, spread)


def a_car(name: str, severity: float, seed: int) -> tuple[int, Array]:
    """Values of all columns of one car with this cause."""
    h = severe().grid.name.index(name)
    faults = alone(np.array([h]), np.array([severity]))
    z = np.random.default_rng(seed).standard_normal((1, world.D))
    return h, world.car(faults, z)[0]


def read(name: str, severity: float, seed: int) -> tuple[int, Columns]:
    h, values = a_car(name, severity, seed)
    return h, world.read(np.random.default_rng(seed + 1), values, SMALL)


def probability(fitted: Fitted) -> Array:
    return np.asarray(np.exp(fitted.log_posterior))


CASES = [("injector_restricted[3]", 0.7, 1), ("valve_leaks", 0.5, 2), ("leak_common", 0.8, 3)]
CLEAR = [
    ("injector_restricted[3]", 0.7, 1),
    ("pump_weak", 0.6, 2),
    ("port_rich[6]", 0.6, 3),
    ("warm_low", 0.7, 4),
]


@pytest.mark.parametrize(("name", "severity", "seed"), CLEAR)
def test_a_cause_within_reach_of_the_readings_is_named(name: str, severity: float, seed: int) -> None:
    h, columns = read(name, severity, seed)
    p = probability(fit(severe(), noise_of(columns)))
    assert p.sum() == pytest.approx(1.0)
    assert h in np.argsort(-p)[:3]
    assert p[h] > 10.0 * np.exp(severe().grid.log_prior[h])


def permuted(columns: Columns, order: Array) -> Columns:
    """The same readings on a car whose cylinders are counted otherwise: cylinder k is read as order[k]."""
    y, choices = columns.y.copy(), list(columns.choices)
    for check in checks_of(columns):
        rows = np.flatnonzero(columns.check == check)
        if len(rows) == world.CYLINDERS:
            y[rows[order]] = columns.y[rows]
            for k, row in enumerate(rows):
                choices[rows[order[k]]] = columns.choices[row]
    return replace(columns, y=y, choices=tuple(choices))


def test_counting_the_cylinders_otherwise_counts_the_causes_otherwise() -> None:
    _, columns = read("port_restricted[2]", 0.35, 5)
    order = np.array([3, 0, 5, 1, 2, 4])
    before = fit(severe(), noise_of(columns))
    after = fit(severe(), noise_of(permuted(columns, order)))
    grid = severe().grid
    for h, name in enumerate(grid.name):
        cause, _, cylinder = name.partition("[")
        other = f"{cause}[{order[int(cylinder[:-1]) - 1] + 1}]" if cylinder else name
        theirs = after.log_posterior[grid.name.index(other)]
        if max(before.log_posterior[h], theirs) > -7.0:
            assert before.log_posterior[h] == pytest.approx(theirs, abs=0.02)  # both within arrival


def test_cars_that_differ_twice_as_much_are_judged_less_surely() -> None:
    sure = {1.0: [], 2.0: []}
    for name, severity, seed in [*CASES, ("warm_low", 0.3, 4), ("opens_low[5]", 0.4, 6)]:
        h, columns = read(name, severity, seed)
        for spread, found in sure.items():
            found.append(fit(severe(spread), noise_of(columns)).log_posterior[h])
    assert np.mean(sure[2.0]) < np.mean(sure[1.0]) - 0.1


def test_noise_of_choices_and_numbers_widens_alike() -> None:
    h, columns = read("valve_leaks", 0.5, 2)
    plain, wide = (fit(severe(), noise_of(columns.noisier(factor))) for factor in (1.0, 1.6))
    assert wide.log_posterior[h] < plain.log_posterior[h]


def normalised(log_prior: Array, log_evidence: Array, some: Array) -> Array:
    weight = log_prior[some] + log_evidence
    return np.asarray(np.exp(weight - log_sum(weight)))


@pytest.mark.parametrize(("name", "severity", "seed"), CASES[1:2])
def test_first_and_refined_answers_are_near_a_long_run(name: str, severity: float, seed: int) -> None:
    _, columns = read(name, severity, seed)
    noise, grid = noise_of(columns), severe().grid
    fitted = fit(severe(), noise)
    nodes, likely = np.arange(len(grid)), np.flatnonzero(probability(fitted) > 0.02)
    first = put_right(by_laplace(grid, nodes, fitted.modes), noise, severe(), nodes, fitted.modes, likely)
    sharp, *long = (
        refined(noise, severe(), nodes, fitted.modes, likely, draws=draws, seed=seed)
        for draws, seed in ((3000, 20), (8000, 77), (8000, 78))
    )
    assert not sharp.failed.any()
    truth = [normalised(grid.log_prior, one.log_evidence, likely) for one in long]
    assert apart(truth[0], truth[1]) <= 0.02  # so their mean is within 0.01
    middle = 0.5 * (truth[0] + truth[1])
    assert apart(normalised(grid.log_prior, first.log_evidence[likely], likely), middle) <= 0.10
    assert apart(normalised(grid.log_prior, sharp.log_evidence, likely), middle) <= 0.03


def apart(p: Array, q: Array) -> float:
    """Total variation between two posteriors."""
    return float(0.5 * np.abs(p - q).sum())


def test_a_reading_in_another_unit_is_named_as_the_slip_it_is() -> None:
    _, columns = read("screw_rich", 0.4, 8)
    row = 1  # warm control pressure, in bar here
    y = columns.y.copy()
    y[row] *= 14.5038
    at = np.array([row])
    slips = (
        Slip("psi typed as bar", at, y[at] / 14.5038, math.log(0.003 * 14.5038)),
        Slip("ten times too much", at, y[at] / 10.0, math.log(0.003 * 10.0)),
    )
    slipped = replace(columns, y=y)
    grid = severe().grid
    fitted = fit(severe(), noise_of(slipped))
    rest = fit(severe(), noise_of(slipped.keep(slipped.check != slipped.check[row])))
    weight = {"as read": float(log_sum(grid.log_prior + fitted.log_evidence))}
    aside = next(one.log_flat for one in doubts_of(slipped) if row in one.rows)
    weight["aside"] = aside + float(log_sum(grid.log_prior + rest.log_evidence))
    for slip in slips:
        y[slip.rows] = slip.y
        found = fit(severe(), noise_of(replace(slipped, y=y.copy())))
        weight[slip.label] = slip.log_prior + float(log_sum(grid.log_prior + found.log_evidence))
    best = max(weight, key=lambda label: weight[label])
    assert best == "psi typed as bar"
    assert weight[best] > weight["as read"] + 5.0


def test_over_cars_from_the_prior_the_mean_posterior_is_the_prior() -> None:
    which = miniature.world()
    random = np.random.default_rng(11)
    start = None
    nodes = np.arange(len(which.grid))
    found, drawn = [], []
    for _ in range(60):
        h, columns = miniature.drawn(random, which.grid)
        noise = noise_of(columns)
        start = start or begin(which.predict, nodes, np.zeros((len(nodes), which.size)))
        modes = settle(noise, which.predict, nodes, start)
        base = by_laplace(which.grid, nodes, modes)
        right = put_right(base, noise, which, nodes, modes, np.arange(6), draws=64)
        found.append(normalised(which.grid.log_prior, right.log_evidence, np.arange(6)))
        drawn.append(h)
    prior = np.exp(which.grid.log_prior) / np.exp(which.grid.log_prior).sum()
    p = np.array(found)
    error = p.std(axis=0) / math.sqrt(len(p))
    assert np.all(np.abs(p.mean(axis=0) - prior) < 3.5 * error)
    # and what is said to be so is so: the score of the truth is what its own entropy foresees
    score = np.log(p[np.arange(len(p)), drawn])
    foreseen = (p * np.log(np.maximum(p, 1e-300))).sum(axis=1)
    assert abs(np.mean(score - foreseen)) < 3.5 * np.std(score - foreseen) / math.sqrt(len(p))
