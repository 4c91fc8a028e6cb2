"""A tenth of the benchmark of the causes: forty cars of all kinds of mismatch, twenty sound ones, one search.

Cars are told by single causes alone, as the searches are: two at once, slips and odd values, which the
benchmark weighs in as an answer to a job does, take as long again. One search for six: each takes a minute.

The cars are the benchmark's own, by its numbers. What forty can carry is asked, no more: each bound is one
that a tool exactly as good as was asked for breaks once in a thousand draws of as many cars. On these cars
an older engine stated the truth at 2.2 nat above its prior, its first named was off by 0.16 in ten bins of
four (a perfect teller's by chance: up to 0.3), and it blamed none of the 28 sound ones. Shown by hand to
bite, on another older one:

- told with noise at 0.3 of what it is, an engine that takes every reading too literally, 1.3 nat below the
  prior, off by 0.39, and 10 of 28 sound cars blamed: three of the four tests fail;
- told by the priors alone, an engine that reads nothing, 0.02 nat below them, and 7 of 10 identifiable faults
  not among the first three: two of the four fail.
"""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from shared_rows import Row, folder_of_run, rows_of

BENCHMARKS = Path(__file__).parents[1] / "benchmarks"
sys.path.append(str(BENCHMARKS / "common"))

from cause_cars import KINDS, Car, World, car, identifiable, world_of  # noqa: E402
from cause_orders import orders  # noqa: E402

spec = importlib.util.spec_from_file_location("causes_benchmark", BENCHMARKS / "causes.py")
assert spec is not None
assert spec.loader is not None
benchmark = importlib.util.module_from_spec(spec)
spec.loader.exec_module(benchmark)

CARS = range(40)
#: Half of them as modelled, half of the kinds of mismatch in turn.
SOUND = (*range(10), *range(20, 30))
SEARCH = 2
RARE = 1e-3  # chance with which a tool just as good as asked for fails a test
#: Of the cars with a fault, in the benchmark, the share whose fault the very model that made the readings
#: puts first at odds of 3 to 1.
IDENTIFIABLE = 0.32


@cache
def world() -> World:
    return world_of("flat-six")


def kind_of(number: int) -> str:
    names = list(KINDS)
    return names[(number // benchmark.PIECES + number) % len(names)]


def kind_of_sound(number: int) -> str:
    names = list(KINDS)
    return names[0] if number < benchmark.PIECES else names[1 + number % (len(names) - 1)]


def the_car(number: int) -> Car:
    return car(world(), (benchmark.SEED, 1, number))


def row_of(one: Car, kind: str) -> Row:
    p = world().explained(one.readings(world(), KINDS[kind])).probability
    rank = int((p[1:] > p[one.fault]).sum()) + 1
    return {
        "fault": one.fault,
        "stated": float(p.max()),
        "right": int(np.argmax(p)) == one.fault,
        "truth": float(p[one.fault]),
        "missed": one.fault > 0 and rank > 3 and identifiable(world(), one),  # judged where it matters only
        "blamed": float(p[1:].max()),
    }


def work() -> dict[str, Callable[[], Row]]:
    cars = {f"car-{n}": lambda n=n: row_of(the_car(n), kind_of(n)) for n in CARS}
    sound = {
        f"sound-{n}": lambda n=n: row_of(car(world(), (benchmark.SEED, 2, n), sound=True), kind_of_sound(n))
        for n in SOUND
    }
    return {**cars, **sound, "search": searched}


def searched() -> Row:
    """The first car of the benchmark's searches that all checks together settle."""
    row = orders(world(), (benchmark.SEED, 3, SEARCH), kind_of(SEARCH))
    assert row is not None
    return row


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Row]:
    return rows_of(folder_of_run(tmp_path_factory, "simulated-cars"), work())


def of_cars(rows: dict[str, Row]) -> list[Row]:
    return [rows[f"car-{n}"] for n in CARS]


def test_identifiable_faults_are_among_the_first_three(rows: dict[str, Row]) -> None:
    """Asked for: 95 % of them. The priors alone fail it."""
    told = of_cars(rows)
    count = round(IDENTIFIABLE * sum(row["fault"] > 0 for row in told))
    missed = [n for n, row in zip(CARS, told, strict=True) if row["missed"]]
    assert len(missed) <= stats.binom.isf(RARE, count, 0.05), missed


def test_what_is_read_tells_more_of_the_truth_than_the_priors(rows: dict[str, Row]) -> None:
    """The log of what was stated for the truth, less that of its prior: the mean of forty above nothing by
    Student's t at 1 in 1000, as no teller of priors, nor a worse one, has it but by that chance.

    Noise at 0.3 fails it (it states next to nothing for some truths), and so do the priors.
    """
    prior = np.array([one.log_prior for one in world().guesses])
    told = of_cars(rows)
    gained = np.array([np.log(max(row["truth"], 1e-12)) - prior[row["fault"]] for row in told])
    at_most = stats.t.isf(RARE, len(gained) - 1) * gained.std(ddof=1) / np.sqrt(len(gained))
    assert gained.mean() > at_most


def test_what_is_stated_of_the_first_named_is_how_often_it_is_right(rows: dict[str, Row]) -> None:
    """Asked for: 0.05 over what a perfect teller scores by chance, who on forty cars scores much.

    Noise at 0.3 fails it; the priors, which are what the cars are drawn by, are calibrated and pass.
    """
    told = of_cars(rows)
    stated, right = (np.array([row[name] for row in told]) for name in ("stated", "right"))
    random = np.random.default_rng(1)
    chance = [benchmark.calibration(stated, random.random(len(stated)) < stated) for _ in range(4000)]
    assert benchmark.calibration(stated, right) <= 0.05 + np.quantile(chance, 1.0 - RARE)


def test_sound_cars_are_not_blamed_more_often_than_was_allowed(rows: dict[str, Row]) -> None:
    """Allowed: a cause above 0.5 in 5 % as modelled, in 10 % with mismatch. Noise at 0.3 fails it."""
    sound = [(rows[f"sound-{n}"], kind_of_sound(n)) for n in SOUND]
    sound += [(row, kind_of(n)) for n, row in zip(CARS, of_cars(rows), strict=True) if row["fault"] == 0]
    chance = np.ones(1)  # of so many cars blamed, were it just what is allowed
    for _, kind in sound:
        share = 0.05 if kind == "as modelled" else 0.10
        chance = np.convolve(chance, [1.0 - share, share])
    beyond = np.cumsum(chance[::-1])[::-1]  # that so many or more are
    blamed = sum(row["blamed"] > 0.5 for row, _ in sound)
    assert beyond[blamed] > RARE, f"{blamed} of {len(sound)}"


def test_a_search_takes_at_most_half_the_checks_of_a_fixed_order(rows: dict[str, Row]) -> None:
    """Asked for of sixty on average; what it chose on this one took 4 checks, a handbook's order 10."""
    row = rows["search"]
    assert 2 * row["tool_checks"] <= row["handbook_checks"]
    assert row["tool_minutes"] < min(row["handbook_minutes"], row["chance_minutes"])
