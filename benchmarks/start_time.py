"""How long `evenpour --help` takes, beside an interpreter that does nothing.

Run: .venv/bin/python benchmarks/start_time.py [runs]. The best of all runs counts: what is above it is the
noise of other work on the machine. The ratio carries over to other machines, the seconds do not.
"""

from __future__ import annotations

import sys

from common.timing import best_time

ALLOWED = 0.25  # s, on two cores of an ordinary laptop


def main() -> None:
    """Measure both, and print them with the figure to reach."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    nothing = best_time(runs, "-c", "pass")
    helped = best_time(runs, "-m", "evenpour", "--help")
    verdict = "within" if helped <= ALLOWED else "OVER"
    print(f"python -c pass      {1000 * nothing:6.0f} ms   best of {runs}")
    print(f"evenpour --help     {1000 * helped:6.0f} ms   {helped / nothing:.1f} times as long")
    print(f"figure to reach     {1000 * ALLOWED:6.0f} ms   {verdict}")


if __name__ == "__main__":
    main()
