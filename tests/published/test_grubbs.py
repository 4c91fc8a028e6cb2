"""Grubbs' test against its tables and the worked example of the handbook.

Sources: critical values as ASTM E178 and Grubbs and Beck 1972 print them where remembered, else computed from
the formula (see the head of the table); worked example: NIST/SEMATECH e-Handbook of Statistical Methods,
1.3.5.17.1, uranium data of Tietjen and Moore 1972.
"""

from __future__ import annotations

import pytest
from achieved import PRINTED, Check, table

from evenpour.measure.plain_look import grubbs, grubbs_critical

CRITICAL = Check(
    topic="Statistics",
    source="Grubbs' formula from Student's t, worked out apart from this tool",
    what="critical values, one-sided and two-sided",
    tolerance=0.6e-4,
    because="half of the last digit given, and a rounding",
)
EVERYBODYS = Check(
    topic="Statistics",
    source="ASTM E178, Grubbs and Beck 1972 (from memory)",
    what="critical values, one-sided, 5 %",
    tolerance=0.6e-3,
    because="half of the last digit printed, and a rounding",
)
HANDBOOK = Check(
    topic="Statistics",
    source="NIST/SEMATECH e-Handbook 1.3.5.17.1, uranium data of Tietjen and Moore 1972",
    what="Grubbs' statistic and its critical values",
    tolerance=PRINTED,
    because="the handbook's digits",
)
LARGEST = Check(
    topic="Statistics",
    source="(n - 1)/sqrt(n), the largest that Grubbs' statistic can be",
    what="the statistic of three values of which one is far off",
    tolerance=PRINTED,
    because="given to four decimals",
)


@pytest.mark.parametrize("row", table("grubbs_critical.csv"), ids=lambda row: f"n {row['n']}")
def test_critical_values_match_the_table(row: dict[str, str]) -> None:
    for column, printed in row.items():
        if column == "n":
            continue
        sided, _, alpha = column.rpartition("_")
        ours = grubbs_critical(int(row["n"]), float(alpha), two_sided=sided == "two_sided")
        CRITICAL.holds(ours, float(printed))


@pytest.mark.parametrize(
    ("n", "printed"), [(3, 1.153), (4, 1.463), (6, 1.822), (8, 2.032), (10, 2.176), (12, 2.285)]
)
def test_one_sided_five_per_cent_values_are_those_everybody_prints(n: int, printed: float) -> None:
    EVERYBODYS.holds(grubbs_critical(n, two_sided=False), printed)


def test_the_handbooks_example_comes_out() -> None:
    values = [float(row["x"]) for row in table("grubbs_tietjen_moore.csv")]
    index, g = grubbs(values)
    assert values[index] == 245.57
    HANDBOOK.holds(g, "2.468765")
    HANDBOOK.holds(grubbs_critical(8, two_sided=False), "2.031652")
    HANDBOOK.holds(grubbs_critical(8), "2.1266")


def test_with_three_values_the_statistic_can_hardly_pass_its_critical_value() -> None:
    LARGEST.holds(grubbs([1.0, 1.0, 9.0])[1], "1.1547")
    assert 1.1547 - grubbs_critical(3) < 1e-3
