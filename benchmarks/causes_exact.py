"""How far the answers about causes are from exact: total variation to a long run on the full model.

    python benchmarks/causes_exact.py [--cars N] [--seed S]

Every car is a flat six with one fault, or none, read with 20 to 40 readings as the tool takes them. *First*
is Laplace's method on a grid of severities; *weighed* puts its likely causes right by a few hundred draws;
*refined* takes three thousand, and a cloud where they do not suffice; the *long run* is the mean of two such
runs with other draws, twice as many each. Half their distance is what the long run itself may be off by.
Causes under 0.2 per cent keep the first answer's evidence in all of them.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("src", "tests")]

from evenpour.causes.evidence import by_laplace  # noqa: E402
from evenpour.causes.explanation import Explanation, explain  # noqa: E402
from evenpour.causes.normal import log_sum  # noqa: E402
from evenpour.causes.problem import Array, Indices  # noqa: E402
from evenpour.causes.refine import put_right  # noqa: E402
from evenpour.causes.suspects import Suspect, hypotheses, suspects  # noqa: E402
from evenpour.job.engine_model import causes_of, kind_for  # noqa: E402
from long_run import Refined, refined  # noqa: E402
from simulated_cars import HOME, STANDARD, questions, read  # noqa: E402

LIKELY = 2e-3
LONG, PARTICLES, SEEDS = 6000, 2000, (77, 78)
FEWEST, MOST = 20, 40


def told(car: int, seed: int) -> tuple[Explanation, str]:
    """One car explained, and what was wrong with it."""
    kind = kind_for("flat-six")
    listed = suspects(kind, causes_of(kind))

    def weight(one: Suspect) -> float:
        assert one.cause is not None
        return one.cause.weight / (kind.design.cylinders if one.cause.per_cylinder else 1)

    random = np.random.default_rng([seed, car])
    weights = np.array([0.0] + [weight(one) for one in listed[1:]])
    fault = 0 if car % 5 == 4 else int(random.choice(len(listed), p=weights / weights.sum()))
    severity = float(random.uniform(0.1, 1.0))
    while True:
        asked = questions(kind, [check for check in STANDARD if random.random() < 0.6])
        if FEWEST <= len(asked) <= MOST:
            break
    readings = read(kind, listed, fault, severity, asked, random)
    found = explain(kind, listed, hypotheses(listed, 0.25, weight), readings, HOME)
    one = listed[fault]
    where = "" if one.cylinder is None else f"[{one.cylinder}]"
    return found, f"{one.id}{where} {severity:.2f}" if fault else one.id


def posterior(found: Explanation, log_evidence: Array) -> Array:
    weight = found.fitted.grid.log_prior + log_evidence
    return np.asarray(np.exp(weight - log_sum(weight)))


def apart(p: Array, q: Array) -> float:
    return float(0.5 * np.abs(p - q).sum())


def sharpened(found: Explanation, likely: Indices, **how: int) -> Refined:
    nodes = np.arange(len(found.fitted.grid))
    return refined(found.noise, found.severe, nodes, found.fitted.modes, likely, **how)


def one_car(car: int, seed: int) -> tuple[str, list[float]]:
    began = time.process_time()
    found, wrong = told(car, seed)
    spent = [time.process_time() - began]
    grid, modes = found.fitted.grid, found.fitted.modes
    nodes = np.arange(len(grid))
    base = by_laplace(grid, nodes, modes)
    first = posterior(found, base.log_evidence)
    likely = np.flatnonzero(first > LIKELY)
    began = time.process_time()
    few = put_right(base, found.noise, found.severe, nodes, modes, likely)
    weighed = base.log_evidence.copy()
    weighed[likely] = few.log_evidence[likely]
    spent.append(time.process_time() - began)
    began = time.process_time()
    sharp = sharpened(found, likely)
    spent.append(time.process_time() - began)
    runs = [sharpened(found, likely, draws=LONG, particles=PARTICLES, seed=one) for one in SEEDS]
    long = [posterior(found, run.into(base).log_evidence) for run in runs]
    truth = 0.5 * (long[0] + long[1])
    off = [
        apart(first, truth),
        apart(posterior(found, weighed), truth),
        apart(posterior(found, sharp.into(base).log_evidence), truth),
        0.5 * apart(long[0], long[1]),
    ]
    failed = sum(int(run.failed.sum()) for run in runs)
    line = f"{wrong:34}{len(found.seen.columns):5d}{len(likely):7d}" + "".join(f"{x:10.3f}" for x in off)
    line += "".join(f"{x:9.2f}" for x in spent) + f"{failed:9d}"
    return line, off


def lines(cars: int, seed: int, only: int | None) -> Iterator[str]:
    names = ("first", "weighed", "refined", "long run")
    times = ("s first", "weighed", "refined", "failed")
    head = f"{'what is wrong':34}{'read':>5}{'likely':>7}"
    yield head + "".join(f"{name:>10}" for name in names) + "".join(f"{name:>9}" for name in times)
    found = []
    for car in range(cars) if only is None else [only]:
        line, off = one_car(car, seed)
        found.append(off)
        yield line
    middle, worst = np.median(found, axis=0), np.max(found, axis=0)
    yield f"{'median':46}" + "".join(f"{x:10.3f}" for x in middle)
    yield f"{'worst':46}" + "".join(f"{x:10.3f}" for x in worst)


def main() -> None:
    parser = argparse.ArgumentParser(description="Answers about causes against a long run on the full model.")
    parser.add_argument("--cars", type=int, default=10)
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--only", type=int, help="one of the cars, by number")
    asked = parser.parse_args()
    for line in lines(asked.cars, asked.seed, asked.only):
        print(line, flush=True)


if __name__ == "__main__":
    main()
