"""Checks against published values, and how near we came.

Every test in this folder holds our values against values from outside through a :class:`Check`, made once at
the top of its module. A check says where the values are from and how near we must come and why; it keeps the
largest difference met, from which ``scripts/write_checked.py`` writes docs/checked-against.md::

    from achieved import PRINTED, Check, table

    PRESSURE = Check(
        topic="Air",                                     # heading on the page
        source="ISO 2533:1975, standard atmosphere",     # "... (from memory)" where it is
        what="pressure over altitude",
        tolerance=0.5, unit="Pa",
        because="the table is rounded to 0.1 Pa and its exponent to five decimals",
    )

    @pytest.mark.parametrize("row", table("standard_atmosphere.csv"))
    def test_pressure_matches_the_standard_atmosphere(row):
        PRESSURE.holds(standard_pressure(float(row["H_m"])), float(row["p_Pa"]))

``relative=True`` takes the tolerance as a share of the published value. ``tolerance=PRINTED`` is half the
last digit printed: then give the published values as text ("1.0581"). Arrays are held value by value; shapes
must be equal. Every test function here holds something: a law or a property belongs into tests/, not here.

Tables lie in ``data/``; lines that begin with # say where they are from.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

DATA = Path(__file__).parent / "data"
PRINTED = "half the last digit printed"
ROUNDING = 1e-9  # of the tolerance: a value halfway between two printed ones may fall to either

CHECKS: list[Check] = []


def table(name: str) -> list[dict[str, str]]:
    """Rows of a table in ``data/``, as text."""
    with (DATA / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@dataclass(slots=True)
class Check:
    """Values from one source that ours must meet."""

    topic: str
    source: str
    what: str
    tolerance: float | str  # [unit], or a share of the published value, or PRINTED
    because: str
    unit: str = ""
    relative: bool = False
    values: int = field(default=0, init=False)
    largest: float = field(default=0.0, init=False)  # measured as the tolerance is

    def __post_init__(self) -> None:
        if any(one.key == self.key for one in CHECKS):
            raise ValueError(f"this check stands twice: {self.key}")
        for name in ("topic", "source", "what", "because"):
            if not getattr(self, name) or "|" in getattr(self, name) or "\n" in getattr(self, name):
                raise ValueError(f"{name} must be one line of words without |: {getattr(self, name)!r}")
        if self.tolerance != PRINTED and not float(self.tolerance) > 0.0:
            raise ValueError("a tolerance is above zero")
        CHECKS.append(self)

    @property
    def key(self) -> tuple[str, str, str]:
        """What the page lists it by."""
        return (self.topic, self.source, self.what)

    def holds(self, ours: Any, published: Any) -> None:
        """Demand that every one of *ours* meets its *published* value, and keep the largest difference."""
        mine = np.asarray(ours, dtype=np.float64)
        theirs = np.asarray(published, dtype=np.float64)
        assert mine.shape == theirs.shape, f"{mine.shape} values of ours, {theirs.shape} published"
        assert mine.size, "nothing to compare"
        difference = np.abs(mine - theirs) / self._scale(published, theirs)
        allowed = 1.0 if self.tolerance == PRINTED else float(self.tolerance)
        met = difference <= allowed * (1.0 + ROUNDING)  # false for nan
        worst = np.unravel_index(np.argmax(np.where(np.isnan(difference), np.inf, difference)), mine.shape)
        assert np.all(met), (
            f"{self.what}: ours {mine[worst]:.10g}, published {theirs[worst]:.10g} ({self.source}); "
            f"difference {difference[worst]:.3g} where {allowed:g} is allowed"
        )
        self.values += mine.size
        self.largest = max(self.largest, float(np.max(difference)))

    def _scale(self, published: Any, theirs: Any) -> Any:
        """What a difference is measured in."""
        if self.tolerance == PRINTED:
            texts = np.asarray(published)
            assert texts.dtype.kind in "UO", "with PRINTED, published values are given as text"
            return np.vectorize(half_a_digit, otypes=[np.float64])(texts)
        return np.abs(theirs) if self.relative else 1.0


def half_a_digit(printed: str) -> float:
    """Half of the last digit printed: 0.00005 of "1.0581", 0.5 of "104"."""
    mantissa, _, exponent = printed.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return 0.5 * math.pow(10.0, int(exponent or 0) - decimals)


def by_topic() -> Iterator[tuple[str, list[Check]]]:
    """Checks that exist so far, topic by topic in alphabetical order."""
    for topic in sorted({check.topic for check in CHECKS}):
        yield topic, [check for check in CHECKS if check.topic == topic]
