"""How often the right part is named: catches simulated on cars with known faults.

    python benchmarks/evenness.py [--cases N] [--seed S] [--poured N]

Six cylinders; two bare catches at idle, one bare at full, two through the injectors at full; noise with heavy
tails (t, 5 degrees of freedom) of 3.5 % at idle and 1.2 % at full, as stated; every seventh car with a tipped
container. A part is off by twice the tolerance: 16 % at full opening, 30 % at idle for a port's edge. The
catch asked for is then made, up to three times.

Last, cars whose fuel the engine's model pours, weighed by what that model says shows: a line or an
injector narrowed until the full catch lacks a share; bare and through injectors, at idle and full.
"""

from __future__ import annotations

import argparse
import itertools
import math
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("src", "tests")]

from evenness_world import FAULTS, LIMITS, Car, drawn_faults, group_sum, one_fault, p_off  # noqa: E402
from evenpour.job.engine_model import kind_for  # noqa: E402
from poured_world import TWO_OPENINGS, Poured, kept  # noqa: E402


def found_table(cases: int, seed: int, cylinders: int = 6) -> Iterator[str]:
    heads = ("right >0.9", "group >0.9", "wrong >0.5", "catches")
    yield f"{'one part off by twice the tolerance':40}" + "".join(f"{head:>11}" for head in heads)
    for name, (kind, way, size) in FAULTS.items():
        for swappable in (True, False):
            if not swappable and (kind, way) not in (
                ("port", "moderate"),
                ("port", "edge"),
                ("line", "severe"),
            ):
                continue  # injectors are exchanged either way
            random = np.random.default_rng(seed)
            before, after, grouped, wrong, catches = 0, 0, 0, 0, 0
            for case in range(cases):
                fault = one_fault(random, kind, way, size, cylinders)
                car = Car(random, cylinders, [fault], lines_swappable=swappable, tipped=case % 7 == 6)
                answer = car.usual()
                before += p_off(answer, fault[0], fault[1]) > 0.9
                grouped += group_sum(answer, fault[0], fault[1]) > 0.9
                answer, more = car.follow(answer)
                catches += more
                after += p_off(answer, fault[0], fault[1]) > 0.9
                wrong += any(
                    (part.p_off or 0.0) > 0.5 and (part.kind, part.number) != fault[:2]
                    for part in answer.parts
                )
            label = name if swappable else f"{name}, lines fixed"
            yield f"  {label + ', as caught':38}{before / cases:11.3f}{grouped / cases:11.3f}"
            shares = (after / cases, wrong / cases, catches / cases)
            yield f"  {'   advice followed':38}{shares[0]:11.3f}{'':11}{shares[1]:11.3f}{shares[2]:11.2f}"


def counts_table(cases: int, seed: int) -> Iterator[str]:
    yield f"{'injector off by twice the tolerance':40}{'right >0.9':>11}{'group >0.9':>11}{'catches':>11}"
    for cylinders in (3, 4, 5, 8, 12):
        random = np.random.default_rng(seed + 4)
        after, grouped, catches = 0, 0, 0
        for _ in range(cases):
            fault = one_fault(random, "injector", "moderate", FAULTS["injector, moderate"][2], cylinders)
            car = Car(random, cylinders, [fault])
            answer = car.usual()
            grouped += group_sum(answer, *fault[:2]) > 0.9
            answer, more = car.follow(answer)
            catches += more
            after += p_off(answer, *fault[:2]) > 0.9
        shares = f"{after / cases:11.3f}{grouped / cases:11.3f}{catches / cases:11.2f}"
        yield f"  {f'{cylinders} cylinders, advice followed':38}{shares}"


def healthy_table(cases: int, seed: int) -> Iterator[str]:
    yield f"{'nothing off':38} {'any >0.5':>10} {'even >0.95':>10} {'sus. right':>10} {'sus. wrong':>10}"
    for name, noise in (("noise as stated", 1.0), ("noise twice what was stated", 2.0)):
        random = np.random.default_rng(seed + 1)
        raised, even, right, wrong, tipped = 0, 0, 0, 0, 0
        for case in range(cases):
            car = Car(random, noise=noise, tipped=case % 7 == 6)
            answer = car.usual()
            raised += any((part.p_off or 0.0) > 0.5 for part in answer.parts)
            even += (answer.even or 0.0) > 0.95
            tipped += car.tipped
            hits = sum(1 for suspect in answer.suspect_amounts if suspect.run == 1)
            right += car.tipped and hits > 0
            wrong += len(answer.suspect_amounts) > (hits if car.tipped else 0)
        shares = (raised / cases, even / cases, right / max(tipped, 1), wrong / cases)
        yield f"  {name:36} " + " ".join(f"{share:10.3f}" for share in shares)


def calibration_table(cases: int, seed: int) -> Iterator[str]:
    edges = [0.0, 0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0001]
    yield "calibration of p_off, parts off by any amount (stated | truly off | parts counted)"
    for name, noise in (("noise as stated", 1.0), ("noise twice what was stated", 2.0)):
        for swapped in (False, True):
            random = np.random.default_rng(seed + 2)
            stated: list[float] = []
            truth: list[bool] = []
            for case in range(cases):
                car = Car(random, faults=drawn_faults(random), noise=noise, tipped=case % 7 == 6)
                answer = car.usual()
                if swapped:
                    answer, _ = car.follow(answer, 1)
                for part in answer.parts:
                    stated.append(part.p_off or 0.0)
                    truth.append(car.off(part.kind, part.number))
            yield f"  {name}, {'catch asked for made' if swapped else 'as caught'}"
            p, t = np.array(stated), np.array(truth)
            yield from _curve(p, t, edges)
            score = float(np.mean((p - t) ** 2))
            yield f"    mean square error {score:.4f}; always saying the mean: {t.var():.4f}"


def even_table(cases: int, seed: int) -> Iterator[str]:
    edges = [0.0, 0.05, 0.2, 0.5, 0.8, 0.95, 1.0001]
    yield "calibration of even_by_run, through injectors at full (stated | truly even | cars)"
    random = np.random.default_rng(seed + 3)
    stated, truth = [], []
    for case in range(cases):
        car = Car(random, faults=drawn_faults(random), tipped=case % 7 == 6)
        answer = car.usual()
        flows = [
            math.exp(sum(car.effect(kind, k, "injectors", "full") for kind in ("port", "line", "injector")))
            for k in range(6)
        ]
        stated.append(answer.even_by_run["injectors:full"])
        truth.append((max(flows) - min(flows)) / (sum(flows) / 6) <= (LIMITS["full"] or 0.0))
    p, t = np.array(stated), np.array(truth)
    yield from _curve(p, t, edges)


def poured_table(cases: int, seed: int) -> Iterator[str]:
    heads = ("right >0.9", "group >0.9", "wrong >0.5", "catches")
    yield f"{'poured by the model of the engine':40}" + "".join(f"{head:>11}" for head in heads)
    for sheet in ("flat-six", "inline-four-oxygen", "vee-eight"):
        kind = kind_for(sheet)
        for part, through, loss in (
            ("line", "injectors", 0.16),
            ("line", "injectors", 0.40),
            ("line", "lines", 0.20),
            ("line", "lines", 0.50),
            ("injector", "injectors", 0.16),
            ("injector", "injectors", 0.40),
            ("injector", "injectors", 0.70),
        ):
            random = np.random.default_rng(seed + 5)
            share = kept(kind, through, "full", loss)
            before, after, grouped, wrong, catches = 0, 0, 0, 0, 0
            for _ in range(cases):
                number = int(random.integers(kind.design.cylinders)) + 1
                car = Poured(random, sheet=sheet, narrow={(part, number): share})
                for one in TWO_OPENINGS:
                    car.catch(*one)
                answer = car.answer()
                before += p_off(answer, part, number) > 0.9
                grouped += group_sum(answer, part, number) > 0.9
                answer, more = car.follow(answer)
                catches += more
                after += p_off(answer, part, number) > 0.9
                wrong += any(
                    (found.p_off or 0.0) > 0.5 and (found.kind, found.number) != (part, number)
                    for found in answer.parts
                )
            where = "bare" if through == "lines" else "behind its injector"
            yield f"  {sheet}, {part} lacks {loss:.0%} {where}"
            yield f"  {'   as caught':38}{before / cases:11.3f}{grouped / cases:11.3f}"
            shares = (after / cases, wrong / cases, catches / cases)
            yield f"  {'   advice followed':38}{shares[0]:11.3f}{'':11}{shares[1]:11.3f}{shares[2]:11.2f}"


def _curve(stated: np.ndarray, truth: np.ndarray, edges: list[float]) -> Iterator[str]:
    for low, high in itertools.pairwise(edges):
        here = (stated >= low) & (stated < high)
        if here.any():
            mean, share = stated[here].mean(), truth[here].mean()
            yield f"    {low:4.2f} to {min(high, 1.0):4.2f}: {mean:6.3f} | {share:6.3f} | {here.sum():6d}"


def speed_table() -> Iterator[str]:
    yield "time for one answer, next catch included (best of 3)"
    for cylinders in (4, 6, 8, 12):
        car = Car(np.random.default_rng(5), cylinders, [("injector", 3, "moderate", math.log(0.84))])
        car.usual()
        car.catch("lines", "full")
        times = []
        for _ in range(3):
            start = time.perf_counter()
            car.answer()
            times.append(time.perf_counter() - start)
        yield f"  {cylinders:2d} cylinders x {len(car.runs)} catches: {min(times):6.3f} s"


def main() -> None:
    parser = argparse.ArgumentParser(description="Simulated catches: figures of the evenness method.")
    parser.add_argument("--cases", type=int, default=500)
    parser.add_argument("--seed", type=int, default=20)
    parser.add_argument("--poured", type=int, help="Only the last table, with so many cars a row.")
    asked = parser.parse_args()
    if asked.poured:
        print(f"Simulated catches, {asked.poured} cars a row, seed {asked.seed}", flush=True)
        for line in poured_table(asked.poured, asked.seed):
            print(line, flush=True)
        return
    print(f"Simulated catches, {asked.cases} cars a case, seed {asked.seed}", flush=True)
    tables: tuple[Callable[[], Iterator[str]], ...] = (
        lambda: speed_table(),
        lambda: healthy_table(asked.cases, asked.seed),
        lambda: found_table(asked.cases, asked.seed),
        lambda: counts_table(max(asked.cases // 2, 1), asked.seed),
        lambda: calibration_table(asked.cases, asked.seed),
        lambda: even_table(asked.cases, asked.seed),
        lambda: poured_table(max(asked.cases // 10, 1), asked.seed),
    )
    for lines in tables:
        print(flush=True)
        for line in lines():
            print(line, flush=True)


if __name__ == "__main__":
    main()
