"""Whether it pays to look two checks ahead: checks and minutes until the right repair leads at 0.8.

    python benchmarks/causes_two_steps.py [--folder DIR] [--cases 30] [--from FIRST] [--seed S]
    python benchmarks/causes_two_steps.py --folder DIR --report

On every simulated car two searches start from nothing. *Greedy* does the check that tells most a minute of
what has to be done; *two steps* tries the ten best with five outcomes each, and judges each by what it tells
with the best check after it, for the minutes of both. Either reads a check at all its cylinders and usual
states. The cars are such that all checks together settle them.

It takes long: every car that was tried is kept in the folder, and is not tried again.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent / "src"), str(HERE.parent / "tests"), str(HERE / "common")]

from cause_cars import World, car, with_questions, world_of  # noqa: E402
from cause_orders import SURE, Action, actions_of  # noqa: E402
from look_ahead import FIRST, Foreseen, Option, foresee_checks, gain, rates, two_steps  # noqa: E402
from pieces import folder_for  # noqa: E402

from evenpour.causes.choice_line import ChoiceLine  # noqa: E402
from evenpour.causes.explanation import Explanation  # noqa: E402
from evenpour.causes.next_test import Candidate  # noqa: E402
from evenpour.causes.observed import Observation  # noqa: E402
from evenpour.job.engine_model import checks_predicted  # noqa: E402
from evenpour.machine.checks import ChoiceCheck  # noqa: E402
from evenpour.machine.readout import Query  # noqa: E402
from simulated_cars import INSTRUMENT, Mismatch  # noqa: E402

MOST = 10  # checks, after which a search is given up
TRIED = 14  # options that a second check is chosen among


@dataclass(frozen=True, slots=True)
class Search:
    """What one way took on one car."""

    checks: int
    minutes: float
    settled: bool
    done: list[str]


@dataclass(frozen=True, slots=True)
class Case:
    """A car that all checks together settle, and both ways on it."""

    cause: str
    severity: float
    greedy: Search
    ahead: Search


def options_of(
    told: Explanation, asked: Sequence[Query], left: Sequence[Action]
) -> tuple[Foreseen, list[Option]]:
    """What could be read next, each action as one option; a choice stands at its most telling cylinder."""
    known = checks_predicted()
    runs = [(action, run) for action in left for run in runs_of(action, asked)]
    candidates = []
    for action, run in runs:
        check = known[action.check]
        u, relative = INSTRUMENT.get(action.check, 0.02), action.check not in INSTRUMENT
        candidates.append(Candidate(tuple((check, asked[row]) for row in run), u, 1.0, relative))
    now = foresee_checks(told, candidates)
    place = {row: number for number, row in enumerate(row for _, run in runs for row in run)}
    found = []
    for action in left:
        columns = np.array([place[row] for row in action.rows])
        check = known[action.check]
        if isinstance(check, ChoiceCheck):
            line = ChoiceLine(check.cuts, misread=check.misread)
            each = [Option(columns[[one]], action.minutes, line) for one in range(len(columns))]
            found.append(max(each, key=lambda one: gain(now, one)))
        else:
            found.append(Option(columns, action.minutes))
    return now, found


def runs_of(action: Action, asked: Sequence[Query]) -> list[tuple[int, ...]]:
    """Rows read at once: the ports of one catch; else each for itself."""
    if action.check != "catch":
        return [(row,) for row in action.rows]
    found: dict[object, list[int]] = {}
    for row in action.rows:
        found.setdefault(asked[row].situation, []).append(row)
    return [tuple(run) for run in found.values()]


def searched(world: World, readings: Sequence[Observation], actions: Sequence[Action], asked: Sequence[Query],
             same: np.ndarray, ahead: bool) -> Search:  # fmt: skip
    done: list[Action] = []
    while True:
        rows = sorted(row for action in done for row in action.rows)
        told = world.explained([readings[row] for row in rows])
        settled = bool(told.probability[same].sum() >= SURE)
        if settled or len(done) == MOST:
            return Search(len(done), sum(one.minutes for one in done), settled, [one.check for one in done])
        left = [action for action in actions if action not in done]
        now, options = options_of(told, asked, left)
        rate = rates(now, options)
        best = np.argsort(-rate)[:TRIED]
        chosen = best[0]
        if ahead:
            chosen = best[two_steps(now, [options[number] for number in best], first=FIRST)]
        done.append(left[int(chosen)])


def tried(world: World, number: int, seed: int) -> Case | None:
    """Both ways on one car; None where all checks together do not settle it."""
    remedies = np.array(world.remedies())
    asked, actions = actions_of(world)
    one = with_questions(car(world, (seed, 5, number), sound=False, least=0.3), asked)
    readings = one.readings(world, Mismatch())
    same = remedies == remedies[one.fault]
    if world.explained(readings).probability[same].sum() < SURE:
        return None
    greedy, ahead = (searched(world, readings, actions, asked, same, way) for way in (False, True))
    return Case(world.listed[one.fault].id, one.severity, greedy, ahead)


def cases(folder: Path, first: int, count: int, seed: int) -> None:
    """Try cars from number *first* on until *count* of those in the folder are settled by all checks."""
    world, number = world_of("flat-six"), first
    while len(kept(folder)) < count:
        file = folder / f"car-{number:03}.json"
        if not file.exists():
            case = tried(world, number, seed)
            file.write_text(json.dumps(None if case is None else asdict(case)))
            if case is not None:
                print(line_of(case), file=sys.stderr, flush=True)
        number += 1


def kept(folder: Path) -> list[Case]:
    """The cases of a folder, by the numbers of their cars."""
    found = [json.loads(file.read_text()) for file in sorted(folder.glob("car-*.json"))]
    return [
        Case(one["cause"], one["severity"], Search(**one["greedy"]), Search(**one["ahead"]))
        for one in found
        if one is not None
    ]


def line_of(case: Case) -> str:
    plain, ahead = case.greedy, case.ahead
    differ = "" if plain.done == ahead.done else f"  {' '.join(plain.done)} | {' '.join(ahead.done)}"
    return (
        f"{case.cause:28}{case.severity:9.2f}{plain.checks:8d}{plain.minutes:7.0f}{ahead.checks:7d}"
        f"{ahead.minutes:7.0f}{'' if plain.settled and ahead.settled else ' given up'}{differ}"
    )


def report(found: Sequence[Case]) -> Iterator[str]:
    """What the cases say."""
    head = f"{'cause':28}{'severity':>9}{'greedy':>8}{'min':>7}{'ahead':>7}{'min':>7}"
    yield f"{head}  checks, where they differ"
    yield from map(line_of, found)
    if not found:
        return
    both = [one for one in found if one.greedy.settled and one.ahead.settled]
    for name, some in (("cases", found), ("that both ways settled", both)):
        if some:
            mean = np.mean([
                (one.greedy.checks, one.greedy.minutes, one.greedy.settled,
                 one.ahead.checks, one.ahead.minutes, one.ahead.settled) for one in some
            ], axis=0)  # fmt: skip
            yield (
                f"{len(some)} {name}: greedy {mean[0]:.2f} checks, {mean[1]:.1f} min, settled {mean[2]:.2f}; "
                f"two steps {mean[3]:.2f} checks, {mean[4]:.1f} min, settled {mean[5]:.2f}"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description="Greedy against two checks ahead, on simulated cars.")
    parser.add_argument("--folder", type=Path, default=None, help="where the cars are kept")
    parser.add_argument("--report", action="store_true", help="only say what the cars kept say")
    parser.add_argument("--cases", type=int, default=30)
    parser.add_argument("--from", dest="first", type=int, default=0, help="number of the first car tried")
    parser.add_argument("--seed", type=int, default=6)
    chosen = parser.parse_args()
    folder = folder_for("two-steps", chosen.folder)
    if not chosen.report:
        cases(folder, chosen.first, chosen.cases, chosen.seed)
    for line in report(kept(folder)):
        print(line)


if __name__ == "__main__":
    main()
