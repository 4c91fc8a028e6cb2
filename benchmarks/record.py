"""How long `evenpour record` takes for the demo job, interpreter and all, beside one that does nothing.

Run: .venv/bin/python benchmarks/record.py [runs]. The best of all runs counts: what is above it is the noise
of other work on the machine.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from common.timing import best_time

ALLOWED = 2.0  # s, on two cores of an ordinary laptop
DEMO = Path(__file__).resolve().parent.parent / "src" / "evenpour" / "data" / "demo.toml"


def main() -> None:
    """Measure both kinds of record, and print them with the figure to reach."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    nothing = best_time(runs, "-c", "pass")
    print(f"python -c pass           {nothing:6.2f} s   best of {runs}")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["EVENPOUR_HOME"] = folder  # answers are kept there
        for ending, causes in (("pdf", "without causes"), ("html", "without causes"), ("pdf", "causes kept")):
            file = Path(folder) / f"record.{ending}"
            if causes == "causes kept":
                once = ("-m", "evenpour", "record", str(DEMO), "-o", str(file), "--causes")
                subprocess.run([sys.executable, *once], check=True, capture_output=True)
            took = best_time(runs, "-m", "evenpour", "record", str(DEMO), "-o", str(file))
            size = f"{file.stat().st_size / 1000:.0f} kB"
            verdict = "within" if took <= ALLOWED else "OVER"
            print(f"record as {ending:5}{causes:15}{took:6.2f} s   {size}   {verdict}")
    print(f"figure to reach          {ALLOWED:6.2f} s")


if __name__ == "__main__":
    main()
