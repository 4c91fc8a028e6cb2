"""The long tests, which ``make soak`` runs: whole jobs through a browser, every page looked at."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
