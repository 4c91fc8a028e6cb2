"""Petrol's density over temperature against ASTM D1250-80, table 54B.

The table holds values of the published formula, unrounded; the printed standard rounds the factor to four
decimals.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import OutOfRange
from evenpour.physics.fuel import (
    petrol_density,
    petrol_expansion,
    petrol_volume,
    volume_correction,
)

TABLE = Path(__file__).parent / "tables" / "gasoline_density_54B.csv"
ICE = 273.15


def rows() -> list[dict[str, float]]:
    with TABLE.open(encoding="utf-8") as lines:
        read = csv.DictReader(line for line in lines if not line.startswith("#"))
        return [{name: float(text) for name, text in row.items()} for row in read]


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['rho15_kg_m3']:g} at {row['T_C']:g}")
def test_density_and_factor_match_the_table(row: dict[str, float]) -> None:
    reference, temperature = row["rho15_kg_m3"], row["T_C"] + ICE
    assert petrol_expansion(reference) == pytest.approx(row["alpha15_per_C"], abs=0.5e-7)
    assert volume_correction(reference, temperature) == pytest.approx(row["VCF"], abs=0.5e-5)
    assert petrol_density(reference, temperature) == pytest.approx(row["rho_T_kg_m3"], abs=0.5e-3)
    volume = petrol_volume(0.1, reference, temperature)
    assert volume * 1e6 == pytest.approx(row["mL_per_100g"], abs=0.5e-4)


def test_a_whole_table_comes_in_one_call() -> None:
    table = rows()
    reference = np.array([row["rho15_kg_m3"] for row in table])
    temperature = np.array([row["T_C"] + ICE for row in table])
    expected = np.array([row["rho_T_kg_m3"] for row in table])
    assert petrol_density(reference, temperature) == pytest.approx(expected, abs=0.5e-3)


def test_the_transition_takes_over_from_petrol_without_a_jump_that_matters() -> None:
    below, above = petrol_expansion(770.0), petrol_expansion(770.5)
    # 2680.3206/770.5² - 0.00336312, in plain arithmetic.
    assert above == pytest.approx(0.0011517, abs=1e-7)
    assert abs(below - above) * 25.0 < 1e-4  # below a step of the printed factor, 25 degrees from the base


def test_the_rule_of_thumb_holds() -> None:
    # 0.12 % for each degree.
    assert 1.0 - volume_correction(740.0, 289.15) == pytest.approx(0.0012, abs=0.0001)


@given(reference=st.floats(653.0, 787.5), temperature=st.floats(233.15, 368.0))
def test_warmer_petrol_is_lighter(reference: float, temperature: float) -> None:
    assert petrol_density(reference, temperature + 0.1) < petrol_density(reference, temperature)


@given(mass=st.floats(0.0, 10.0), reference=st.floats(653.0, 787.5), temperature=st.floats(233.15, 368.15))
def test_volume_times_density_is_the_mass_that_was_weighed(
    mass: float, reference: float, temperature: float
) -> None:
    volume = petrol_volume(mass, reference, temperature)
    assert volume * petrol_density(reference, temperature) == pytest.approx(mass, rel=1e-12)


@pytest.mark.parametrize(
    ("reference", "temperature"),
    [(640.0, 288.15), (800.0, 288.15), (740.0, 15.0), (740.0, 400.0), (float("nan"), 288.15)],
)
def test_what_the_table_does_not_hold_is_refused(reference: float, temperature: float) -> None:
    with pytest.raises(OutOfRange, match="outside the formula"):
        petrol_density(reference, temperature)


def test_a_weight_below_zero_is_refused() -> None:
    with pytest.raises(OutOfRange, match="mass"):
        petrol_volume(-0.1, 740.0, 288.15)
