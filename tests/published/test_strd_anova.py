"""One-way analysis of variance against the certified values of NIST StRD.

Source: NIST Statistical Reference Datasets, analysis of variance, sets SiRstv, SmLs01 and SmLs04 (certified
to 15 digits); the probability is computed.
"""

from __future__ import annotations

import pytest
from achieved import Check, table

from evenpour.measure.anova import one_way

NIST = "NIST StRD, analysis of variance, set "
DIGITS = {
    name: Check(
        topic="Statistics",
        source=NIST + name,
        what="F, sums of squares, R² and residual deviation",
        tolerance=tolerance,
        relative=True,
        because=because,
    )
    for name, tolerance, because in (
        ("SiRstv", 1e-9, "certified to 15 digits, of which a double's sums lose some"),
        ("SmLs01", 1e-9, "certified to 15 digits, of which a double's sums lose some"),
        ("SmLs04", 1e-6, "an offset of 1e6 eats seven of a double's sixteen digits before we begin"),
    )
}
PROBABILITY = Check(
    topic="Statistics",
    source="F distribution of scipy at NIST's certified F",
    what="probability that a difference is by chance",
    tolerance=1e-4,
    relative=True,
    because="five digits given",
)
CERTIFIED = {row["dataset"]: row for row in table("anova_certified.csv")}


@pytest.mark.parametrize("name", DIGITS)
def test_one_way_analysis_matches_the_certified_values(name: str) -> None:
    groups: dict[str, list[float]] = {}
    for row in table(f"anova_{name}.csv"):
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
        DIGITS[name].holds(ours, float(certified[column]))
    PROBABILITY.holds(found.p, float(certified["p_value_computed"]))
