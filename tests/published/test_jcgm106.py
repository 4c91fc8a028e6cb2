"""Probability of conformity against JCGM 106:2012 and a table of cases of the same model.

The examples of JCGM 106 are quoted from memory, not verified; their rounded answers agree with the formula.
"""

import pytest
from achieved import Check, table

from evenpour.measure.verdicts import p_conform, word_for

CASES = Check(
    topic="Verdicts and uncertainty",
    source="JCGM 106:2012, normal model, worked out apart from this tool",
    what="probability of conformity",
    tolerance=0.5e-5,
    because="half the last digit of the table",
)
EXAMPLES = Check(
    topic="Verdicts and uncertainty",
    source="JCGM 106:2012, its examples: burst strength, oil viscosity (from memory)",
    what="probability of conformity",
    tolerance=0.005,
    because="the guide prints two decimals",
)
SPEED = Check(
    topic="Verdicts and uncertainty",
    source="JCGM 106:2012, its example of a speed limit (from memory)",
    what="probability of having been too fast at the threshold",
    tolerance=2e-4,
    because="the threshold is rounded to 0.1 km/h, which is worth as much",
)
GUARDED = Check(
    topic="Verdicts and uncertainty",
    source="ISO 14253-1, guard band of two standard uncertainties (rule seen described)",
    what="whether a reading is proven to conform (1) or not (0)",
    tolerance=0.5,
    because="a verdict is one or the other; ours has another threshold, 0.95, but may not contradict it",
)


def number(text: str) -> float | None:
    return float(text) if text else None


@pytest.mark.parametrize("row", table("conformity.csv"), ids=lambda row: f"{row['case']} {row['measured']}")
def test_the_probability_of_conformity_matches_the_table(row: dict[str, str]) -> None:
    p = p_conform(
        float(row["measured"]),
        float(row["std_uncertainty"]),
        number(row["lower_limit"]),
        number(row["upper_limit"]),
    )
    CASES.holds(p, float(row["p_conform_normal"]))


@pytest.mark.parametrize(
    ("y", "u", "low", "high", "printed"),
    [(509.7, 8.6, 490.0, None, 0.99), (13.6, 1.8, 12.5, 16.3, 0.66)],
    ids=["burst strength, kPa", "oil viscosity"],
)
def test_the_examples_of_the_guide_come_out_as_printed(
    y: float, u: float, low: float | None, high: float | None, printed: float
) -> None:
    EXAMPLES.holds(p_conform(y, u, low, high), printed)


def test_the_speed_threshold_of_the_guide_leaves_one_driver_in_a_thousand() -> None:
    # Limit 100 km/h, relative u 2 %, 99.9 % sure: the guide charges from 107 km/h (106.6 before rounding up).
    SPEED.holds(1.0 - p_conform(106.6, 0.02 * 106.6, None, 100.0), 0.999)


@pytest.mark.parametrize("row", table("conformity.csv"), ids=lambda row: f"{row['case']} {row['measured']}")
def test_what_a_guard_band_of_two_u_calls_conforming_we_never_call_outside(row: dict[str, str]) -> None:
    word = word_for(float(row["p_conform_normal"]))
    GUARDED.holds(word == "within", row["rule_w=2u_guard(U,k=2)"] == "conforms")
    assert word != "outside"
