"""How the mixture screw's advice does on cars that it does not know: simulated idle sessions.

    python benchmarks/screw.py [--sessions N] [--seed S] [--faulty N] [--only SHEET|faults]

Cars are drawn from the kind's own spread, each with a thread from 0.6 to 1.4 of a usual one and a play of up
to 15 degrees. The screw starts up to a quarter of a turn wrong, half of the time approached from the rich
side. The analyser is wrong by up to its error all session (CO 0.2 %, lambda 0.007, duty 1 %), each reading
repeats as well as the data say, and the air at the plate drifts by 1.5 K from reading to reading. The true
value counts, after at most three moves.

Past twice: a move ended outside the window twice as wide about the same middle, on the side to which it went.
Stopped: the advice called the screw not to blame, wrongly so here. Told p: mean odds told at the end, of the
window as the screw stands then.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("src", "tests")]

from evenpour.measure.exhaust_signs import LEANEST, signs_of  # noqa: E402
from evenpour.measure.mixture import GasValue, mixture_from_gas  # noqa: E402
from evenpour.physics.blend import blend  # noqa: E402
from screw_world import (  # noqa: E402
    Backward,
    Bench,
    Car,
    Choice,
    Player,
    Session,
    Stuck,
    Told,
    adviser,
    clairvoyant,
    knowing,
    plain_rule,
    play,
)

PLAYERS: dict[str, Player] = {
    "advice": adviser,
    "advice, gain and play known": knowing,
    "plain proportional rule": plain_rule,
    "sees the truth, a hand's moves": clairvoyant,
}
KINDS = (
    ("flat-six", "exhaust_co"),
    ("flat-six", "exhaust_lambda"),
    ("inline-four", "exhaust_co"),
    ("inline-four", "exhaust_lambda"),
    ("flat-six-oxygen", "lambda_duty"),
    ("inline-four-oxygen", "lambda_duty"),
)
FAULTS_ONLY = "faults"
HEADS = ("in window", "moves", "readings", "largest", "past twice", "stopped", "told p")


@dataclass(frozen=True, slots=True)
class Setting:
    """How the sessions differ from the plain ones."""

    title: str
    by_rule: bool = False
    inverted: bool = False
    model_off: float = 0.0
    widening: float = 1.0
    most: int = 3


OTHER_METER = Setting("meter counts the other way", inverted=True)
HARDER = (
    Setting("up to 5 moves", most=5),
    Setting("start by the rule on any thread, wrong on top", by_rule=True),
    Setting("cars spread twice as wide, CO off by 8 %", model_off=0.08, widening=2.0),
)


def sessions(bench: Bench, player: Player, setting: Setting, count: int, seed: int) -> list[Told]:
    """The same cars and the same luck for every player."""
    told = []
    for number in range(count):
        random = np.random.default_rng([seed, number])
        car = Car.drawn(bench, random, widening=setting.widening)
        session = Session(
            car,
            random,
            random.uniform(-0.25, 0.25),
            by_rule=setting.by_rule,
            inverted=setting.inverted,
            model_off=setting.model_off,
        )
        told.append(play(session, player, setting.most))
    return told


def row(title: str, told: Sequence[Told]) -> str:
    """One player on one kind."""
    shares = (
        np.mean([one.inside for one in told]),
        np.mean([len(one.moves) for one in told]),
        np.mean([one.readings for one in told]),
        max(one.farthest for one in told),
        np.mean([one.overshot for one in told]),
        np.mean([one.verdict == "stop" for one in told]),
        np.mean([one.p for one in told]),
    )
    form = ("11.3f", "11.2f", "11.2f", "11.4f", "11.3f", "11.3f", "11.3f")
    figures = (format(float(share), one) for share, one in zip(shares, form, strict=True))
    return f"  {title:54}{''.join(figures)}"


def healthy(count: int, seed: int, only: Sequence[str]) -> Iterator[str]:
    yield f"{'':56}" + "".join(f"{head:>11}" for head in HEADS)
    for sheet, check in KINDS:
        if only and sheet not in only:
            continue
        bench = Bench.of(sheet, check)
        yield f"{sheet}, {check}, {bench.window.low:g} to {bench.window.high:g}"
        for title, player in PLAYERS.items():
            yield row(title, sessions(bench, player, Setting(title), count, seed))
        settings = (
            (Setting("meter counts the other way", inverted=True),) if check == "lambda_duty" else HARDER
        )
        for setting in settings:
            yield row(f"advice, {setting.title}", sessions(bench, adviser, setting, count, seed))


FAULTS = (
    ("air leak, gross", ("air_leak_common", None, 1.0, 0)),
    ("air leak, half way", ("air_leak_common", None, 0.6, 0)),
    ("air leak, slight", ("air_leak_common", None, 0.2, 0)),
    ("control pressure warm 1 bar low", ("control_warm_low", None, 1.0, 0)),
    ("control pressure warm 0.4 bar low", ("control_warm_low", None, 0.3, 0)),
    ("spark of cylinder 3 missing", ("spark_missing", 3, 1.0, 0)),
    ("injector of cylinder 3 shut", ("injector_shut", 3, 1.0, 0)),
    ("compression of cylinder 2 gone", ("compression_low", 2, 1.0, 0)),
    ("fuel in the oil", ("crankcase_fuel", None, 0.8, 0)),
)
RIGHT = {
    "air": {"too_lean"},
    "con": {"too_rich"},
    "fue": {"too_rich"},
}  # else what the gases or the reach tell
DEAD = {"too_lean", "misfire", "stray_air_or_uneven", "unburnt_fuel", "meter_differs"}


BEFORE_THE_SCREW = {"not_together", "too_thin", "misfire", "unburnt_fuel", "stray_air_or_uneven"}
ERRORS = {"co": 0.0006, "co2": 0.005, "o2": 0.001, "hc": 12e-6}  # of an analyser of class I


def four_gases(session: Session) -> Choice:
    """The advice, after a look at all four gases of the analyser, as a job's answer takes it."""
    true = session.car.true()
    gases = {}
    for name, error in ERRORS.items():
        value = float(true[f"exhaust_{name}"][0]) + error * session.random.uniform(-1.0, 1.0)
        gases[name] = GasValue(value, error / 3**0.5)
    mixture = mixture_from_gas(gases, blend(0.05))
    lean = mixture.lambda_ is not None and mixture.lambda_.value > LEANEST
    for sign in signs_of(mixture, gases, blend(0.05)):
        if sign.kind in BEFORE_THE_SCREW and not (lean and sign.kind == "misfire"):
            return Choice("stop", None, sign.kind)
    return adviser(session)


def faulty(count: int, seed: int) -> Iterator[str]:
    """What becomes of sessions on cars with a fault; the start up to a tenth of a turn wrong.

    In the window: as far as its own check shows, with the fault still there.
    """
    yield f"{'':44}{'right stop':>11}{'in window':>11}{'other':>11}{'moves':>9}{'strayed':>9}  reasons"
    for sheet, check, player, title in (
        ("flat-six", "exhaust_co", adviser, "CO alone"),
        ("flat-six", "exhaust_co", four_gases, "four gases"),
        ("flat-six", "exhaust_lambda", adviser, "lambda alone"),
    ):
        bench = Bench.of(sheet, check)
        yield f"{sheet}, {title}"
        for name, fault in FAULTS:
            told = []
            for number in range(count):
                random = np.random.default_rng([seed, 5, number])
                session = Session(Car.drawn(bench, random, fault=fault), random, random.uniform(-0.1, 0.1))
                told.append(play(session, player, most=12))
            yield _fault_row(name, told)
    for title, kind in (("key turns nothing", Stuck), ("moves entered the wrong way", Backward)):
        told = []
        bench = Bench.of("flat-six", "exhaust_co")
        for number in range(count):
            random = np.random.default_rng([seed, 9, number])
            wrong = float(random.choice([-1.0, 1.0]) * random.uniform(0.08, 0.25))
            told.append(play(Session(kind.drawn(bench, random), random, wrong), adviser, most=12))
        yield _fault_row(title, told, {"does_nothing", "wrong_way", "too_lean", "too_rich"})


def _fault_row(name: str, told: Sequence[Told], right: set[str] | None = None) -> str:
    right = right or RIGHT.get(name[:3], DEAD)
    stops = [one.reason in right for one in told]
    settled = [one.reason is None and one.inside for one in told]
    other = [not (a or b) for a, b in zip(stops, settled, strict=True)]
    reasons = Counter(one.reason or one.verdict for one in told)
    return (
        f"  {name:42}{np.mean(stops):11.2f}{np.mean(settled):11.2f}{np.mean(other):11.2f}"
        f"{max(len(one.moves) for one in told):9d}{max(one.strayed for one in told):9.3f}  "
        + ", ".join(f"{reason} {number}" for reason, number in reasons.most_common())
    )


def speed() -> str:
    """One answer, with six readings."""
    bench = Bench.of("flat-six", "exhaust_co")
    random = np.random.default_rng(3)
    session = Session(Car.drawn(bench, random), random, -0.2)
    for _ in range(6):
        session.take()
    times = []
    for _ in range(20):
        began = time.perf_counter()
        adviser(session)
        times.append(time.perf_counter() - began)
    return f"posterior and advice of six readings: {1000.0 * min(times):.0f} ms, the best of {len(times)}"


def main() -> None:
    parser = argparse.ArgumentParser(description="How the mixture screw's advice does.")
    parser.add_argument("--sessions", type=int, default=200)
    parser.add_argument("--faulty", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", action="append", choices=[*dict(KINDS), FAULTS_ONLY], default=[])
    asked = parser.parse_args()
    if asked.only != [FAULTS_ONLY]:
        print(f"{asked.sessions} sessions a row, seed {asked.seed}")
        for line in healthy(asked.sessions, asked.seed, asked.only):
            print(line, flush=True)
    if not asked.only or FAULTS_ONLY in asked.only:
        print(f"\nCars with a fault, {asked.faulty} sessions a row, up to 12 moves")
        for line in faulty(asked.faulty, asked.seed):
            print(line, flush=True)
        print(f"\n{speed()}")


if __name__ == "__main__":
    main()
