"""Repeats, quadrature, effective degrees of freedom and Student factors against JCGM 100:2008 (GUM).

Data of H.1 and H.2 as reproduced in public packages; those of 4.4.3 and the degrees of freedom of H.1
from memory.
"""

import math
from itertools import pairwise

import pytest
from achieved import PRINTED, Check, table
from scipy.optimize import brentq
from scipy.special import stdtr

from evenpour.measure.uncertainty import combine, effective_dof, student_below
from evenpour.measure.verdicts import p_conform

TOPIC = "Verdicts and uncertainty"
DIGITS = "the guide's digits"
TWENTY = Check(
    topic=TOPIC,
    source="JCGM 100:2008 (GUM), 4.4.3, twenty temperatures (from memory)",
    what="mean and its standard uncertainty",
    tolerance=PRINTED,
    because=DIGITS,
)
END_GAUGE = Check(
    topic=TOPIC,
    source="JCGM 100:2008 (GUM), H.1, end gauge",
    what="combined uncertainty, degrees of freedom, t and expanded uncertainty",
    tolerance=PRINTED,
    because=DIGITS,
)
STUDENT = Check(
    topic=TOPIC,
    source="JCGM 100:2008 (GUM), table G.2, Student's t",
    what="factor for 68.27 to 99.73 %",
    tolerance=PRINTED,
    because="the table's digits",
)
RESISTANCE = Check(
    topic=TOPIC,
    source="JCGM 100:2008 (GUM), H.2, resistance from three correlated inputs",
    what="resistance and its standard uncertainty, ohm",
    tolerance=PRINTED,
    because=DIGITS,
)
INPUTS = Check(
    topic=TOPIC,
    source="JCGM 100:2008 (GUM), H.2, resistance from three correlated inputs",
    what="means of voltage, current and phase",
    tolerance=PRINTED,
    because=DIGITS,
)
INPUT_DOUBTS = Check(
    topic=TOPIC,
    source="JCGM 100:2008 (GUM), H.2, resistance from three correlated inputs",
    what="standard uncertainties of voltage, current and phase",
    tolerance=0.01,
    relative=True,
    because="printed with two digits",
)
IF_INDEPENDENT = Check(
    topic=TOPIC,
    source="quadrature of the data of GUM H.2 without their correlations, worked out apart from this tool",
    what="uncertainty of the resistance, nearly three times too large, ohm",
    tolerance=PRINTED,
    because="worked out to three decimals",
)
LIMIT = Check(
    topic=TOPIC,
    source="the normal distribution's 1.96",
    what="Student's factor at 1000 degrees of freedom",
    tolerance=0.003,
    because="Student's t is still 0.0024 wider there",
)
IMPLEMENTATION = Check(
    topic=TOPIC,
    source="scipy.special.stdtr",
    what="Student's distribution to 10,000 degrees of freedom",
    tolerance=1e-13,
    because="two implementations in double precision",
)
IMPLEMENTATION_FAR = Check(
    topic=TOPIC,
    source="scipy.special.stdtr",
    what="Student's distribution beyond 10,000 degrees of freedom",
    tolerance=2e-5,
    because="from there on ours is the normal one",
)


def test_twenty_temperatures_have_the_printed_mean_and_uncertainty() -> None:
    # GUM 4.4.3: mean 100.145 (printed 100.14), s 1.489, s/sqrt(20) 0.333.
    read = combine([float(row["t_C"]) for row in table("gum_443_data.csv")], 0.0)
    assert read.n == 20
    TWENTY.holds([read.value, read.u], ["100.145", "0.333"])
    assert read.dof == 19


def test_the_end_gauge_has_sixteen_effective_degrees_of_freedom() -> None:
    # GUM H.1: 25, 9.7, 2.9, 16.6 nm with 18, 25.6, 50, 2 degrees of freedom; 16.7 is truncated to 16.
    parts = {"ls": (25.0, 18.0), "d": (9.7, 25.6), "alpha": (2.9, 50.0), "theta": (16.6, 2.0)}
    u = math.hypot(*(part for part, _ in parts.values()))
    END_GAUGE.holds([u, effective_dof(u, parts)], ["31.7", "16"])


def test_the_end_gauge_expanded_at_99_per_cent_is_93_nm() -> None:
    # t99(16) = 2.92; U = 2.92 * 31.7 nm = 93 nm.
    factor = half_width_holding(0.99, 16)
    END_GAUGE.holds([factor, factor * 31.7], ["2.92", "93"])


def half_width_holding(share: float, dof: int) -> float:
    """Student's factor by way of the verdict's own probability: limits k u to either side hold *share*."""
    return float(brentq(lambda k: p_conform(0.0, 1.0, -k, k, dof) - share, 0.1, 1000.0, xtol=1e-10))


@pytest.mark.parametrize("row", table("student_t.csv"), ids=lambda row: f"dof {row['dof']}")
@pytest.mark.parametrize("percent", ["68.27", "90", "95", "95.45", "99", "99.73"])
def test_student_factors_match_table_g2(row: dict[str, str], percent: str) -> None:
    STUDENT.holds(half_width_holding(float(percent) / 100.0, int(row["dof"])), row[f"p{percent}"])


def test_the_resistance_of_h2_is_reckoned_set_by_set_because_its_inputs_go_together() -> None:
    # GUM H.2: R = V/I cos(phi) = 127.732(71) ohm. Adding the three inputs' doubts as if independent gives
    # 0.195.
    sets = [
        (float(r["V_volt"]), float(r["I_mA"]) * 1e-3, float(r["phi_rad"])) for r in table("gum_h2_data.csv")
    ]
    resistance = combine([v / i * math.cos(phi) for v, i, phi in sets], 0.0)
    RESISTANCE.holds([resistance.value, resistance.u], ["127.732", "0.071"])

    v, i, phi = (combine(column, 0.0) for column in zip(*sets, strict=True))
    as_if_independent = resistance.value * math.hypot(
        v.u / v.value, i.u / i.value, math.tan(phi.value) * phi.u
    )
    IF_INDEPENDENT.holds(as_if_independent, "0.195")


def test_the_inputs_of_h2_have_the_printed_means() -> None:
    printed = {"V_volt": ("4.9990", 0.0032), "I_mA": ("19.6610", 0.0095), "phi_rad": ("1.04446", 0.00075)}
    for column, (mean, u) in printed.items():
        read = combine([float(row[column]) for row in table("gum_h2_data.csv")], 0.0)
        INPUTS.holds(read.value, mean)
        INPUT_DOUBTS.holds(read.u, u)


def test_student_factors_fall_towards_the_normal_one() -> None:
    factors = [half_width_holding(0.95, dof) for dof in (1, 2, 4, 8, 30, 1000)]
    assert all(later < sooner for sooner, later in pairwise(factors))
    LIMIT.holds(factors[-1], 1.96)


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 5, 6, 7, 16, 29, 100, 101, 5000, 20_000])
@pytest.mark.parametrize("t", [-40.0, -3.2, -1.0, 0.0, 0.3, 1.96, 12.7])
def test_students_distribution_agrees_with_another_implementation(dof: int, t: float) -> None:
    check = IMPLEMENTATION if dof <= 10_000 else IMPLEMENTATION_FAR
    check.holds(student_below(t, dof), float(stdtr(dof, t)))
