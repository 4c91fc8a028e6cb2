"""Whether leaving a check out changes the log odds by what the reasons say it weighs.

Run: .venv/bin/python benchmarks/leave_out.py [cars of each kind]. Cars with one fault, read as a workshop
would, as the benchmark of causes draws them; with two, each at least half as bad as it gets; and with one
fault at every cylinder. Every check is left out for real, and everything explained again, several causes at
once included. Told are the likeliest lines of each car; of cars with several faults, which the readings do
not always show, those with a line of several among these. The figure to hold is 0.3 nat. A reading that does
not belong is set aside first, and cars with a slip are passed over: what a check weighs is told within what
is likeliest of those.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count, islice
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent / "src"), str(HERE.parent / "tests"), str(HERE / "common")]

from cause_cars import World, car, world_of  # noqa: E402

from evenpour.causes.aside import Often, at_once  # noqa: E402
from evenpour.causes.aside import weighed as all_weighed  # noqa: E402
from evenpour.causes.beyond_one import beyond_one  # noqa: E402
from evenpour.causes.explanation import Explanation, strays  # noqa: E402
from evenpour.causes.normal import log_sum  # noqa: E402
from evenpour.causes.observed import Observation  # noqa: E402
from evenpour.causes.reasons import evidence, log_odds  # noqa: E402
from evenpour.causes.together import Jointly  # noqa: E402
from evenpour.job.causes.prior import shipped_prior  # noqa: E402
from simulated_cars import read  # noqa: E402

SEED = 11
LINES, LIKELY = 3, 0.1  # of each car, the likeliest, if they are that likely
HELD = 0.3  # nat
PLAIN = 0.5  # severity from which each of several faults is
KINDS = ("one fault", "two faults", "one fault at every cylinder")
Which = tuple[int, ...]


@dataclass(frozen=True)
class Weighed:
    """An explanation, one cause or several, and the log weight of each, up to a constant."""

    told: Explanation
    joint: Jointly
    log: np.ndarray

    @property
    def lines(self) -> list[Which]:
        """Which causes each is about, by number."""
        return [(h,) for h in range(len(self.told.hypotheses))] + [one.which for one in self.joint.sets]

    @property
    def likely(self) -> list[int]:
        """The likeliest, by place."""
        log = self.log - log_sum(self.log)
        return [int(line) for line in np.argsort(-log)[:LINES] if log[line] > np.log(LIKELY)]


@dataclass(frozen=True)
class Miss:
    """What the weight of a check is told above what it is, [nat], for a line of how many causes."""

    causes: int
    miss: float
    words: str


def often() -> Often:
    prior = shipped_prior()
    return Often(prior.pairs, prior.several)


def belonging(world: World, readings: Sequence[Observation]) -> tuple[Observation, ...] | None:
    """The readings that belong, as they are told from; None where one may have been written wrongly."""
    found = all_weighed(world.explained(readings), often())
    part = found.parts[found.main]
    return None if part.way.slips else part.told.seen.observations


def weighed(world: World, readings: tuple[Observation, ...]) -> Weighed:
    told = world.explained(readings)
    joint = at_once(told, often())
    grid = told.fitted.grid
    nodes = grid.log_prior[grid.owner] + grid.log_weight + told.fitted.modes.log_evidence
    alone = told.log_posterior + log_sum(nodes + strays(told.odd))
    several = np.array([one.log_weight for one in joint.sets])
    several = beyond_one(alone, grid.log_prior, joint.tried, several)
    return Weighed(told, joint, np.concatenate([alone, several]))


def odds(log: np.ndarray, line: int) -> float:
    """Log odds of one line against all others, no farther than certain."""
    return float(log_odds(log, np.arange(len(log)) == line))


def faults(world: World, kind: str, first: int, random: np.random.Generator) -> list[tuple[int, float]]:
    """What else is wrong with a car, by number, and how bad."""
    others = [h for h, one in enumerate(world.listed) if one.id == world.listed[first].id and h != first]
    if kind == "two faults":
        weights = np.exp([one.log_prior for one in world.guesses])
        weights[[0, first, *others]] = 0.0
        others = [int(random.choice(len(weights), p=weights / weights.sum()))]
    return [] if kind == "one fault" else [(h, float(random.uniform(PLAIN, 1.0))) for h in others]


def readings_of(world: World, kind: str, number: int) -> tuple[Observation, ...]:
    one = car(world, (SEED, number), sound=False, least=0.0 if kind == "one fault" else PLAIN)
    if kind == "one fault at every cylinder":
        some = [h for h, suspect in enumerate(world.listed) if suspect.cylinder == 1]
        fault = some[number % len(some)]
    else:
        fault = one.fault
    random = np.random.default_rng(one.seed)
    others = faults(world, kind, fault, np.random.default_rng((SEED, number, 1)))
    return read(world.kind, world.listed, fault, one.severity, one.asked, random, others=others)


def missed(world: World, kind: str) -> Iterator[list[Miss]]:
    """For car after car, of each likely line and each check what its weight misses."""
    for number in count():
        readings = belonging(world, readings_of(world, kind, number))
        if readings is None:
            continue
        whole = weighed(world, readings)
        likely = whole.likely
        if kind == "one fault" or any(len(whole.lines[line]) > 1 for line in likely):
            yield list(_missed(world, readings, whole, likely))


def _missed(
    world: World, readings: Sequence[Observation], whole: Weighed, likely: Sequence[int]
) -> Iterator[Miss]:
    found, chance = evidence(whole.told, whole.joint), np.exp(whole.log - log_sum(whole.log))
    for g, check in enumerate(whole.told.checks):
        gone = whole.told.seen.columns.check == check
        rest = tuple(one for one, out in zip(readings, gone, strict=True) if not out)
        if not rest:
            continue
        without = weighed(world, rest)
        for line in likely:
            which = whole.lines[line]
            names = "+".join(world.listed[h].id for h in which)
            what = next(one.check.check for one, out in zip(readings, gone, strict=True) if out)
            if which in without.lines:
                true = odds(whole.log, line) - odds(without.log, without.lines.index(which))
                its = float(found.weighs([line])[g])
                yield Miss(len(which), its - true, f"{names} ({chance[line]:.0%}), {what}: {its:.2f}")


def main() -> None:
    cars = int(sys.argv[1]) if len(sys.argv) > 1 else 8
    world = world_of("flat-six")
    for kind in KINDS:
        rows = [one for some in islice(missed(world, kind), cars) for one in some]
        print(f"{cars} cars with {kind}, {len(rows)} weights of lines likelier than {LIKELY:.0%}")
        for name, several in (("one cause", False), ("several at once", True)):
            off = np.array([abs(one.miss) for one in rows if (one.causes > 1) is several])
            if len(off):
                print(
                    f"{name:>16}: {len(off)} weights, within {HELD} nat {np.mean(off < HELD):.3f}, "
                    f"half within {np.median(off):.2f}, 19 of 20 within {np.quantile(off, 0.95):.2f}, "
                    f"worst {off.max():.2f}"
                )
        print("farthest off, told less true:")
        for one in sorted(rows, key=lambda one: -abs(one.miss))[:8]:
            print(f"  {one.miss:+.2f}  {one.words}")


if __name__ == "__main__":
    main()
