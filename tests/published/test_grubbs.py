"""Grubbs' test against its tables and the worked example of the handbook.

Sources: critical values as ASTM E178 and Grubbs and Beck 1972 print them where remembered, else computed from
the formula (see the head of the table); worked example: NIST/SEMATECH e-Handbook of Statistical Methods,
1.3.5.17.1, uranium data of Tietjen and Moore 1972.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from evenpour.measure.plain_look import grubbs, grubbs_critical

TABLES = Path(__file__).parent / "tables"


def rows(name: str) -> list[dict[str, str]]:
    with (TABLES / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@pytest.mark.parametrize("row", rows("grubbs_critical.csv"), ids=lambda row: f"n {row['n']}")
def test_critical_values_match_the_table(row: dict[str, str]) -> None:
    for column, printed in row.items():
        if column == "n":
            continue
        sided, _, alpha = column.rpartition("_")
        ours = grubbs_critical(int(row["n"]), float(alpha), two_sided=sided == "two_sided")
        assert ours == pytest.approx(
            float(printed), abs=0.6e-4
        )  # half of the last digit given, and a rounding


@pytest.mark.parametrize(
    ("n", "printed"), [(3, 1.153), (4, 1.463), (6, 1.822), (8, 2.032), (10, 2.176), (12, 2.285)]
)
def test_one_sided_five_per_cent_values_are_those_everybody_prints(n: int, printed: float) -> None:
    assert grubbs_critical(n, two_sided=False) == pytest.approx(printed, abs=0.6e-3)


def test_the_handbooks_example_comes_out() -> None:
    values = [float(row["x"]) for row in rows("grubbs_tietjen_moore.csv")]
    index, g = grubbs(values)
    assert values[index] == 245.57
    assert g == pytest.approx(2.468765, abs=0.5e-6)
    assert grubbs_critical(8, two_sided=False) == pytest.approx(2.031652, abs=0.5e-6)
    assert grubbs_critical(8) == pytest.approx(2.1266, abs=0.5e-4)


def test_with_three_values_the_statistic_can_hardly_pass_its_critical_value() -> None:
    assert grubbs([1.0, 1.0, 9.0])[1] == pytest.approx(1.1547, abs=0.5e-4)
    assert 1.1547 - grubbs_critical(3) < 1e-3
