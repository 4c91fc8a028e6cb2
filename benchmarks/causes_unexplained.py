"""Whether "no cause I know" is said of cars whose fault is in no catalogue, and only of them.

    python benchmarks/causes_unexplained.py [--folder DIR] [--each 6] [--seed S]
    python benchmarks/causes_unexplained.py --folder DIR --report

Twenty causes in turn, each at severities drawn evenly; a car's usual checks are read with probability 0.8, as
the very model has them. Every car is explained twice: with all causes known (*inside*), and with its own
left out of the suspects at all cylinders (*outside*), all else alike. What is looked at is the probability
stated that something is not known: a fault that is in no catalogue, or else some check that does not belong,
as *unexplained* where nothing is wrong, as a clash beside a cause. Two causes at once and slips are weighed
in, as in the answer to a job.

A fault is *seen* where the readings, explained with all causes known, put "nothing wrong" under 0.1: of what
cannot be seen nobody can say that it is not known. It takes about ten minutes of processor; every car is kept
in the folder, and is not made again.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent / "src"), str(HERE.parent / "tests"), str(HERE / "common")]

from cause_cars import READ, Car, World, answered, world_of  # noqa: E402
from pieces import folder_for  # noqa: E402

from evenpour.causes.explanation import Explanation  # noqa: E402
from evenpour.causes.unexplained import STRAY  # noqa: E402
from evenpour.job.causes.prior import shipped_prior  # noqa: E402
from simulated_cars import STANDARD, Mismatch, questions  # noqa: E402

CAUSES = (
    "pump_weak", "filter_restricted", "system_pressure_low", "system_pressure_high",
    "non_return_valve_leaks", "accumulator_failed", "control_cold_low", "control_warm_low",
    "control_heater_dead", "control_inlet_restricted", "plunger_sticks", "plate_rest_wrong",
    "mixture_screw_rich", "port_restricted", "injector_restricted", "injector_opens_low",
    "air_leak_common", "timing_late", "spark_missing", "exhaust_leak",
)  # fmt: skip
SEEN = 0.1  # probability of "nothing wrong" under which a fault is seen
EDGES = (0.0, 0.02, 0.05, 0.1, 0.2, 0.5, 0.8, 1.0)

Row = dict[str, Any]


def world_without(whole: World, cause: str) -> World:
    """The same kind of engine with a cause that nobody thought of."""
    kept = [h for h, one in enumerate(whole.listed) if one.id != cause]
    guesses = [whole.guesses[h] for h in kept]
    return World(whole.kind, tuple(whole.listed[h] for h in kept), tuple(guesses))


def car_with(world: World, cause: str, key: Sequence[int]) -> Car:
    random = np.random.default_rng([*key, CAUSES.index(cause)])
    places = [h for h, one in enumerate(world.listed) if one.id == cause]
    asked = questions(world.kind, [check for check in STANDARD if random.random() < READ])
    fault = int(random.choice(places))
    return Car(fault, float(random.uniform(0.0, 1.0)), tuple(asked), int(random.integers(1 << 31)))


def stated(told: Explanation) -> Row:
    """What is said of a car: that something is not known, of that with nothing else wrong, and the rest."""
    said = answered(told)
    p, named = said.probability, told.suspects[int(np.argmax(said.probability))]
    return {
        "strange": said.strange,
        "astray": said.strange + (1.0 - said.strange) * said.astray,
        "unexplained": said.unexplained,
        "nothing": float(p[0]),
        "blamed": float(p[1:].max()),
        "named": named.id,
        "checks": len(told.checks),
    }


def row_of(world: World, cause: str, key: Sequence[int]) -> Row:
    one = car_with(world, cause, key)
    readings = one.readings(world, Mismatch())
    return {
        "cause": cause,
        "severity": one.severity,
        "inside": stated(world.explained(readings)),
        "outside": stated(world_without(world, cause).explained(readings)),
    }


def report(rows: Sequence[Row]) -> Iterator[str]:
    """What the cars kept say."""
    if not rows:
        return
    clear = [row for row in rows if row["inside"]["nothing"] < SEEN]
    yield from _of("all faults", rows)
    yield from _of("faults that are seen", clear)
    yield "by cause, of those seen: cars, astray stated outside at the median; named instead, blamed at"
    for cause in CAUSES:
        own = [row["outside"] for row in clear if row["cause"] == cause]
        if own:
            names = ", ".join(f"{one['named']} {one['blamed']:.2f}" for one in own)
            yield f"   {cause:26} {len(own)}  {np.median([one['astray'] for one in own]):.2f}  {names}"


def _of(name: str, rows: Sequence[Row]) -> Iterator[str]:
    if not rows:
        return
    inside, outside = (np.array([row[side]["astray"] for row in rows]) for side in ("inside", "outside"))
    yield f"{name}: {len(rows)} cars, each with its cause known (inside) and left out (outside)"
    ranked = (outside[:, None] > inside[None, :]).mean() + 0.5 * (outside[:, None] == inside[None, :]).mean()
    yield (
        f"   outside is stated higher than inside in {ranked:.2f} of pairs of any two cars (chance 0.50), "
        f"in {np.mean(outside > inside):.2f} on the same car"
    )
    yield f"   above 0.5: outside {np.mean(outside > 0.5):.2f}, inside {np.mean(inside > 0.5):.2f}"
    for side in ("inside", "outside"):
        told = [row[side] for row in rows]
        yield (
            f"   {side}: unexplained above 0.5 {_share(told, 'unexplained')}, nothing wrong above 0.5 "
            f"{_share(told, 'nothing')}, a cause above 0.5 {_share(told, 'blamed')}"
        )
    # what the tool itself takes for likely before anything is read: a strange fault, or a check astray
    astray = STRAY * float(np.mean([row["inside"]["checks"] for row in rows]))
    share = shipped_prior().not_known + astray / (1.0 + astray)
    yield f"   stated, cars inside and outside, outside where {share:.2f} of cars are, as the tool believes:"
    places = np.digitize([inside, outside], EDGES[1:-1])
    for place, (low, high) in enumerate(pairwise(EDGES)):
        known, strange = ((places[side] == place).sum() for side in (0, 1))
        if known + strange:
            right = share * strange / (share * strange + (1.0 - share) * known)
            yield f"      {low:.2f} to {high:.2f}: {known:3} {strange:3}  {right:.2f}"


def _share(told: Sequence[Row], what: str) -> str:
    return f"{np.mean([one[what] > 0.5 for one in told]):.2f}"


def kept(folder: Path) -> list[Row]:
    return [json.loads(file.read_text()) for file in sorted(folder.glob("*.json"))]


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--folder", type=Path, default=None, help="where the cars are kept")
    parser.add_argument("--report", action="store_true", help="only say what the cars kept say")
    parser.add_argument("--each", type=int, default=6, help="cars of each cause")
    parser.add_argument("--seed", type=int, default=8)
    parser.add_argument("--sheet", default="flat-six")
    chosen = parser.parse_args()
    folder = folder_for("unexplained", chosen.folder)
    if not chosen.report:
        world = world_of(chosen.sheet)
        for number in range(chosen.each):
            for cause in CAUSES:
                file = folder / f"{number:02}-{cause}.json"
                if not file.exists():
                    row = row_of(world, cause, (chosen.seed, number))
                    file.write_text(json.dumps(row))
                    print(json.dumps(row), file=sys.stderr, flush=True)
    for line in report(kept(folder)):
        print(line)


if __name__ == "__main__":
    main()
