"""One-way analysis of variance against the certified values of NIST StRD.

Source: NIST Statistical Reference Datasets, analysis of variance, sets SiRstv, SmLs01 and SmLs04 (certified
to 15 digits); the probability is computed.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from evenpour.measure.anova import one_way

TABLES = Path(__file__).parent / "tables"


def rows(name: str) -> list[dict[str, str]]:
    with (TABLES / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


CERTIFIED = {row["dataset"]: row for row in rows("anova_certified.csv")}


@pytest.mark.parametrize(
    ("name", "digits"),
    [
        ("SiRstv", 1e-9),
        ("SmLs01", 1e-9),
        # SmLs04 sits on an offset of 1e6, which eats seven of a double's sixteen digits before we begin.
        ("SmLs04", 1e-6),
    ],
)
def test_one_way_analysis_matches_the_certified_values(name: str, digits: float) -> None:
    groups: dict[str, list[float]] = {}
    for row in rows(f"anova_{name}.csv"):
        groups.setdefault(row["treatment"], []).append(float(row["response"]))
    found, certified = one_way(list(groups.values())), CERTIFIED[name]
    assert (found.dof_between, found.dof_within) == (
        int(certified["df_between"]),
        int(certified["df_within"]),
    )
    for ours, column in (
        (found.f, "F_certified"),
        (found.between, "SS_between"),
        (found.within, "SS_within"),
        (found.r_squared, "R2_certified"),
        (found.sd_within, "resid_sd_certified"),
    ):
        assert ours == pytest.approx(float(certified[column]), rel=digits)
    assert found.p == pytest.approx(float(certified["p_value_computed"]), rel=1e-4)  # 5 digits given
