"""Wall times of whole commands."""

from __future__ import annotations

import subprocess
import sys
import time


def best_time(runs: int, *words: str) -> float:
    """Shortest wall time of *runs* runs of this Python with these arguments, [s].

    The shortest counts: what is above it is the noise of other work on the machine.
    """
    times = []
    for _ in range(runs):
        began = time.perf_counter()
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - began)
    return min(times)
