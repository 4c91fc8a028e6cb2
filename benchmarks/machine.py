"""How fast the model is, what room it takes, and how it compares with a compiled loop of the same equations.

    python benchmarks/machine.py [--runs N]

A state is one car in one condition, all its cylinders, every balance solved to 1e-7. All figures come from
one run on two threads, so that their ratios hold on another machine; the best of several runs counts, what is
above it being the noise of other work.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "src")]

from evenpour.causes.car_model import CarModel  # noqa: E402
from evenpour.causes.problem import Faults, alone  # noqa: E402, alone
from evenpour.causes.suspects import suspects  # noqa: E402
from evenpour.job.engine_model import causes_of, checks_predicted, kind_for  # noqa: E402
from evenpour.job.sheet.found import known_checks  # noqa: E402
from evenpour.machine.asking import query  # noqa: E402
from evenpour.machine.blocks import in_blocks  # noqa: E402
from evenpour.machine.engine_off import pour, pressures  # noqa: E402
from evenpour.machine.jacobian import jacobian  # noqa: E402
from evenpour.machine.parameters import Cars  # noqa: E402
from evenpour.machine.running import run  # noqa: E402
from evenpour.machine.set_up import SetUp, set_up  # noqa: E402
from evenpour.machine.situation import Situation  # noqa: E402

KIND = kind_for("flat-six")
HOME = Situation(altitude=200.0)
BLOCK = 4000  # cars whose states are worked out together
CARS = 16 * BLOCK
SEED = 1
EQUAL = 1e-6  # to which the compiled loop must agree with the model before it is timed
#: What a diagnosis asks: pressures, delivery, holding, onset, gas in two states, every port in four catches.
DIAGNOSIS: tuple[tuple[str, dict[str, float | str]], ...] = (
    ("system_pressure", {}),
    ("control_pressure_cold", {"regulator_temperature": 291.15}),
    ("control_pressure_warm", {"after": 300.0, "voltage": 12.0}),
    ("holding_pressure", {"after": 600.0}),
    ("holding_pressure", {"after": 1200.0}),
    ("pump_delivery", {"voltage": 12.0, "duration": 30.0}),
    ("onset", {"through": "lines"}),
    ("onset", {"through": "injectors"}),
    ("exhaust_co", {"state": "idle_warm"}),
    ("exhaust_o2", {"state": "idle_warm"}),
    ("exhaust_lambda", {"state": "idle_warm"}),
    ("idle_speed", {"state": "idle_warm"}),
    ("exhaust_lambda", {"state": "road_steady"}),
    ("catch", {"through": "lines", "opening": "idle"}),
    ("catch", {"through": "lines", "opening": "full"}),
    ("catch", {"through": "injectors", "opening": "idle"}),
    ("catch", {"through": "injectors", "opening": "full"}),
)


def asked(wanted: tuple[tuple[str, dict[str, float | str]], ...]) -> tuple[Any, ...]:
    """The questions, of every cylinder where each has its own."""
    checks, _ = known_checks()
    every = range(1, KIND.design.cylinders + 1)
    return tuple(
        (checks_predicted()[name], query(KIND, name, cylinder, stated, HOME))
        for name, stated in wanted
        for cylinder in (every if checks[name].per_cylinder else (None,))
    )


def all_readings() -> tuple[Any, ...]:
    """Every check the model can read, in its usual conditions."""
    return asked(tuple((name, {}) for name in checks_predicted()))


def model(questions: tuple[Any, ...]) -> CarModel:
    """What the inference asks."""
    plan = KIND.blueprint
    listed = suspects(KIND, causes_of(KIND))
    return CarModel(KIND, listed, HOME, questions, plan.free, plan.spread[plan.free])


def sound(count: int) -> Faults:
    """Nothing wrong."""
    return alone(np.zeros(count, dtype=np.int64), np.zeros(count))


def spoilt(count: int) -> Faults:
    """Every cause at every severity, drawn evenly."""
    random = np.random.default_rng(SEED)
    which = random.integers(0, len(model(()).suspects), count)
    return alone(which, random.random(count))


def draws(count: int, seed: int = SEED) -> Any:
    """Standard normal numbers of so many cars."""
    return np.random.default_rng(seed).standard_normal((count, len(KIND.blueprint.free)))


@cache
def parts() -> list[tuple[Cars, SetUp]]:
    """All cars, in blocks, set up."""
    found = []
    for block in range(CARS // BLOCK):
        cars = KIND.blueprint.cars(draws(BLOCK, block))
        found.append((cars, set_up(KIND.design, KIND.torque, KIND.funnel, cars, HOME)))
    return found


def best(
    runs: int, *works: Callable[[], object], clock: Callable[[], float] = time.perf_counter
) -> list[float]:
    """Shortest time of each by the *clock*, [s], the works taking turns."""
    times = [float("inf")] * len(works)
    for _ in range(runs + 1):
        for number, work in enumerate(works):
            began = clock()
            work()
            times[number] = min(times[number], clock() - began)
    return times


def all_parts(state: Callable[[Cars, SetUp], object]) -> None:
    """A state of all cars, block by block on two threads."""
    in_blocks(lambda part: [state(*block) for block in parts()[part]] and None, CARS // BLOCK, 1)


def one_thread(state: Callable[[Cars, SetUp], object]) -> None:
    """The same on one."""
    for block in parts():
        state(*block)


def state_of(engine: str) -> Callable[[Cars, SetUp], object]:
    """The engine running."""
    return lambda cars, screws: run(KIND, cars, screws, replace(HOME, engine=engine))


TOGETHER: dict[str, Callable[[Cars, SetUp], object]] = {
    "catch, bare lines, idle": lambda cars, screws: pour(
        KIND, cars, screws, replace(HOME, lines=True, opening=KIND.design.openings["idle"])
    ),
    "catch, injectors, full": lambda cars, screws: pour(
        KIND, cars, screws, replace(HOME, opening=KIND.design.openings["full"])
    ),
    "fast idle": state_of("fast_idle"),
    "steady road": state_of("road_steady"),
    "full load": state_of("full_load"),
    "pressures, engine off": lambda cars, _: pressures(cars, HOME),
}
#: What is cheap and no catch, idle or cruise, left out of the stricter sum.
BESIDES = {"full load", "pressures, engine off"}
COUPLED = {"idle, warm": state_of("idle_warm"), "idle, cold": state_of("idle_cold")}


def states_table(runs: int) -> Iterator[str]:
    yield "states per second; of a core: by the processor's time, which other work leaves alone"
    yield f"{'':36}{'of a core':>14}{'one thread':>14}{'two threads':>14}"
    found = {}
    for name, state in {**TOGETHER, **COUPLED}.items():
        alone = partial(one_thread, state)
        found[name] = [
            *best(runs, alone, clock=time.process_time),
            *best(runs, alone, partial(all_parts, state)),
        ]
        yield _rates(name, [found[name]])
        if name == list(TOGETHER)[-1]:
            yield _rates("together (at least 1,000,000)", list(found.values()))
            few = [times for one, times in found.items() if one not in BESIDES]
            yield _rates("catches, fast idle and road alone", few)


def _rates(name: str, times: list[list[float]]) -> str:
    rates = [len(times) * CARS / sum(column) for column in zip(*times, strict=True)]
    return f"  {name:34}" + "".join(f"{rate:14,.0f}" for rate in rates)


def diagnosis_table(runs: int) -> Iterator[str]:
    yield "a car's whole readings, drawn, set up, spoilt and read; two threads"
    for name, questions in (("a diagnosis", asked(DIAGNOSIS)), ("all readings", all_readings())):
        ask, z = model(questions), draws(CARS)
        healthy, mixed = sound(CARS), spoilt(CARS)
        first, second = best(max(runs // 3, 1), lambda: ask(healthy, z), lambda: ask(mixed, z))  # noqa: B023
        yield f"  {f'{name}, {len(questions)} columns':32}{first / CARS * 1e6:9.2f} us a sound car"
        yield f"  {'':32}{second / CARS * 1e6:9.2f} us, all causes and severities, {second / first:.2f} x"


def compiled_table(runs: int) -> Iterator[str]:
    from common.compiled_machine import catches, idles, laid_out, plant_of  # takes its time

    yield "against one compiled loop (numba), both on two threads; within 3 is wanted"
    count, plant = KIND.design.cylinders, plant_of(KIND, HOME)
    laid = [laid_out(*block) for block in parts()]
    flows, mixtures = np.empty((2, len(laid), BLOCK, count))
    speeds, manifolds = np.empty((2, len(laid), BLOCK))
    full = KIND.design.openings["full"]

    def loops(part: slice, idle: bool) -> None:
        for block in range(*part.indices(len(laid))):
            rows, cars = laid[block]
            if idle:
                idles(plant, rows, cars, speeds[block], manifolds[block], mixtures[block])
            else:
                catches(plant, rows, cars, full, False, flows[block])

    for name, idle, state in (
        ("catch, injectors, full", False, TOGETHER["catch, injectors, full"]),
        ("idle, warm", True, COUPLED["idle, warm"]),
    ):
        work = partial(in_blocks, partial(loops, idle=idle), len(laid), 1)
        work()
        apart = 0.0
        for block, (cars, screws) in enumerate(parts()):
            right: Any = state(cars, screws)
            pairs = [(mixtures[block].T, right.mixture), (speeds[block], right.speed)] if idle else []
            for found, wanted in pairs or [(flows[block].T, right.fuel)]:
                apart = max(apart, float(np.abs(found / wanted - 1.0).max()))
        if apart > EQUAL:
            raise SystemExit(f"{name}: the compiled loop is not the model, {apart:.1e} apart")
        ours, theirs = best(runs, partial(all_parts, state), work)
        yield f"  {name:32}{CARS / ours:14,.0f}{CARS / theirs:14,.0f}{ours / theirs:8.2f} x its time"
        yield f"  {'':32}equal to {apart:.0e}"


def jacobian_table(runs: int) -> Iterator[str]:
    questions, z = all_readings(), draws(1000)
    (took,) = best(1, lambda: jacobian(KIND, HOME, questions, z))
    entries = len(z) * z.shape[1] * len(questions)
    yield f"slopes of {len(questions)} readings by {z.shape[1]} parameters for {len(z):,} cars in one call"
    yield f"  {took:.2f} s, {entries / took / 1e6:.1f} million slopes a second"
    (took,) = best(runs, lambda: jacobian(KIND, HOME, questions, z[:1]))
    yield f"  {took * 1e3:.1f} ms for one car"


def room_table() -> Iterator[str]:
    yield "most memory of a process (at most 2,000 MB for a million)"
    for name, words in (
        ("nothing asked yet", ("--take", "0")),
        ("1,000,000 cars, one call", ("--take", "1000000")),
        ("1,000,000 cars in chunks of 50,000", ("--take", "1000000", "--chunk", "50000")),
        ("250,000 cars in chunks of 50,000", ("--take", "250000", "--chunk", "50000")),
    ):
        done = subprocess.run([sys.executable, __file__, *words], check=True, capture_output=True, text=True)
        yield f"  {name:36}{float(done.stdout):8.0f} MB"


def take(count: int, chunk: int) -> None:
    """Ask a diagnosis of so many cars, print the most memory that took, [MB]."""
    ask = model(asked(DIAGNOSIS))
    for start in range(0, count, chunk):
        many = min(chunk, count - start)
        found = ask(spoilt(many), draws(many, start))
        if not np.isfinite(found).all():
            raise SystemExit("not every reading is a number")
    print(_most_held())


def _most_held() -> float:
    """Most memory this process has held, [MB]; getrusage would tell that of the one that started it."""
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmHWM:"):
            return float(line.split()[1]) / 1024.0
    raise SystemExit("this system does not tell what a process has held")


def main() -> None:
    parser = argparse.ArgumentParser(description="Speed and room of the physical model.")
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--take", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--chunk", type=int, default=0, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.take is not None:
        take(given.take, given.chunk or max(given.take, 1))
        return
    print(f"The flat six, {CARS:,} cars in blocks of {BLOCK:,}, two threads, best of {given.runs} runs")
    print(f"{os.cpu_count()} cores, load average {os.getloadavg()[0]:.1f} at the start", flush=True)
    tables: tuple[Callable[[], Iterator[str]], ...] = (
        lambda: states_table(given.runs),
        lambda: compiled_table(given.runs),
        lambda: diagnosis_table(given.runs),
        lambda: jacobian_table(given.runs),
        lambda: room_table(),
    )
    for lines in tables:
        print(flush=True)
        for line in lines():
            print(line, flush=True)
    print(f"\nload average {os.getloadavg()[0]:.1f} at the end")


if __name__ == "__main__":
    main()
