"""How long the server takes for each page, in a store of many jobs: a job met for the first time, and again.

Run: .venv/bin/python benchmarks/pages.py [jobs]. Asked over the loopback, one request at a time; the time is
the client's, so it holds what the server did and the way there and back.
"""

from __future__ import annotations

import random
import sys
import tempfile
import threading
import time
from pathlib import Path

import httpx
import uvicorn

from evenpour.job.demo import demo_entries
from evenpour.job.entries import Draft
from evenpour.job.shop import AT_HAND, Shop
from evenpour.job.store import Store
from evenpour.web.app import app_for
from evenpour.web.rendering import warm_up
from evenpour.web.serving import address_of, bound

ALLOWED = 100.0  # ms, 95 of 100 requests
ASKED = 60  # requests of a kind
PAGES = (
    "", "/stages", "/stages/pressures", "/steps/read_control_cold", "/steps/injector_drip_test", "/put-back",
    "/enter", "/read/compression", "/readings", "/catch", "/history", "/record", "/news",
)  # fmt: skip


def main() -> None:
    """Fill a store, ask every page of it, print the times."""
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as folder, Store(Path(folder) / "jobs.db") as store:
        filled(store, jobs)
        warm_up()
        with bound(0) as opened, httpx.Client(base_url=address_of(opened), timeout=60.0) as client:
            server = uvicorn.Server(uvicorn.Config(app_for(Shop(store)), log_level="warning"))
            thread = threading.Thread(target=server.run, kwargs={"sockets": [opened]}, daemon=True)
            thread.start()
            client.get("/jobs/1")  # what is loaded once
            ask(client, jobs)
            server.should_exit = True
            thread.join(10)


def filled(store: Store, jobs: int) -> None:
    """Jobs half way through: 149 entries and twelve catches each."""
    told = demo_entries()
    upto = next(place for place, one in enumerate(told, 1) if one.id == "injectors-full-1")
    drafts = [Draft(one.kind, one.content, one.id, one.at) for one in told[:upto]]
    began = time.perf_counter()
    for _ in range(jobs):
        store.import_job(drafts)
    print(f"{jobs} jobs of {upto} entries kept in {time.perf_counter() - began:.0f} s")


def ask(client: httpx.Client, jobs: int) -> None:
    """Every kind of page, of jobs not met before and of jobs at hand."""
    draw = random.Random(7)
    print(f"{'page':30} {'first, p95':>12} {'again, p50':>12} {'again, p95':>12}   [ms]")
    for path in ("/", "/?q=coupé&leaf=3", *PAGES):
        of_a_job = path in PAGES
        strangers = [draw.randint(1, jobs) for _ in range(ASKED)]
        friends = strangers[:: ASKED // (AT_HAND // 2)]
        first = sorted(took(client, path, number if of_a_job else 0) for number in strangers)
        for number in friends:
            took(client, path, number if of_a_job else 0)
        again = sorted(took(client, path, number if of_a_job else 0) for number in friends * 5)
        late = [times[int(0.95 * len(times))] for times in (first, again)]
        verdict = "within" if late[1] <= ALLOWED else "OVER"
        middle = again[len(again) // 2]
        print(
            f"{path or 'the job at a glance':30} {late[0]:12.1f} {middle:12.1f} {late[1]:12.1f}   {verdict}"
        )
    print(f"figure to reach: 95 of 100 within {ALLOWED:.0f} ms")


def took(client: httpx.Client, path: str, number: int) -> float:
    """Milliseconds for one request."""
    address = f"/jobs/{number}{path}" if number else path
    began = time.perf_counter()
    client.get(address).raise_for_status()
    return 1000.0 * (time.perf_counter() - began)


if __name__ == "__main__":
    main()
