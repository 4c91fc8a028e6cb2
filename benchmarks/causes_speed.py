"""How long the answers about causes take: the first after a new reading, the full one, pairs, next checks.

    python benchmarks/causes_speed.py [--cars N] [--seed S]

Simulated flat sixes are read as a workshop would, some 50 readings each; the last reading is then new. The
demo job has many catches and is the heaviest case. Every part is told in seconds on the clock and of work,
the ratios are of one run, and beside the first answer stands how far it lies from the full one. At last the
pages are asked, over the loopback: how long after a reading was kept the first look and the full answer come.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TypeVar

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line sets it

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("src", "tests")]

from evenpour import data  # noqa: E402
from evenpour.causes.aside import Often, at_once  # noqa: E402
from evenpour.causes.explanation import explain  # noqa: E402
from evenpour.causes.first_answer import first_answer  # noqa: E402
from evenpour.causes.next_test import ranked  # noqa: E402
from evenpour.causes.observed import Observation  # noqa: E402
from evenpour.causes.reasons import evidence  # noqa: E402
from evenpour.causes.suspects import Suspect, hypotheses, suspects  # noqa: E402
from evenpour.job import job_of_text  # noqa: E402
from evenpour.job.causes.answer import case_of, causes_answer  # noqa: E402
from evenpour.job.causes.candidates import asked_of  # noqa: E402
from evenpour.job.causes.prior import shipped_prior  # noqa: E402
from evenpour.job.engine_model import causes_of, kind_for  # noqa: E402
from evenpour.job.job_file import read_text  # noqa: E402
from evenpour.job.store import Store  # noqa: E402
from simulated_cars import HOME, STANDARD, questions, read  # noqa: E402
from web_world import Pages, served  # noqa: E402

OFTEN = Often(shipped_prior().pairs, shipped_prior().several)
Found = TypeVar("Found")
Spent = tuple[float, float]


def timed(work: Callable[[], Found]) -> tuple[Found, Spent]:
    """What it gives, and the seconds on the clock and of processor."""
    clock, processor = time.perf_counter(), time.process_time()
    found = work()
    return found, (time.perf_counter() - clock, time.process_time() - processor)


def line(name: str, spent: Sequence[Spent], besides: str = "") -> str:
    clock, processor = np.array(spent).T
    return (
        f"{name:34}{np.median(clock):9.3f}{clock.max():9.3f}{np.median(processor):9.3f}"
        f"{processor.max():9.3f}  {besides}"
    ).rstrip()


HEAD = f"{'':34}{'clock':>9}{'worst':>9}{'cpu':>9}{'worst':>9}  [s]"


def simulated(cars: int, seed: int) -> Iterator[str]:
    kind = kind_for("flat-six")
    listed = suspects(kind, causes_of(kind))

    def weight(one: Suspect) -> float:
        assert one.cause is not None
        return one.cause.weight / (kind.design.cylinders if one.cause.per_cylinder else 1)

    guesses = hypotheses(listed, 0.25, weight)
    weights = np.array([0.0] + [weight(one) for one in listed[1:]])
    random = np.random.default_rng(seed)
    spent: dict[str, list[Spent]] = {name: [] for name in ("first", "full", "pairs", "reasons")}
    apart, moved, counts = [], [], []
    for car in range(cars + 1):
        fault = int(random.choice(len(listed), p=weights / weights.sum()))
        asked = questions(kind, [check for check in STANDARD if random.random() < 0.95])
        told = read(kind, listed, fault, float(random.uniform()), asked, random)
        before = explain(kind, listed, guesses, without_one(told, random), HOME)
        first, its = timed(lambda: first_answer(before, guesses, told))  # noqa: B023
        whole, full = timed(lambda: explain(kind, listed, guesses, told, HOME))  # noqa: B023
        joint, two = timed(lambda: at_once(whole, OFTEN))  # noqa: B023
        _, why = timed(lambda: evidence(whole, joint))  # noqa: B023
        assert first is not None
        if car == 0:
            continue  # it loads what the others find loaded
        for name, one in (("first", its), ("full", full), ("pairs", two), ("reasons", why)):
            spent[name].append(one)
        apart.append(0.5 * np.abs(np.exp(first) - whole.probability).sum())
        moved.append(0.5 * np.abs(before.probability - whole.probability).sum())
        counts.append(len(told))
    yield f"{cars} simulated flat sixes, {min(counts)} to {max(counts)} readings, {len(listed)} hypotheses"
    yield HEAD
    off = (
        f"off by {np.median(apart):.4f}, at worst {max(apart):.4f}, where the reading moved {max(moved):.3f}"
    )
    yield line("first answer, a reading more", spent["first"], off)
    yield line("all readings explained from nothing", spent["full"])
    yield line("pairs of causes behind it", spent["pairs"])
    yield line("what every reading weighs", spent["reasons"])
    ratio = np.array(spent["full"])[:, 1] / np.array(spent["first"])[:, 1]
    yield f"the first answer takes 1 / {np.median(ratio):.0f} of the processor's time of the full one"


def without_one(told: Sequence[Observation], random: np.random.Generator) -> tuple[Observation, ...]:
    """All but one reading, with all it consists of."""
    last = told[int(random.integers(len(told)))].reading
    return tuple(one for one in told if one.reading != last)


def demo() -> Iterator[str]:
    job = job_of_text(read_text(data.shipped_text("demo.toml"), "demo.toml"))
    case, whole = timed(lambda: case_of(job))
    _, told_in_words = timed(lambda: causes_answer(job))
    asked = asked_of(case)
    told = case.explanation
    joint, two = timed(lambda: at_once(told, OFTEN))
    _, why = timed(lambda: evidence(told, joint))
    held = case.weighed.held()
    _, again = timed(lambda: ranked(held, [one.candidate for one in asked]))
    _, following = timed(lambda: ranked(held, [one.candidate for one in asked]))
    columns = len(told.seen.columns)
    yield f"the demo job: {columns} values and choices, {len(told.checks)} checks, {len(asked)} next checks"
    yield HEAD
    yield line("explained from nothing with pairs", [whole])
    yield line("of which pairs", [two])
    yield line("what every reading weighs", [why])
    yield line("all next checks ranked", [again, following])
    yield line("the full answer, in words", [told_in_words])


ASKED = (
    ("system_pressure", "4.9"), ("control_pressure_warm", "3.6"), ("holding_pressure", "1.9"),
    ("system_pressure", "4.8"), ("idle_speed", "880"), ("control_pressure_warm", "3.7"),
)  # fmt: skip
UPTO = "reading-54"  # of the demo job: some 50 readings


def as_the_pages_get_it() -> Iterator[str]:
    with tempfile.TemporaryDirectory() as folder, Store(Path(folder) / "jobs.db") as store:
        os.environ["EVENPOUR_HOME"] = folder  # answers are kept there
        with served(store) as address, Pages(address, store) as pages:
            pages.client.timeout = 600.0
            job = pages.begin(UPTO)
            arrived(pages, job, ())
            first, full = [], []
            for check, value in ASKED:
                pages.send(f"{job}/read/{check}", f"read-{check}", value=value)
                began = time.perf_counter()
                first.append(arrived(pages, job, ("data-first",)))
                arrived(pages, job, ())
                full.append(time.perf_counter() - began)
    yield f"the pages: the demo job up to {UPTO}, {len(ASKED)} readings more, one after the other"
    yield f"{'':34}{'clock':>9}{'worst':>9}  [s]"
    for name, took in (("first look on the page", first), ("the full answer in its place", full)):
        yield f"{name:34}{np.median(took):9.3f}{max(took):9.3f}"


def arrived(pages: Pages, job: str, marks: Sequence[str]) -> float:
    """Seconds until the page has a mark, or the full answer: it is loaded, and then fetches the rest."""
    began = time.perf_counter()
    text = pages.client.get(f"{job}/causes").text
    while "data-again" in text and not any(mark in text for mark in marks):
        text = pages.client.get(f"{job}/causes/found").text
    return time.perf_counter() - began


def main() -> None:
    parser = argparse.ArgumentParser(description="How long the answers about causes take.")
    parser.add_argument("--cars", type=int, default=10)
    parser.add_argument("--seed", type=int, default=2)
    asked = parser.parse_args()
    for lines in (simulated(asked.cars, asked.seed), demo(), as_the_pages_get_it()):
        for one in lines:
            print(one, flush=True)
        print(flush=True)


if __name__ == "__main__":
    main()
