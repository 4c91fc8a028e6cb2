"""How many healthy cars meet all limits of their sheet together, and how much of each limit they use.

    python benchmarks/healthy.py [--cars N] [--seed S] [--sheet NAME] [--limits N]

Cars drawn from the spread of their kind, screws set right, read without error in every circumstance a limit
holds in. *used* is the share of the way from the middle of a limit to its nearer side; of a choice, one
over one and the distance to the next word.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("src", "tests")]

from machine_world import SHEETS, Held, drawn_cars, kind, limits_held, seen, shipped_sheet  # noqa: E402

BLOCK = 2000
ASKED = 0.97  # of the draws, what the design asks for


def held(sheet: str, cars: int, seed: int) -> list[Held]:
    """Every limit of a sheet over many cars, block by block."""
    of, blocks = kind(sheet), []
    for number, first in enumerate(range(0, cars, BLOCK)):
        some = drawn_cars(of, min(BLOCK, cars - first), seed=seed * 1000 + number)
        blocks.append(list(limits_held(seen(of, some), shipped_sheet(sheet))))
    return [
        Held(one[0].label, np.concatenate([x.met for x in one]), np.concatenate([x.used for x in one]))
        for one in zip(*blocks, strict=True)
    ]


def told(sheet: str, cars: int, seed: int, limits: int) -> Iterator[str]:
    """A sheet's line, then those of its tightest limits."""
    started = time.perf_counter()
    all_ = held(sheet, cars, seed)
    took = time.perf_counter() - started
    together = np.all([one.met for one in all_], axis=0).mean()
    most = np.max([one.used for one in all_], axis=0)
    used = " ".join(f"{np.quantile(most, share):9.2f}" for share in (0.5, 0.9, 0.97))
    few = "" if together >= ASKED else "   TOO FEW"
    yield f"{sheet:20}{together:9.4f}{used}{len(all_):9}{took:8.1f} s{few}"
    for one in sorted(all_, key=lambda one: (one.met.mean(), -np.quantile(one.used, 0.97)))[:limits]:
        share = f"{one.met.mean():9.4f}{np.median(one.used):9.2f}{np.quantile(one.used, 0.97):20.2f}"
        yield f"{'':20}{share}   {one.label}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cars", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sheet", choices=SHEETS, action="append")
    parser.add_argument("--limits", type=int, default=3, help="how many of the tightest limits to name")
    asked = parser.parse_args()
    print(f"{asked.cars} cars of each sheet, seed {asked.seed}")
    print(f"{'':20}{'meet all':>9}{'used: half':>10}{'90 %':>10}{'97 %':>10}{'limits':>8}{'took':>10}")
    for sheet in asked.sheet or SHEETS:
        for line in told(sheet, asked.cars, asked.seed, asked.limits):
            print(line, flush=True)


if __name__ == "__main__":
    main()
