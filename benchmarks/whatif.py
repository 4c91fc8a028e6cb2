"""How long `evenpour whatif` takes to answer in a process that is up: what a slider on a page waits for.

Run: .venv/bin/python benchmarks/whatif.py [runs]. The median counts, of the time on the processor, to which
other work on the machine adds little.
"""

from __future__ import annotations

import statistics
import sys
import time

from evenpour.job.whatif.worked_out import whatif

ALLOWED = 0.150  # s, on one core of an ordinary laptop
ASKED = {
    "nothing set": (),
    "mixture screw": ("mixture_screw=+0.25turn",),
    "altitude": ("altitude=2000m",),
    "clogged injector": ("injector_restricted[4]=0.5",),
    "five at once": (
        "altitude=1500m",
        "fuel=E10",
        "mixture_screw=-0.1turn",
        "air_leak_common=0.3",
        "pump_voltage=10V",
    ),
    "engine stalls": ("spark_none=1",),
}


def main() -> None:
    """Measure some questions on the largest engine, answer written as JSON and all."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    start = time.perf_counter()
    whatif("vee-eight")
    print(f"first answer of a sheet  {1e3 * (time.perf_counter() - start):6.0f} ms   once, then kept")
    for name, settings in ASKED.items():
        took, size = [], 0
        for _ in range(runs):
            begun = time.process_time()
            size = len(whatif("vee-eight", settings).model_dump_json())
            took.append(time.process_time() - begun)
        middle = statistics.median(took)
        verdict = "within" if middle <= ALLOWED else "OVER"
        print(f"{name:24} {1e3 * middle:6.0f} ms   {size / 1000:.0f} kB   {verdict}")
    print(f"figure to reach          {1e3 * ALLOWED:6.0f} ms")


if __name__ == "__main__":
    main()
