"""Costly rows that several tests judge: worked out once a run of the tests, by all its workers in turn."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

Row = dict[str, Any]
LONGEST = 900.0  # s, after which a worker that took a row and never brought it is given up


def folder_of_run(made: pytest.TempPathFactory, name: str) -> Path:
    """A folder that all workers of this run share."""
    base = made.getbasetemp()
    folder = (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / name
    folder.mkdir(exist_ok=True)
    return folder


def rows_of(folder: Path, work: Mapping[str, Callable[[], Row]]) -> dict[str, Row]:
    """Every row by its name. Whoever comes takes the next that nobody took, and waits for the last."""
    for name, make in work.items():
        try:
            os.close(os.open(folder / f"{name}.taken", os.O_CREAT | os.O_EXCL))
        except FileExistsError:
            continue
        part = folder / f"{name}.part"
        part.write_text(json.dumps(make()))
        part.rename(folder / f"{name}.json")
    given_up = time.monotonic() + LONGEST
    while missing := [name for name in work if not (folder / f"{name}.json").exists()]:
        assert time.monotonic() < given_up, f"no row of {missing}"
        time.sleep(0.1)
    return {name: json.loads((folder / f"{name}.json").read_text()) for name in work}
