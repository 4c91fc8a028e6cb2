"""How often what a trace tells is true: invented leaks, warm-ups and drives with known answers.

    python benchmarks/trace_fits.py [--runs N] [--seed S] [--kind holding|warm_up|running]

Each figure is stated with its own 95 %; counted is how often the truth lies in them. The law itself is drawn
too, and where the trace does not choose between laws the figure is averaged over them, so a wrong choice
counts as a miss. The probability stated for the likeliest law is held against how often it is the right one.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("src", "tests")]

from trace_world import KINDS, Outcome, tried  # noqa: E402

LOW, HIGH = 0.93, 0.97  # what the share that holds the truth should lie between


def told(kind: str, runs: int, seed: int) -> Iterator[str]:
    """One line for each figure."""
    random = np.random.default_rng(seed)
    began = time.process_time()
    outcomes = [tried(kind, random) for _ in range(runs)]
    spent = (time.process_time() - began) / runs
    yield f"{kind}, {runs} runs, seed {seed}: {spent:.2f} s of one core a run, simulation included"
    for name in outcomes[0].held:
        yield f"  {name:16}" + _shares(outcomes, name)
    laws = [one for one in outcomes if one.stated is not None]
    if laws:
        right = np.mean([one.right for one in laws])
        stated = np.mean([one.stated for one in laws])
        yield f"  likeliest law    right in {right:.3f}, stated {stated:.3f}"


def _shares(outcomes: list[Outcome], name: str) -> str:
    every = np.mean([one.held[name] for one in outcomes])
    chance = 2.0 * np.sqrt(0.95 * 0.05 / len(outcomes))
    parts = []
    for label, stepped in (("fine gauge", False), ("coarse gauge", True)):
        some = [one.held[name] for one in outcomes if one.stepped is stepped]
        parts += [f"{label} {np.mean(some):.3f} of {len(some)}"] if some else []
    verdict = "within" if LOW <= every <= HIGH else "OUTSIDE"
    beside = f"   ({', '.join(parts)})" if len(parts) > 1 else ""
    return f"{every:.3f} hold the truth (chance alone: +/- {chance:.3f})  {verdict}{beside}"


def main() -> None:
    """Print every kind."""
    parser = argparse.ArgumentParser(description="Invented traces: how often the stated 95 % hold the truth.")
    parser.add_argument("--runs", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--kind", choices=KINDS, action="append")
    asked = parser.parse_args()
    for kind in asked.kind or KINDS:
        for line in told(kind, asked.runs, asked.seed):
            print(line, flush=True)


if __name__ == "__main__":
    main()
