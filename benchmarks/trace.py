"""How long `evenpour trace` takes for a drive of five million rows, and how much room: read, fitted and
plotted.

    python benchmarks/trace.py [rows]

The file has six columns. Beside it, in the same run: the file's bytes read and nothing done with them, and
the six columns taken in by the CSV reader of pyarrow alone. The ratios carry over to other machines, the
seconds do not. Time is that of the wall; the processor's own is given too, for a machine with other work on
it.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
from pyarrow import csv

ALLOWED_TIME, ALLOWED_ROOM = 5.0, 1.5e9  # s, bytes, on two cores of an ordinary laptop
ROWS = 5_000_000
PART = 500_000
TRIES = 3  # of which the best counts: other work on the machine only ever makes it slower


def main() -> None:
    """Make the drive, measure, and print beside the figures to reach."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else ROWS
    with tempfile.TemporaryDirectory() as folder:
        file, chart = Path(folder) / "drive.csv", Path(folder) / "drive.svg"
        _write(file, rows)
        print(f"{rows:,} rows x 6 columns, {file.stat().st_size / 1e6:.0f} MB")
        bytes_only = _said("bytes alone", f"open({str(file)!r}, 'rb').read()")
        plain = _said("columns by pyarrow alone", f"import pyarrow.csv as c; c.read_csv({str(file)!r})")
        words = [
            "trace",
            str(file),
            "--kind",
            "running",
            "--sheet",
            "flat-six",
            "--warm",
            "--chart",
            str(chart),
        ]
        run = f"from evenpour.cli import main; main({words!r})"
        took, room = min(_said("evenpour trace, chart and all", run) for _ in range(TRIES))
        print(f"  {took / plain[0]:.1f} times the columns alone, {took / bytes_only[0]:.1f} times the bytes")
        verdict = "within" if took <= ALLOWED_TIME and room <= ALLOWED_ROOM else "OVER"
        print(f"figure to reach {ALLOWED_TIME:20.2f} s {ALLOWED_ROOM / 1e6:8.0f} MB   {verdict}")
        assert chart.stat().st_size > 1000


def _write(file: Path, rows: int) -> None:
    """A drive at a hundred readings a second: idle and held speeds, by parts, so that making it needs no
    room.
    """
    random = np.random.default_rng(1)
    names = ["Time (s)", "Speed (rpm)", "Air (g/s)", "Lambda", "MAP (kPa)", "Oil (°C)"]
    with file.open("wb") as out:
        for start in range(0, rows, PART):
            time_ = np.arange(start, min(start + PART, rows)) * 0.01
            level = (
                np.random.default_rng(start)
                .uniform(0.0, 1.0, time_.size // 1500 + 1)
                .repeat(1500)[: time_.size]
            )
            speed, load = 900.0 + 2600.0 * level, 33.0 + 64.0 * np.roll(level, 7000)
            air = 3.1 * speed / 900.0 * load / 33.0
            lambda_ = 1.0 / (1.06 + 0.05 * 3.1 / air) + random.normal(0.0, 0.01, time_.size)
            columns = [
                np.round(time_, 2),
                np.round(speed + random.normal(0.0, 5.0, time_.size)),
                np.round(air * (1.0 + random.normal(0.0, 0.005, time_.size)), 2),
                np.round(lambda_, 3),
                np.round(load + random.normal(0.0, 0.2, time_.size), 1),
                np.full(time_.size, 85.0),
            ]
            table = pa.table(dict(zip(names, columns, strict=True)))
            csv.write_csv(table, out, csv.WriteOptions(include_header=start == 0))


def _said(what: str, program: str) -> tuple[float, float]:
    """Wall time and the most room a program of its own took, printed."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.perf_counter()
    ends = f"{program}\nimport resource; r = resource.getrusage(resource.RUSAGE_SELF); print(r.ru_maxrss)"
    told = subprocess.run([sys.executable, "-c", ends], check=True, capture_output=True, text=True)
    took = time.perf_counter() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    room = 1024.0 * float(told.stdout.split()[-1]) if told.stdout.split() else 0.0
    print(f"{what:32}{took:8.2f} s {room / 1e6:8.0f} MB   processor {spent:.2f} s")
    return took, room


if __name__ == "__main__":
    main()
