"""How long the server takes for each page, in a store of many jobs: of a job not opened lately, and again.

No two jobs caught the same amounts. What a job's catches say is kept on disk once it was opened: how long a
job takes whose catches were never weighed is measured first. Then the what-if bench: ten changes one after
the other, each asked for twenty times as an open page asks.

Run: .venv/bin/python benchmarks/pages.py [jobs]. Asked over the loopback, one request at a time. "clock" is
what the client waited, "work" the processor's time of server and client together: on a machine with other
work to do only the latter tells of the pages.
"""

from __future__ import annotations

import os
import random
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line sets it

import httpx
import uvicorn

from evenpour.job.catch import catching
from evenpour.job.demo import demo_entries
from evenpour.job.entries import Draft
from evenpour.job.sheet.found import copy_sheet
from evenpour.job.shop import AT_HAND, Shop
from evenpour.job.store import Store
from evenpour.web.app import app_for
from evenpour.web.rendering import warm_up
from evenpour.web.serving import address_of, bound

ALLOWED = 100.0  # ms, 95 of 100 requests
BENCH_ALLOWED = 150.0  # ms, every change
BENCH_ASKED = 20  # times a change, each time by another amount
BENCHES = ("flat-six", "vee-eight")
CHANGES = {  # from, to, unit
    "mixture_screw": (-0.5, 0.5, "turn"),
    "altitude": (100.0, 2500.0, "m"),
    "ambient_temperature": (-10.0, 35.0, "degC"),
    "system_setting": (4.2, 5.2, "bar"),
    "warm_setting": (3.3, 3.9, "bar"),
    "pump_voltage": (8.0, 13.0, "V"),
    "air_leak_common": (0.05, 0.9, ""),
    "injector_restricted[4]": (0.05, 0.9, ""),
    "plunger_sticks": (0.05, 0.9, ""),
    "non_return_valve_leaks": (0.05, 0.9, ""),
}
ASKED = 60  # requests of a kind
OPENED = 200  # jobs, eight times as many as are kept at hand
PAGES = (
    "", "/stages", "/stages/pressures", "/steps/read_control_cold", "/steps/injector_drip_test", "/put-back",
    "/enter", "/read/compression", "/readings", "/catch", "/history", "/record", "/news", "/causes", "/screw",
    "/gas?co=1.5&co2=13.9&o2=0.6&hc=180&fuel=E5", "/spark", "/spark/compression", "/traces",
    "/sheet", "/photos",
)  # fmt: skip
SHOP_PAGES = (
    "/", "/?q=coupé&leaf=3", "/jobs/new", "/instruments", "/instruments?leaf=3", "/sheets",
    "/sheets/flat-six", "/sheets/ours", "/sheets/ours/edit", "/sheets/ours/edit/2",
)  # fmt: skip


def main() -> None:
    """Fill a store, ask every page of it, print the times."""
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as folder, Store(Path(folder) / "jobs.db") as store:
        os.environ["EVENPOUR_HOME"] = folder  # answers are kept there
        filled(store, jobs)
        copy_sheet("flat-six", "ours", None)
        app = app_for(Shop(store))
        warm_up()
        with bound(0) as opened, httpx.Client(base_url=address_of(opened), timeout=60.0) as client:
            server = uvicorn.Server(uvicorn.Config(app, log_level="warning"))
            thread = threading.Thread(target=server.run, kwargs={"sockets": [opened]}, daemon=True)
            thread.start()
            client.get("/jobs/1")  # what is loaded once
            ask(client, jobs)
            move(client)
            server.should_exit = True
            thread.join(10)


def filled(store: Store, jobs: int) -> None:
    """Jobs half way through: 149 entries and twelve catches each."""
    told = demo_entries()
    upto = next(place for place, one in enumerate(told, 1) if one.id == "injectors-full-1")
    draw = random.Random(11)
    began = time.perf_counter()
    for _ in range(jobs):
        store.import_job([Draft(one.kind, _poured(one.content, draw), one.id, one.at) for one in told[:upto]])
    print(f"{jobs} jobs of {upto} entries kept in {time.perf_counter() - began:.0f} s")


def _poured(content: Mapping[str, Any], draw: random.Random) -> Mapping[str, Any]:
    """The entry, and of a catch other amounts, by some per cent."""
    if "amounts" not in content:
        return content
    return {**content, "amounts": [_by_some(str(typed), draw) for typed in content["amounts"]]}


def _by_some(typed: str, draw: random.Random) -> str:
    figure, _, unit = typed.partition(" ")
    return f"{float(figure) * draw.gauss(1.0, 0.01):.2f} {unit}" if unit else typed


def ask(client: httpx.Client, jobs: int) -> None:
    """Every kind of page, of jobs not opened lately and of jobs at hand."""
    draw = random.Random(7)
    known = draw.sample(range(2, jobs + 1), min(OPENED, jobs - 1))
    times = [took(client, "", number) for number in known]
    figures = [late([one[kind] for one in times]) for kind in (0, 1)]
    print(f"a job never opened before, at a glance: {figures[0]:.1f} by the clock, {figures[1]:.1f} of work")
    print(f"{'':30} {'not lately':^17} {'again':^17}   95 of 100 within, [ms]")
    print(f"{'page':30} {'clock':>8} {'work':>8} {'clock':>8} {'work':>8}")
    for path in (*SHOP_PAGES, *PAGES):
        strangers = draw.sample(known, min(ASKED, len(known))) if path in PAGES else [0] * ASKED
        catching._evenness.cache_clear()  # as in a server just started
        friends = strangers[: AT_HAND // 2]
        first = [took(client, path, number) for number in strangers]
        for number in friends:
            took(client, path, number)
        again = [took(client, path, number) for number in friends * 5]
        figures = [late([one[kind] for one in times]) for times in (first, again) for kind in (0, 1)]
        verdict = "within" if max(figures[1], figures[3]) <= ALLOWED else "OVER"
        row = " ".join(f"{figure:8.1f}" for figure in figures)
        print(f"{path or 'the job at a glance':30} {row}   {verdict}")
    print(f"figure to reach: {ALLOWED:.0f} ms")


def move(client: httpx.Client) -> None:
    """The bench of each engine, moved in ten ways, server and drawing: answer and all that is drawn anew."""
    print(f"{'what-if bench':30} {'middle':>8} {'worst':>8}   work, [ms]")
    for sheet in BENCHES:
        client.get(f"/what-if/live?sheet={sheet}").raise_for_status()  # the healthy car is kept
        for name, (low, high, unit) in CHANGES.items():
            times = []
            for step in range(BENCH_ASKED):
                amount = low + (high - low) * step / BENCH_ASKED
                asked = urlencode({"sheet": sheet, "other.1": f"{name}={amount:.3f}{unit}"})
                times.append(took(client, f"/what-if/live?{asked}", 0)[1])
            middle, worst = statistics.median(times), max(times)
            verdict = "within" if worst <= BENCH_ALLOWED else "OVER"
            print(f"{f'{sheet}, {name}':30} {middle:8.1f} {worst:8.1f}   {verdict}")
    print(f"figure to reach: {BENCH_ALLOWED:.0f} ms")


def late(times: list[float]) -> float:
    """What 95 of 100 stay within."""
    return sorted(times)[int(0.95 * len(times))]


def took(client: httpx.Client, path: str, number: int) -> tuple[float, float]:
    """Milliseconds for one request: by the clock, and of the processor."""
    address = f"/jobs/{number}{path}" if number else path
    began, worked = time.perf_counter(), time.process_time()
    client.get(address).raise_for_status()
    return 1000.0 * (time.perf_counter() - began), 1000.0 * (time.process_time() - worked)


if __name__ == "__main__":
    main()
