"""How often the right cause is named, and how sure the tool may be: cars made up with known faults.

    python benchmarks/causes.py [--cars N] [--seed S] [--sheet NAME]

Every car has one fault drawn by how common it is, or none (every third), at a severity drawn evenly, and is
read as a workshop would, each usual check with probability 0.8. *As modelled* the readings come from the
very model; each *mismatch* makes them from another car: spread with heavy tails, another law of the leaks,
other constants of the engine, more noise than stated. The two widening factors of the tool were taken from
methods that were measured elsewhere and not tuned on any of these. A fault is *identifiable* where readings
from the very model, explained by it without widening, put it first at odds of 3 to 1.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("src", "tests")]

from evenpour.causes.explanation import Explanation, explain  # noqa: E402
from evenpour.causes.suspects import Suspect, hypotheses, suspects  # noqa: E402
from evenpour.job.engine_model import causes_of, kind_for  # noqa: E402
from evenpour.machine.kind import Kind  # noqa: E402
from simulated_cars import HOME, STANDARD, Mismatch, questions, read  # noqa: E402

KINDS = {
    "as modelled": Mismatch(),
    "spread 1.3 times, t6 tails": Mismatch(spread=1.3, tails=6.0),
    "noise 1.4 times": Mismatch(noise=1.4),
    "leaks go with pressure, engine's constants off by 6 %": Mismatch(constants=0.06, leak_law=1.0),
    "all of these": Mismatch(spread=1.3, tails=6.0, noise=1.4, constants=0.06, leak_law=1.0),
}


@dataclass(frozen=True, slots=True)
class Case:
    """One car: what was wrong, and what was said."""

    fault: int
    probability: np.ndarray
    identifiable: bool
    seconds: float

    @property
    def rank(self) -> int:
        """Place of the truth among all hypotheses, from 1."""
        return int((self.probability > self.probability[self.fault]).sum()) + 1

    @property
    def rank_among_causes(self) -> int:
        """Place of the true cause among the causes alone."""
        return int((self.probability[1:] > self.probability[self.fault]).sum()) + 1


def weight_of(kind: Kind, one: Suspect) -> float:
    assert one.cause is not None
    return one.cause.weight / (kind.design.cylinders if one.cause.per_cylinder else 1)


def cases(kind: Kind, mismatch: Mismatch, cars: int, seed: int) -> Iterator[Case]:
    listed = suspects(kind, causes_of(kind))
    guesses = hypotheses(listed, 0.25, lambda one: weight_of(kind, one))
    weights = np.array([0.0] + [weight_of(kind, one) for one in listed[1:]])
    random = np.random.default_rng(seed)
    for car in range(cars):
        fault = 0 if car % 3 == 0 else int(random.choice(len(listed), p=weights / weights.sum()))
        severity = float(random.uniform())
        asked = questions(kind, [check for check in STANDARD if random.random() < 0.8])
        own = int(random.integers(1 << 31))

        def told(how: Mismatch, *, spread: float = 1.4, noise: float = 1.3) -> Explanation:
            readings = read(kind, listed, fault, severity, asked, np.random.default_rng(own), how)  # noqa: B023
            return explain(kind, listed, guesses, readings, HOME, spread=spread, noise=noise)

        began = time.perf_counter()
        found = told(mismatch).probability
        seconds = time.perf_counter() - began
        plain = told(Mismatch(), spread=1.0, noise=1.0).probability
        others = np.delete(plain, fault)
        yield Case(fault, found, bool(plain[fault] > 3.0 * others.max()), seconds)


def row(name: str, found: list[Case]) -> Iterator[str]:
    faulty = [case for case in found if case.fault]
    sound = [case for case in found if not case.fault]
    clear = [case for case in faulty if case.identifiable]
    first = np.array([case.probability.max() for case in found])
    right = np.array([case.rank == 1 for case in found])
    log_score = np.mean([-np.log(max(float(case.probability[case.fault]), 1e-12)) for case in found])
    yield f"{name} ({len(found)} cars, {len(clear)} identifiable of {len(faulty)} faults)"
    yield (
        f"   all faults: first {share(faulty, 1)}, in the first three {share(faulty, 3)}; "
        f"identifiable: first {share(clear, 1)}, in the first three {share(clear, 3)}"
    )
    blamed = np.mean([case.probability[1:].max() > 0.5 for case in sound]) if sound else 0.0
    yield f"   sound cars blamed above 0.5: {blamed:.3f}; log score {log_score:.2f}"
    gap, chance = calibration(first, right), chance_gap(first)
    yield f"   calibration error {gap:.3f}; a perfect teller scores {chance:.3f} by chance on as many cars"
    yield f"   median {np.median([case.seconds for case in found]):.2f} s a car"


def share(found: list[Case], most: int) -> str:
    if not found:
        return "-"
    return f"{np.mean([case.rank_among_causes <= most for case in found]):.3f}"


def calibration(stated: np.ndarray, right: np.ndarray) -> float:
    """Mean distance between what was stated and how often it was right, in ten equal bins of what was
    stated.
    """
    order = np.argsort(stated)
    bins = np.array_split(order, 10)
    return float(
        sum(len(one) * abs(stated[one].mean() - right[one].mean()) for one in bins if len(one)) / len(stated)
    )


def chance_gap(stated: np.ndarray) -> float:
    """The same for a teller whose statements are exactly right, by simulation."""
    random = np.random.default_rng(1)
    return float(np.mean([calibration(stated, random.random(len(stated)) < stated) for _ in range(200)]))


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cars", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sheet", default="flat-six")
    chosen = parser.parse_args()
    kind = kind_for(chosen.sheet)
    for name, mismatch in KINDS.items():
        for line in row(name, list(cases(kind, mismatch, chosen.cars, chosen.seed))):
            print(line, flush=True)


if __name__ == "__main__":
    main()
