"""Evidence of a miniature diagnosis against a general-purpose nested sampler: agreement, and time.

    python benchmarks/causes_miniature.py [--cases N] [--seed S]

Six hypotheses, eight spread parameters, twelve readings. Both call the same model; the sampler row by row, as
it works, ours in blocks. Times are of the processor, so that other work on the machine counts for neither.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("src", "tests")]

import causes_miniature as miniature  # noqa: E402
from causes_sampler import sampled  # noqa: E402
from evenpour.causes.evidence import by_draws  # noqa: E402
from evenpour.causes.laplace import Modes, begin, settle  # noqa: E402
from evenpour.causes.problem import Array, Indices  # noqa: E402
from evenpour.causes.proposal import proposal  # noqa: E402
from evenpour.causes.seen import Noise, noise_of  # noqa: E402
from long_run import refined  # noqa: E402

LIVE = 250  # points of the sampler where agreement is asked
ASKED = 0.1  # standard error of log evidence at which times are compared
LIVE_FOR_ASKED = 700  # points with which the sampler reaches it
TIMED = 3
SEVERE = miniature.world()
REPEATS = 5


def modes_of(noise: Noise, nodes: Indices) -> Modes:
    start = begin(SEVERE.predict, nodes, np.zeros((len(nodes), SEVERE.size)))
    return settle(noise, SEVERE.predict, nodes, start)


def agreement(cases: int, seed: int) -> Iterator[str]:
    yield f"log evidence of the true hypothesis, {cases} cars; the sampler with {LIVE} points"
    yield f"{'cause':22}{'ours':>9}{'+-':>7}{'theirs':>9}{'+-':>7}{'apart, in their +-':>20}"
    random, apart = np.random.default_rng(seed), []
    nodes = np.arange(len(SEVERE.grid))
    for case in range(cases):
        h, columns = miniature.drawn(random, SEVERE.grid)
        noise = noise_of(columns)
        ours = refined(noise, SEVERE, nodes, modes_of(noise, nodes), np.array([h]))
        theirs = sampled(noise, SEVERE.grid, h, live=LIVE, seed=seed + case)
        value, error = float(ours.log_evidence[0]), float(ours.error[0])
        apart.append((value - theirs.log_evidence) / theirs.error)
        yield (
            f"{miniature.NAMES[h]:22}{value:9.3f}{error:7.3f}{theirs.log_evidence:9.3f}"
            f"{theirs.error:7.3f}{apart[-1]:20.2f}"
        )
    worst = float(np.abs(apart).max())
    square = float(np.sqrt(np.mean(np.square(apart))))
    yield f"worst {worst:.2f}, root mean square {square:.2f} of their standard errors"
    yield "within three of them: " + ("all" if worst <= 3.0 else "NOT ALL")


def to_standard_error(noise: Noise, h: int) -> tuple[Array, float, int]:
    """Ours from nothing to the standard error asked for: log evidence and error, seconds, draws."""
    began = time.process_time()
    nodes = np.flatnonzero(SEVERE.grid.owner == h)
    sought = proposal(noise, SEVERE, nodes, modes_of(noise, nodes), np.array([h]))
    count = 64
    while True:
        value, error, _ = by_draws(sought, count=count)
        if error[0] <= ASKED:
            return np.array([value[0], error[0]]), time.process_time() - began, count
        count *= 2


def speed(seed: int) -> Iterator[str]:
    yield f"to a standard error of {ASKED} in log evidence, one hypothesis, from nothing"
    yield f"{'cause':22}{'ours, s':>10}{'draws':>8}{'theirs, s':>11}{'+-':>7}{'calls':>9}{'ratio':>9}"
    random, ratios = np.random.default_rng(seed + 1), []
    for case in range(TIMED):
        h, columns = miniature.drawn(random, SEVERE.grid)
        noise = noise_of(columns)
        runs = [to_standard_error(noise, h) for _ in range(REPEATS)]
        seconds = min(run[1] for run in runs)
        began = time.process_time()
        theirs = sampled(noise, SEVERE.grid, h, live=LIVE_FOR_ASKED, seed=seed + case)
        spent = time.process_time() - began
        # the sampler's variance falls with its points: its time to exactly the error asked for
        spent *= (theirs.error / ASKED) ** 2
        ratios.append(spent / seconds)
        yield (
            f"{miniature.NAMES[h]:22}{seconds:10.4f}{runs[0][2]:8d}{spent:11.2f}{theirs.error:7.3f}"
            f"{theirs.calls:9d}{ratios[-1]:9.0f}"
        )
    yield f"at least {min(ratios):.0f} times as fast"


def main() -> None:
    parser = argparse.ArgumentParser(description="A miniature diagnosis against a nested sampler.")
    parser.add_argument("--cases", type=int, default=20)
    parser.add_argument("--seed", type=int, default=4)
    asked = parser.parse_args()
    for lines in (agreement(asked.cases, asked.seed), speed(asked.seed)):
        print(flush=True)
        for line in lines:
            print(line, flush=True)


if __name__ == "__main__":
    main()
