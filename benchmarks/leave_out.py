"""Whether leaving a check out changes the log odds by what the reasons say it weighs.

Run: .venv/bin/python benchmarks/leave_out.py [cars]. Cars with one fault, read as a workshop would, as the
benchmark of causes draws them; every check is left out for real, and everything explained again, several
causes at once included. Told are the likeliest lines of each car. The figure to hold is 0.3 nat. Slips and
what is set aside are not tried: what a check weighs is told within what is likeliest of those.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent / "src"), str(HERE.parent / "tests"), str(HERE / "common")]

from cause_cars import Mismatch, World, car, world_of  # noqa: E402

from evenpour.causes.aside import Often, at_once  # noqa: E402
from evenpour.causes.explanation import Explanation  # noqa: E402
from evenpour.causes.normal import log_sum  # noqa: E402
from evenpour.causes.observed import Observation  # noqa: E402
from evenpour.causes.reasons import Evidence, evidence  # noqa: E402
from evenpour.job.causes.prior import shipped_prior  # noqa: E402

SEED = 11
LINES, LIKELY = 3, 0.1  # of each car, the likeliest, if they are that likely
HELD = 0.3  # nat
Which = tuple[int, ...]


def weighed(world: World, readings: tuple[Observation, ...]) -> tuple[Explanation, Evidence, list[Which]]:
    """An explanation, what speaks for what in it, and which causes each line of that is about."""
    prior = shipped_prior()
    told = world.explained(readings)
    joint = at_once(told, Often(prior.pairs, prior.several))
    lines = [(h,) for h in range(len(told.hypotheses))] + [one.which for one in joint.sets]
    return told, evidence(told, joint), lines


def odds(log: np.ndarray, line: int) -> float:
    """Log odds of one line against all others."""
    return float(log[line] - log_sum(np.delete(log, line)))


def missed(world: World, number: int) -> Iterator[tuple[bool, float, str]]:
    """For each likely line of a car and each check: whether it is of several causes, what its weight is told
    above what it is, [nat], and its name.
    """
    one = car(world, (SEED, number), sound=False)
    readings = one.readings(world, Mismatch())
    told, found, lines = weighed(world, readings)
    log = found.whole - log_sum(found.whole)
    likely = [int(line) for line in np.argsort(-log)[:LINES] if log[line] > np.log(LIKELY)]
    for g, check in enumerate(told.checks):
        left = told.seen.columns.check != check
        rest = tuple(one for one, kept in zip(readings, left, strict=True) if kept)
        if not rest:
            continue
        _, without, known = weighed(world, rest)
        for line in likely:
            if lines[line] in known:
                true = odds(found.whole, line) - odds(without.whole, known.index(lines[line]))
                names = "+".join(world.listed[h].id for h in lines[line])
                what = next(one.check.check for one, kept in zip(readings, left, strict=True) if not kept)
                yield len(lines[line]) > 1, float(found.weighs([line])[g]) - true, f"{names}, {what}"


def main() -> None:
    cars = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    world = world_of("flat-six")
    rows = [row for number in range(cars) for row in missed(world, number)]
    print(f"{cars} cars with one fault, {len(rows)} weights of lines likelier than {LIKELY:.0%}")
    for name, several in (("one cause", False), ("several at once", True)):
        off = np.array([abs(miss) for is_several, miss, _ in rows if is_several is several])
        if len(off):
            print(
                f"{name:>16}: {len(off)} weights, within {HELD} nat {np.mean(off < HELD):.3f}, "
                f"half within {np.median(off):.2f}, 19 of 20 within {np.quantile(off, 0.95):.2f}, "
                f"worst {off.max():.2f}"
            )
    print("farthest off, told less true:")
    for _, miss, words in sorted(rows, key=lambda row: -abs(row[1]))[:8]:
        print(f"  {miss:+.2f}  {words}")


if __name__ == "__main__":
    main()
