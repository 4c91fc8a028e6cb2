"""The page that tells the demo job's causes reading by reading says what the causes are now."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path

import pytest

from evenpour.job.causes.answer import case_of
from evenpour.job.demo import demo_entries
from evenpour.job.entries import Entry
from evenpour.job.job import job_from

ROOT = Path(__file__).parents[1]
NEAR = 5.0  # points of a hundred by which a share may have moved since the page was written

spec = importlib.util.spec_from_file_location("demo_causes", ROOT / "scripts" / "write_demo_causes.py")
assert spec is not None
assert spec.loader is not None
script = importlib.util.module_from_spec(spec)
spec.loader.exec_module(script)


def written() -> list[list[str]]:
    """The page's rows, cell by cell."""
    lines = (ROOT / "docs" / "demo-causes.md").read_text(encoding="utf-8").splitlines()
    table = [line for line in lines if line.startswith("| ")][2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table]


def is_cold_pressure(one: Entry) -> bool:
    return one.content.get("what") == "control_pressure_cold"


def is_exchange(one: Entry) -> bool:
    return bool(one.content.get("swaps"))


@pytest.mark.parametrize("is_it", [is_cold_pressure, is_exchange, None])
def test_the_page_tells_what_the_causes_are(is_it: Callable[[Entry], bool] | None) -> None:
    """After the pressure that is too high, after the exchange that shows the injector, and at the end."""
    entries, stretches = demo_entries(), list(script.groups())
    if is_it is None:
        count, kind = stretches[-1]
    else:
        count, kind = next(one for one in stretches if is_it(entries[one[0] - 1]))
    told = script.line(case_of(job_from("the demo", entries[:count], number=1)), None, kind, entries[:count])
    assert told is not None
    after, first = [cell.strip() for cell in told.strip("|").split("|")][:2]
    row = next(row for row in reversed(written()) if row[0] == after)
    says, share = first.removesuffix(" %").rsplit(", ", 1)
    said, was = row[1].removesuffix(" %").rsplit(", ", 1)
    assert says == said
    assert float(was) == pytest.approx(float(share), abs=NEAR)
