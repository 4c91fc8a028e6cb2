"""Petrol's density over temperature against ASTM D1250-80, table 54B.

The table holds values of the published formula, unrounded; the printed standard rounds the factor to four
decimals.
"""

import numpy as np
import pytest
from achieved import PRINTED, Check, table

from evenpour.physics.fuel import petrol_density, petrol_expansion, petrol_volume, volume_correction

SOURCE = "ASTM D1250-80 (API MPMS 11.1), table 54B, constants as in several public implementations"
ROUNDED = "the table is worked out from the standard's formula and rounded there"
EXPANSION = Check(
    topic="Fuel",
    source=SOURCE,
    what="thermal expansion of petrol, 1/K",
    tolerance=0.5e-7,
    unit="1/K",
    because=ROUNDED,
)
FACTOR = Check(
    topic="Fuel",
    source=SOURCE,
    what="volume at 15 °C over volume, -10 to 60 °C",
    tolerance=0.5e-5,
    because=ROUNDED,
)
DENSITY = Check(
    topic="Fuel",
    source=SOURCE,
    what="density of petrol, -10 to 60 °C",
    tolerance=0.5e-3,
    unit="kg/m³",
    because=ROUNDED,
)
VOLUME = Check(
    topic="Fuel",
    source=SOURCE,
    what="millilitres in 100 g of petrol",
    tolerance=0.5e-4,
    unit="ml",
    because=ROUNDED,
)
TRANSITION = Check(
    topic="Fuel",
    source="2680.3206/rho² - 0.00336312, the standard's range of transition, in plain arithmetic",
    what="thermal expansion of a heavy petrol of 770.5 kg/m³, 1/K",
    tolerance=PRINTED,
    because="worked out to seven decimals",
)
THUMB = Check(
    topic="Fuel",
    source="rule of thumb: 0.12 % for each degree",
    what="petrol's volume for one degree",
    tolerance=1e-4,
    because="the rule has two digits and petrols differ",
)
ICE = 273.15


@pytest.mark.parametrize(
    "row", table("gasoline_density_54B.csv"), ids=lambda row: f"{row['rho15_kg_m3']} at {row['T_C']}"
)
def test_density_and_factor_match_the_table(row: dict[str, str]) -> None:
    reference, temperature = float(row["rho15_kg_m3"]), float(row["T_C"]) + ICE
    EXPANSION.holds(petrol_expansion(reference), float(row["alpha15_per_C"]))
    FACTOR.holds(volume_correction(reference, temperature), float(row["VCF"]))
    DENSITY.holds(petrol_density(reference, temperature), float(row["rho_T_kg_m3"]))
    VOLUME.holds(petrol_volume(0.1, reference, temperature) * 1e6, float(row["mL_per_100g"]))


def test_a_whole_table_comes_in_one_call() -> None:
    rows = table("gasoline_density_54B.csv")
    reference = np.array([float(row["rho15_kg_m3"]) for row in rows])
    temperature = np.array([float(row["T_C"]) + ICE for row in rows])
    DENSITY.holds(petrol_density(reference, temperature), [float(row["rho_T_kg_m3"]) for row in rows])


def test_the_transition_takes_over_from_petrol_without_a_jump_that_matters() -> None:
    below, above = petrol_expansion(770.0), petrol_expansion(770.5)
    TRANSITION.holds(above, "0.0011517")
    assert abs(below - above) * 25.0 < 1e-4  # below a step of the printed factor, 25 degrees from the base


def test_the_rule_of_thumb_holds() -> None:
    THUMB.holds(1.0 - volume_correction(740.0, 289.15), 0.0012)
