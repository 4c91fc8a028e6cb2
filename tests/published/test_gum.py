"""Repeats, quadrature, effective degrees of freedom and Student factors against JCGM 100:2008 (GUM).

Data of H.1 and H.2 as reproduced in public packages; those of 4.4.3 and the degrees of freedom of H.1
from memory.
"""

import csv
import math
from itertools import pairwise
from pathlib import Path

import pytest
from scipy.optimize import brentq
from scipy.special import stdtr

from evenpour.measure.uncertainty import combine, effective_dof, student_below
from evenpour.measure.verdicts import p_conform

TABLES = Path(__file__).parent / "tables"


def rows(name: str) -> list[dict[str, str]]:
    with (TABLES / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_twenty_temperatures_have_the_printed_mean_and_uncertainty() -> None:
    # GUM 4.4.3: mean 100.145 (printed 100.14), s 1.489, s/sqrt(20) 0.333.
    read = combine([float(row["t_C"]) for row in rows("gum_443_data.csv")], 0.0)
    assert read.n == 20
    assert read.value == pytest.approx(100.145, abs=0.0005)
    assert read.u == pytest.approx(0.333, abs=0.0005)
    assert read.dof == 19


def test_the_end_gauge_has_sixteen_effective_degrees_of_freedom() -> None:
    # GUM H.1: 25, 9.7, 2.9, 16.6 nm with 18, 25.6, 50, 2 degrees of freedom; 16.7 is truncated to 16.
    parts = {"ls": (25.0, 18.0), "d": (9.7, 25.6), "alpha": (2.9, 50.0), "theta": (16.6, 2.0)}
    u = math.hypot(*(part for part, _ in parts.values()))
    assert u == pytest.approx(31.7, abs=0.05)
    assert effective_dof(u, parts) == 16


def test_the_end_gauge_expanded_at_99_per_cent_is_93_nm() -> None:
    # t99(16) = 2.92; U = 2.92 * 31.7 nm = 93 nm.
    factor = half_width_holding(0.99, 16)
    assert factor == pytest.approx(2.92, abs=0.005)
    assert factor * 31.7 == pytest.approx(93.0, abs=0.5)


def half_width_holding(share: float, dof: int) -> float:
    """Student's factor by way of the verdict's own probability: limits k u to either side hold *share*."""
    return float(brentq(lambda k: p_conform(0.0, 1.0, -k, k, dof) - share, 0.1, 1000.0, xtol=1e-10))


@pytest.mark.parametrize("row", rows("student_t.csv"), ids=lambda row: f"dof {row['dof']}")
@pytest.mark.parametrize("percent", ["68.27", "90", "95", "95.45", "99", "99.73"])
def test_student_factors_match_table_g2(row: dict[str, str], percent: str) -> None:
    printed = row[f"p{percent}"]
    # Half the last printed digit; shares such as 68.27 % are themselves rounded, worth 2e-4 of the factor
    # at most.
    assert half_width_holding(float(percent) / 100.0, int(row["dof"])) == pytest.approx(
        float(printed), abs=0.5 * 10.0 ** -len(printed.partition(".")[2]), rel=2e-4
    )


def test_the_resistance_of_h2_is_reckoned_set_by_set_because_its_inputs_go_together() -> None:
    # GUM H.2: R = V/I cos(phi) = 127.732(71) ohm. Adding the three inputs' doubts as if independent gives
    # 0.195.
    sets = [
        (float(r["V_volt"]), float(r["I_mA"]) * 1e-3, float(r["phi_rad"])) for r in rows("gum_h2_data.csv")
    ]
    resistance = combine([v / i * math.cos(phi) for v, i, phi in sets], 0.0)
    assert resistance.value == pytest.approx(127.732, abs=0.0005)
    assert resistance.u == pytest.approx(0.071, abs=0.0005)

    v, i, phi = (combine(column, 0.0) for column in zip(*sets, strict=True))
    as_if_independent = resistance.value * math.hypot(
        v.u / v.value, i.u / i.value, math.tan(phi.value) * phi.u
    )
    assert as_if_independent == pytest.approx(0.195, abs=0.0005)


def test_the_inputs_of_h2_have_the_printed_means() -> None:
    printed = {"V_volt": (4.9990, 0.0032), "I_mA": (19.6610, 0.0095), "phi_rad": (1.04446, 0.00075)}
    for column, (mean, u) in printed.items():
        read = combine([float(row[column]) for row in rows("gum_h2_data.csv")], 0.0)
        assert read.value == pytest.approx(mean, rel=1e-6)
        assert read.u == pytest.approx(u, rel=0.01)  # printed with two digits


def test_student_factors_fall_towards_the_normal_one() -> None:
    factors = [half_width_holding(0.95, dof) for dof in (1, 2, 4, 8, 30, 1000)]
    assert all(later < sooner for sooner, later in pairwise(factors))
    assert factors[-1] == pytest.approx(1.96, abs=0.003)


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 5, 6, 7, 16, 29, 100, 101, 5000, 20_000])
@pytest.mark.parametrize("t", [-40.0, -3.2, -1.0, 0.0, 0.3, 1.96, 12.7])
def test_students_distribution_agrees_with_another_implementation(dof: int, t: float) -> None:
    tolerance = 1e-13 if dof <= 10_000 else 2e-5  # the normal one from there on
    assert student_below(t, dof) == pytest.approx(float(stdtr(dof, t)), abs=tolerance)
